"""What a release sees of the response: ports, what fits, and the chain up to sailing.

Where her place is withheld nothing is read of what follows when a ship sails for her: the leg
ends at her, and its time and speed, or a start and a finish, give a circle about the port. What
is cut follows from the plan's own order, never from where a leg ends: the last passage by sea of
each way, and all that waits for it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from layers.earth.tells import Tells
from layers.journal.record import Record
from layers.journal.releases.rules import GUARDED, WHOLE, WITHHELD_WORD, Let, Rule, only

PLAN = ("forward_port.leg", "forward_port.activity", "forward_port.option")


@dataclass(frozen=True, slots=True)
class _Plan:
    """What is left of the plan: by key what it is called here; what each way ends with.

    A key was typed by somebody, as a title was: it stays only where the watch let it go.
    """

    activities: Mapping[str, str]
    legs: Mapping[str, str]
    options: Mapping[str, str]
    ends: Mapping[str, str]  # by option as it is called here


def _plan(let: Let) -> _Plan:
    found: _Plan = let.kept("the plan up to sailing", lambda: _up_to_sailing(let))
    return found


def _up_to_sailing(let: Let) -> _Plan:
    modes = {e.value.key: e.value.mode for e in let.whole.entries("forward_port.leg")}
    every = {e.value.key: e.value for e in let.whole.entries("forward_port.activity")}
    options = {e.value.key: e.value for e in let.whole.entries("forward_port.option")}
    at_sea = {key for key, each in every.items() if modes.get(each.leg) == "sea"}
    waits = {key: set(each.after) for key, each in every.items()}
    behind = {key: _behind(key, waits) for key in every}
    # the last passage by sea: no other waits for it
    sails = {key for key in at_sea if not (behind[key] & at_sea)}
    cut = sails | {key for sailing in sails for key in behind[sailing]}
    rescue = {key for key, each in options.items() if each.purpose == "rescue"}
    kept = {
        key
        for key, each in every.items()
        if key not in cut and (not each.options or rescue & set(each.options))
    }
    ends = {}
    for name in rescue:
        mine = [k for k in kept if not every[k].options or name in every[k].options]
        last = [k for s in sorted(sails) if name in every[s].options for k in every[s].after
                if k in mine]  # fmt: skip
        if options[name].last in kept:
            ends[name] = options[name].last
        elif last:
            ends[name] = last[-1]
    # a passage at the speed of a ship's own track can not be reckoned: her track is not read
    speeds = {e.value.key: e.value.speed_kn for e in let.whole.entries("forward_port.leg")}
    legs = {
        leg
        for key in kept
        if (leg := every[key].leg) and not (modes.get(leg) == "sea" and speeds.get(leg) is None)
    }
    steps = _called(let, "forward_port.activity", "step", kept)
    ways = _called(let, "forward_port.option", "way", set(ends))
    return _Plan(
        activities=steps,
        legs=_called(let, "forward_port.leg", "leg", legs),
        options=ways,
        ends={ways[name]: steps[last] for name, last in ends.items()},
    )


def _called(let: Let, kind: str, word: str, kept: Collection[str]) -> dict[str, str]:
    """Return what each of the keys that are kept is called here, in the order first entered."""
    found: dict[str, str] = {}
    for entry in let.whole.entries(kind):
        key = entry.value.key
        if key in kept and (key not in found or let.let_go(entry.record)):
            number = list(found).index(key) + 1 if key in found else len(found) + 1
            found[key] = key if let.let_go(entry.record) else f"{word} {number}"
    return found


def _behind(key: str, waits: Mapping[str, set[str]]) -> set[str]:
    """Return everything that waits for an activity, however far behind."""
    found: set[str] = set()
    ahead = {key}
    while ahead:
        ahead = {each for each, after in waits.items() if after & ahead} - found
        found |= ahead
    return found


def _activity(payload: Mapping[str, Any], let: Let, record: Record) -> Mapping[str, Any] | None:
    if not let.release.withholds(Tells.POSITION):
        return _titled(payload, payload["key"])
    plan = _plan(let)
    key = plan.activities.get(payload["key"])
    if key is None:
        return None
    return {
        **_titled(payload, key),
        "after": [plan.activities[each] for each in payload.get("after", ())
                  if each in plan.activities],
        "options": [plan.options[each] for each in payload.get("options", ())
                    if each in plan.options],
        "leg": plan.legs.get(payload.get("leg", ""), ""),
        "resource": "",
    }  # fmt: skip


def _titled(payload: Mapping[str, Any], key: str) -> dict[str, Any]:
    said = payload.get("title", WITHHELD_WORD)
    return {**payload, "key": key, "title": key if said == WITHHELD_WORD else said}


def _leg(payload: Mapping[str, Any], let: Let, record: Record) -> Mapping[str, Any] | None:
    if not let.release.withholds(Tells.POSITION):
        return payload
    key = _plan(let).legs.get(payload["key"])
    if key is None:
        return None
    # a route may run to her, and a ship's last fix is not read
    bare = [{k: v for k, v in p.items() if k != "name"} for p in payload.get("points", ())]
    return {**payload, "key": key, "points": bare, "route": "", "ship": ""}


def _option(payload: Mapping[str, Any], let: Let, record: Record) -> Mapping[str, Any] | None:
    if not let.release.withholds(Tells.POSITION):
        return _titled(payload, payload["key"])
    plan = _plan(let)
    key = plan.options.get(payload["key"])
    if key is None:
        return None  # a way home, or to a hospital, begins at her
    said = {"last": plan.ends[key], "sight": "", "ready": "", "backwards_of": ""}
    return {**_titled(payload, key), **said}


def _of_an_activity(
    payload: Mapping[str, Any], let: Let, record: Record
) -> Mapping[str, Any] | None:
    if not let.release.withholds(Tells.POSITION):
        return payload
    plan = _plan(let)
    key = plan.activities.get(payload["activity"])
    option = payload.get("option", "")
    if key is None or (option and option not in plan.options):
        return None
    said = {**payload, "activity": key}
    return {**said, "option": plan.options[option]} if option else said


def _of_an_option(payload: Mapping[str, Any], let: Let, record: Record) -> Mapping[str, Any] | None:
    if not let.release.withholds(Tells.POSITION):
        return payload
    key = _plan(let).options.get(payload["option"])
    return None if key is None else {**payload, "option": key}


RULES: dict[str, Rule] = {
    **dict.fromkeys(
        (
            "forward_port.wpi", "forward_port.runway", "forward_port.port",
            "forward_port.airfield", "forward_port.crane", "forward_port.berth",
            "forward_port.tide", "forward_port.tide_constants",
            "forward_port.tide_differences", "forward_port.road", "forward_port.piece",
            "forward_port.aircraft", "forward_port.trailer", "forward_port.ship",
        ),
        WHOLE,
    ),
    # the way home begins at her
    **dict.fromkeys(
        ("forward_port.held", "forward_port.ready_again", "forward_port.told_coming"), GUARDED
    ),
    "forward_port.leg": only(
        "key", "mode", "points", "network", "route", "ship", "road", "speed_kn",
        "wind_from_true_deg", "wind_kn",
        "stop_h", change=_leg, looks=PLAN,
    ),
    "forward_port.option": only(
        "key", "purpose", "port", "berth", "airfield", "ship", "aircraft", "trailer", "zero",
        "zero_is", "sight", "ready", "last", "alongside_h", "backwards_of",
        change=_option, looks=PLAN,
    ),
    "forward_port.activity": only(
        "key", "options", "after", "least_h", "likely_h", "most_h", "leg", "leg_least",
        "leg_most", "resource", "not_before", "daylight", "hs_max_m", "returns",
        change=_activity, looks=PLAN,
    ),
    "forward_port.actual": only(
        "activity", "option", "started_at", "finished_at", change=_of_an_activity, looks=PLAN
    ),
    "forward_port.choice": only("option", change=_of_an_option, looks=PLAN),
    "forward_port.clearance": only("activity", "state", "at", change=_of_an_activity, looks=PLAN),
}  # fmt: skip
