"""The end of an operation: who was brought in is in no water, and what was to come rests.

Written from how an operation ends: people are picked up or named as missing, the alert is ended,
somebody lists what stands open. Nothing rests while anybody is left to be brought out.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from layers.answers import Answers, answers
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.errors import AskedFirst, InputError
from layers.earth.told import PersonsNow
from layers.earth.uncertain import NotKnown
from layers.journal.actor import Actor, Role
from layers.journal.known import Known
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from layers.picture import Picture, picture
from layers.scene.release import Release, Stamp
from layers.scene.sitrep import StaffWords, sitrep
from layers.stands_open import stands_open_in
from layers.survivors.muster.found import moves_of
from layers.watch.closing import STANDS_OPEN, left_open
from layers.watch.result import WatchState
from layers.watch.state import state

WATCH = Actor(name="AB", role=Role.WATCH)


class Told:
    def __init__(self, path: Path) -> None:
        self.journal: Journal = open_journal(path, KINDS)
        self.began, self.count = self.journal.now() - timedelta(hours=5), 0

    def __call__(self, kind: str, *, answered: tuple[str, ...] = (), **payload: Any) -> None:
        self.count += 1
        at = self.began + timedelta(minutes=5 * self.count)
        draft = Draft(
            kind=kind, payload=payload, valid_at=at, heard_at=at, source="by voice",
            identity=form_identity(f"told {self.count}"), answered=answered,
        )  # fmt: skip
        self.journal.append(WATCH, [draft])

    def move(self, origin: str, to: str, persons: int, fitness: str = "unknown") -> None:
        group = {"persons": persons, "fitness": fitness, "was": "unknown"}
        self(
            "survivors.move", from_place=origin, to_place=to, groups=[group], reason="told by voice"
        )

    def now(self) -> tuple[Answers, WatchState, Picture]:
        now = self.journal.now()
        moment, upto = Moment(now, now), self.journal.revision()
        seen = picture(self.journal, moment, upto, ("datum", "tracks", "survivors"))
        watch = state(Known(self.journal, KINDS, upto, now), moment)
        return answers(seen, watch), watch, seen


@pytest.fixture
def told(tmp_path: Path) -> Told:
    made = Told(tmp_path / "j.sqlite")
    made("survivors.complement", part="sailing list", persons=3)
    made("watch.stage", stage="SUBSUNK", basis="distress")
    made("watch.task", who="TENACE", what="search to the north",
         due=(made.began + timedelta(hours=1)).isoformat())  # fmt: skip
    made.move("not accounted for", "on the surface", 3)
    made("survivors.in_water", group="escapees", persons=3, since=made.began.isoformat(),
         clothing="immersion suit")  # fmt: skip
    return made


def _groups(seen: Picture) -> list[str]:
    return [group.group for group in seen.layers["survivors"].result.surface]  # type: ignore[union-attr]  # this case has one


def test_nothing_rests_while_somebody_is_adrift_whatever_is_told(told: Told) -> None:
    told("watch.stage", answered=(STANDS_OPEN,), stage="ended", basis="told too soon")
    found, _watch, seen = told.now()
    assert isinstance(found.persons, PersonsNow)
    assert found.persons.adrift == 3
    assert _groups(seen) == ["escapees"]
    assert "rests, " not in str(found.first_out)
    assert "persons adrift: 3" in stands_open_in(told.journal)


def test_a_slip_of_the_hand_ends_no_alert_that_people_still_wait_in(told: Told) -> None:
    told.move("on the surface", "picked up", 1)
    told("datum.lkp", latitude_deg=49.83, longitude_deg=-8.5, sigma_m=900.0, reported_by="boat")
    told("datum.object", name="raft 1", object_type="raft, deep ballast", persons=2)
    with pytest.raises(AskedFirst) as asked:
        told("watch.stage", stage="ended", basis="typed by mistake")
    assert str(asked.value).startswith("persons adrift: 2; raft 1 is still sought")
    told.move("on the surface", "missing", 2)
    with pytest.raises(AskedFirst, match="raft 1 is still sought"):
        told("watch.stage", stage="ended", basis="typed by mistake")
    told("datum.search_suspended", object="raft 1", by="duty officer", reason="all areas twice")
    told("watch.stage", stage="ended", basis="all accounted for or named as missing")
    assert told.now()[1].stage_words().startswith("alert ended")


def test_where_nobody_told_how_many_there_are_the_alert_ends_without_a_question(
    tmp_path: Path,
) -> None:
    told = Told(tmp_path / "j.sqlite")
    told("watch.stage", stage="SUBLOOK", basis="no report")
    told("watch.stage", stage="ended", basis="she has reported")
    assert told.now()[1].stage_words().startswith("alert ended")


def test_who_was_brought_in_or_named_as_missing_is_in_no_water_and_what_was_due_rests(
    told: Told,
) -> None:
    told.move("on the surface", "picked up", 2)
    told.move("on the surface", "missing", 1)
    _, watch, seen = told.now()
    assert _groups(seen) == []
    assert [event.what for event in watch.overdue] == ["search to the north"]
    told("watch.stage", stage="ended", basis="all accounted for or named as missing")
    found, watch, _ = told.now()
    for answer in (found.first_out, found.dive, found.search_next, found.margin_unless):
        assert isinstance(answer, NotKnown)
        assert answer.missing[0].startswith("rests, alert ended")
    assert watch.events == ()
    assert left_open(watch) == ("task of TENACE: search to the north (set)",)


def test_what_comes_new_after_the_end_runs_again(told: Told) -> None:
    told.move("on the surface", "picked up", 3)
    told("watch.stage", stage="ended", basis="all in")
    due = (told.journal.now() + timedelta(hours=2)).isoformat()
    told("watch.task", who="TENACE", what="tow the raft in", due=due)
    found, watch, _ = told.now()
    assert [event.what for event in watch.events] == ["tow the raft in"]
    told.move("picked up", "on the surface", 1)  # one is counted wrongly: he is still out there
    told("survivors.in_water", group="one more", persons=1, since=told.journal.now().isoformat(),
         clothing="not known")  # fmt: skip
    found, _, seen = told.now()
    assert "one more" in _groups(seen)
    assert "rests, " not in str(found.search_next)


def test_who_was_found_is_booked_from_the_water_first_and_never_more_than_are_out_there(
    told: Told,
) -> None:
    _, _, seen = told.now()
    who = seen.layers["survivors"].result.muster  # type: ignore[union-attr]  # this case has one
    for move in moves_of(who, 2, 1, "raft 1 found by TENACE"):
        told("survivors.move", **move)
    found, _, _ = told.now()
    assert isinstance(found.persons, PersonsNow)
    assert (found.persons.out, found.persons.dead, found.persons.adrift) == (2, 1, 0)
    with pytest.raises(InputError, match="4 were found, and the muster has 3"):
        moves_of(who, 4, 0, "x")


def test_the_last_situation_report_says_the_end_who_suspended_what_and_what_is_left(
    told: Told,
) -> None:
    told.move("on the surface", "picked up", 2)
    told.move("on the surface", "missing", 1)
    told(
        "datum.search_suspended", object="DISSUB", by="MRCC duty officer", reason="all areas twice"
    )
    told("watch.stage", stage="ended", basis="all accounted for or named as missing")
    found, _, seen = told.now()
    now = seen.moment.at
    stamp = Stamp(title="SITREP", exercise="", moment=seen.moment, head_seq=9, head_hash="ab" * 32)
    known = Known(told.journal, KINDS, told.journal.revision(), now)
    text = sitrep(seen, known, found, stamp, Release(), StaffWords(number=7))
    assert "SAR SITREP 7 FINAL" in text
    assert "URGENCY" not in text
    assert "Alert ended" in text
    assert "Search for DISSUB suspended" in text
    assert "by MRCC duty officer: all areas twice" in text
    plans = text.partition("M. FUTURE PLANS")[2].partition("N. ")[0]
    assert "None, alert ended" in plans
    assert "Left open: task of TENACE: search to the north" in plans
