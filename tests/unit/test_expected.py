"""A time ahead: people moved by the plan's hours, reports that fall due, no alarm of now.

What is expected is the plan as known now, carried on: the text of the issue, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from demo_data import scenario
from demo_data.load import demo_journal
from layers import answer_words
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.told import PersonsNow, PlannedLift
from layers.expected import moved, sortie_by_plan
from layers.journal.known import Known
from layers.watch.state import state

NOON = datetime(2027, 3, 16, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
PEOPLE = PersonsNow(
    on_board=40, in_hull=30, adrift=2, out=7, dead=1, by_place={"fore ends": 20, "engine room": 10}
)


def lift(key: str, begins_h: float, persons: int | None, refuge: str = "fore ends") -> PlannedLift:
    dive = NOON + begins_h * HOUR
    return PlannedLift(
        key=key, vehicle="PIPIT", refuge=refuge, persons=persons,
        dive=dive, hatch=dive + 2 * HOUR, deck=dive + 3 * HOUR,
    )  # fmt: skip


def test_people_go_by_the_plan_and_still_add_up() -> None:
    lifts = (lift("1", 0, 14), lift("2", 4, 14), lift("3", 8, 14, "engine room"))
    for hours, counts in (
        (1.9, (30, 0, 7)),
        (2.0, (16, 14, 7)),  # the hatch is shut: they are in the vehicle
        (3.0, (16, 0, 21)),
        (6.5, (10, 6, 21)),  # six are left there, however many it could take
        (20.0, (0, 0, 37)),
    ):
        found = moved(PEOPLE, lifts, NOON + hours * HOUR)
        assert (found.in_hull, found.in_vehicle, found.out) == counts, hours
        assert found.counted == PEOPLE.on_board


def test_a_lift_of_which_nobody_said_how_many_moves_nobody() -> None:
    assert moved(PEOPLE, (lift("1", 0, None),), NOON + 9 * HOUR).in_hull == 30
    assert moved(PEOPLE, (lift("1", 0, 9, "another"),), NOON + 9 * HOUR).in_hull == 30


def test_the_sortie_of_that_hour_is_told_by_plan() -> None:
    said = sortie_by_plan((lift("1", 0, 14),), NOON + HOUR).value.said
    assert said == "by plan PIPIT, lift 1: hatch shut 1400Z, on deck 1500Z"
    assert "no vehicle is down" in sortie_by_plan((lift("1", 0, 14),), NOON + 4 * HOUR).value.said


@pytest.fixture(scope="module")
def known() -> Known:
    shelf, seq = demo_journal(scenario.DEMO_NOW)
    return Known(shelf, KINDS, seq, scenario.DEMO_NOW)


def test_what_is_not_due_yet_falls_due_and_nothing_of_now_rings(known: Known) -> None:
    now = scenario.DEMO_NOW
    ahead = now + timedelta(hours=24)
    then, here = state(known, Moment(now, ahead)), state(known, Moment(now, now))
    # what is late now is late; what comes due until then can be said to be late by nobody
    assert [event.record_id for event in then.overdue] == [e.record_id for e in here.overdue]
    due = [event for event in then.ahead if event.at < ahead]
    assert due
    assert all(", falls due: " in event.words(ahead) for event in due)
    assert then.alarms == ()
    assert not any(task.overdue and not was.overdue for task, was in zip(then.tasks, here.tasks,
                                                                       strict=True))  # fmt: skip


def test_out_is_told_as_by_plan() -> None:
    class Held:
        persons = replace(PEOPLE, out=12, in_hull=25)
        moment = Moment(NOON, NOON + HOUR)

    words = [one.word for one in answer_words.persons(Held())]  # type: ignore[arg-type]  # a stand-in with what is asked of it
    assert "out by plan" in words
