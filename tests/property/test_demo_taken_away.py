"""From the exercise's journal everything is taken away, kind by kind, and the answers compared.

Where an answer was a number it is then bounds that hold it, or not known with what to ask for;
never another number, never a surer one. Apart stand, each with its reason:

- good news that nobody then told (`LESS_TOLD`): what is not told is not counted, so that an answer
  may be another number, but only a worse one;
- what makes it another question (`ANOTHER_QUESTION`): other people to bring out, another plan,
  another rule to keep. There only that the chance of all and the leading margin of a refuge with
  the same people and lifts are no better is asked;
- corrections, doubts and bad news, whose loss takes the answers back to what they were before,
  and what only corrects a forecast (`CORRECTS`): no answer may be better or surer without it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest

from demo_data.scenario import DEMO_NOW
from layers.earth.uncertain import NotKnown, ends
from layers.journal.record import Record
from tests.demo_taken_away import DEMO, TELLING, better, faults, whole, without

OPINIONS = ("journal.correct", "journal.retract", "journal.dispute")
LESS_TOLD = {
    "survivors.pod": "pods that nobody told are not in the refuge",
    "survivors.chamber": "a chamber that nobody told takes nobody",
    "survivors.stores": "one store of several that nobody told is not there",
    "forward_port.actual": "what nobody told as done is still to be done",
}
ANOTHER_QUESTION = {
    "survivors.move": "who is in a refuge",
    "survivors.report": "who is in a refuge",
    "survivors.complement": "how many are on board",
    "survivors.place": "where people can be",
    "survivors.lift": "the plan",
    "survivors.priority": "the plan",
    "survivors.decision": "the plan",
    "survivors.plan_choice": "the plan",
    "survivors.lift_limits": "a stricter rule besides the limits of the sea",
    "survivors.level": "the medical officer's levels: one fewer binds",
    "weather.place_of_work": "where the sea is looked at",
    "weather.limit": "a rule to keep",
    "weather.vehicle_limit": "a rule to keep",
}
CORRECTS = {
    "weather.observation": "what was measured corrects the forecast, which then stands as issued",
    "weather.station": "without its place a measurement corrects no forecast",
}
SHORT = ("weather.forecast", "survivors.stores", "survivors.chamber", "survivors.air",
         "survivors.sortie_phase")  # fmt: skip
ALL = sorted({record.kind for record in DEMO.records} - {*OPINIONS, *SHORT})
NAMING = ("refuge", "name", "vehicle", "operation", "level", "option", "model", "station")
PARTS = ("survivors.", "weather.")


def checked(kind: str, gone: Callable[[Record], bool]) -> None:
    now = without(gone)
    if kind in ANOTHER_QUESTION or kind in LESS_TOLD:
        assert better(now, whole(), lead_only=kind in ANOTHER_QUESTION) == []
    elif kind in CORRECTS:
        assert better(now, whole(), lead_only=False) == []
        worse = ("another number", "dive: opens at")  # another sea, which opens at another hour
        assert [said for said in faults(now) if not any(w in said for w in worse)] == []
    else:
        assert faults(now) == []


@pytest.mark.parametrize("kind", SHORT)
def test_a_kind_taken_away_leaves_no_better_or_surer_answer(kind: str) -> None:
    now = without(lambda record: record.kind == kind)
    assert faults(now) == []


@pytest.mark.long
@pytest.mark.parametrize("kind", ALL)
def test_any_kind_taken_away_leaves_no_better_or_surer_answer(kind: str) -> None:
    checked(kind, lambda record: record.kind == kind)


def parts() -> list[tuple[str, str, str]]:
    """Return each kind with each refuge, vehicle or other name that its records tell of.

    Not one level of several: what nobody entered as a level is none, and nobody can miss it.
    """
    found = {
        (record.kind, name, str(record.payload[name]))
        for record in DEMO.records
        for name in NAMING
        if record.kind.startswith(PARTS)
        and record.kind != "survivors.level"
        and record.payload.get(name) is not None
    }
    several = {(kind, name) for kind, name, _ in found}
    return sorted(
        one for one in found if sum(o[:2] == one[:2] for o in found) > 1 and one[:2] in several
    )


@pytest.mark.long
@pytest.mark.parametrize(("kind", "name", "value"), parts())
def test_a_kind_of_one_refuge_or_vehicle_taken_away(kind: str, name: str, value: str) -> None:
    checked(kind, lambda r: r.kind == kind and str(r.payload.get(name)) == value)


def test_with_all_readings_of_one_refuge_gone_the_other_keeps_its_number() -> None:
    now = without(lambda r: r.kind == "survivors.air" and r.payload["refuge"] == "after")
    after = now.answers.margin["after"].if_nobody_leaves_h
    assert isinstance(after, NotKnown)
    assert "after" in " ".join(after.missing)
    before, forward = (told.answers.margin["forward"] for told in (whole(), now))
    assert ends(forward.if_nobody_leaves_h) == pytest.approx(
        ends(before.if_nobody_leaves_h), abs=1.5
    )


def test_hours_without_news_make_no_answer_better() -> None:
    """The clock moves on and nobody says anything: no margin grows by it."""
    later = TELLING.of(DEMO.records, DEMO_NOW + timedelta(hours=3))
    assert better(later, whole(), lead_only=True) == []


@pytest.mark.long
@pytest.mark.parametrize("kind", ["survivors.air", "weather.observation"])
def test_a_feed_heard_twice_makes_nothing_surer(kind: str) -> None:
    """What came again a minute later from the same source is no second opinion."""
    again = [
        replace(one, id=f"again {one.id}", seq=one.seq + 10**6,
                valid_at=one.valid_at + timedelta(minutes=1))
        for one in DEMO.records
        if one.kind == kind
    ]  # fmt: skip
    now = TELLING.of([*DEMO.records, *again])
    assert [said for said in faults(now) if said.startswith("surer") or "better" in said] == []
    assert better(now, whole(), lead_only=True) == []
