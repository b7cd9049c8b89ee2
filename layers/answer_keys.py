"""The answers under the keys of the headless interface: what a program reads of them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from layers.answers import Answers, Persons
from layers.earth.clock import iso_s
from layers.earth.told import (
    DiveVerdict,
    FirstOut,
    HerPlace,
    InputAge,
    NextDecision,
    PersonsNow,
    SearchNext,
    SortieNow,
    WayHome,
)
from layers.earth.uncertain import NotKnown, Rests, Stated, Withheld, as_dict, form_of


def told_as(answers_: Answers, cite: Callable[[str], int] | None = None) -> dict[str, Any]:
    """Return the answers under the keys of the headless interface."""
    least, _ = answers_.least_margin
    return {
        "at": _iso(answers_.moment.at),
        "as_of": _iso(answers_.moment.as_of),
        "shows": answers_.moment.view.value,
        "persons": _persons(answers_.persons),
        "position": _stated(answers_.position, cite),
        "margin": {
            refuge: {
                "binds": one.binds,
                "if_nobody_leaves_h": as_dict(one.if_nobody_leaves_h, cite=cite),
                "as_planned_h": as_dict(one.as_planned_h, cite=cite),
                "lasts_until": _iso(one.lasts_until),
                "lasts_at_least": one.at_least,
                "last_out": _iso(one.last_out),
            }
            for refuge, one in answers_.margin.items()
        },
        "least_margin_h": as_dict(least, cite=cite),
        "all_out": as_dict(answers_.all_out, cite=cite),
        "dive": _stated(answers_.dive, cite),
        "sortie": _stated(answers_.sortie, cite),
        "first_out": _stated(answers_.first_out, cite),
        "next_decision": _stated(answers_.next_decision, cite),
        "search_next": _stated(answers_.search_next, cite),
        "oldest_input": _stated(answers_.oldest_input, cite, answers_.moment.at),
        "way_home": _stated(answers_.way_home, cite),
        "alarms": [
            {
                "about": one.about,
                "said": one.said,
                "since": _iso(one.since),
                "ended": _iso(one.ended),
                "taken": bool(one.taken_by),
            }
            for one in answers_.alarms
        ],
    }


def _persons(found: Persons) -> dict[str, Any]:
    if not isinstance(found, PersonsNow):
        return {"on_board": None, "by_place": {}, "form": form_of(found), **_missing(found)}
    names = ("on_board", "in_hull", "in_vehicle", "adrift", "not_heard_of", "out", "dead",
             "missing", "differ")  # fmt: skip
    between = {name: list(span) for name, span in found.between.items()}
    counts = {name: getattr(found, name) for name in names}
    return counts | {"by_place": dict(found.by_place), "between": between}


def _missing(found: Rests) -> dict[str, Any]:
    return {"missing": list(found.missing)} if isinstance(found, NotKnown) else {}


def _stated(
    found: Stated[Any] | NotKnown | Withheld,
    cite: Callable[[str], int] | None,
    now: datetime | None = None,
) -> dict[str, Any]:
    told = as_dict(found, cite=cite)
    return told | _fields(found.value, now) if isinstance(found, Stated) else told


def _fields(value: Any, now: datetime | None) -> dict[str, Any]:
    """Return a value under the keys of the headless interface."""
    match value:
        case HerPlace():
            return value.as_dict() | {"last_heard": _iso(value.last_heard)}
        case DiveVerdict():
            return {
                "open": value.may,
                "from": _iso(value.opens),
                "until": _iso(value.until),
                "because": value.because,
                "decide_by": _iso(value.decide_by),
                "chance": value.chance,
                "where": value.where or None,
            }
        case SortieNow():
            return {
                "phase": value.phase or None,
                "vehicle": value.vehicle or None,
                "since": _iso(value.since),
                "overdue_min": value.overdue_min,
            }
        case FirstOut():
            return {
                "event": value.event,
                "time": _iso(value.time),
                "hours_from": value.hours_from,
                "stage": value.stage,
                "done": value.done,
            }
        case WayHome():
            return value.as_dict()
        case NextDecision():
            return {"what": value.what, "by": _iso(value.by)}
        case SearchNext():
            return {
                "who": value.who,
                "from": _iso(value.begins),
                "until": _iso(value.until),
                "pos": value.pos,
            }
        case InputAge():
            age_s = None if now is None else value.age(now).total_seconds()
            return {"what": value.what, "age_s": age_s, "at_least": value.at_least}
    raise TypeError(f"{type(value).__name__} has no keys of an answer")


def _iso(at: datetime | None) -> str | None:
    return None if at is None else iso_s(at)
