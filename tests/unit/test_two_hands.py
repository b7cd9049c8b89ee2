"""Two rooms on one journal: who said what, and nothing later that wins without a word.

Each case is written from what the text asks: two hands book one event, decide, answer, correct
and sign at the same time. The names and figures are invented.
"""

from __future__ import annotations

import dataclasses
import itertools
import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.errors import AskedFirst, RecordRefused
from layers.journal.actor import Actor, Role
from layers.journal.changed import changed_by_others
from layers.journal.integrity.chain import verify
from layers.journal.known import Known
from layers.journal.record import Draft, form_identity
from layers.journal.signature import Signature, read_signature
from layers.journal.store import Journal, open_journal
from layers.survivors.muster.muster import muster
from layers.watch.state import WatchState, state

AT = datetime(2027, 3, 16, 6, 40, tzinfo=UTC)
NORTH = Actor(name="AB", role=Role.WATCH, room="North", server="plot-1:8501")
SOUTH = Actor(name="CD", role=Role.WATCH, room="South", server="plot-2:8501")
_forms = itertools.count(1)


class Clock:
    """A clock that is put forward by hand."""

    def __init__(self) -> None:
        self.at = AT

    def __call__(self) -> datetime:
        self.at += timedelta(seconds=1)
        return self.at


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def journal(tmp_path: Path, clock: Clock) -> Iterator[Journal]:
    opened = open_journal(tmp_path / "two.sqlite", KINDS, clock=clock)
    yield opened
    opened.close()


def draft(kind: str, payload: dict[str, Any], at: datetime = AT, **more: Any) -> Draft:
    return Draft(
        kind=kind, payload=payload, valid_at=at, heard_at=at, source="voice",
        identity=form_identity(f"f{next(_forms)}"), **more,
    )  # fmt: skip


def sent(journal: Journal, actor: Actor, kind: str, payload: dict[str, Any], **more: Any) -> str:
    return journal.append(actor, [draft(kind, payload, **more)]).records[0].id


def watch(journal: Journal) -> WatchState:
    now = journal.now()
    return state(Known(journal, KINDS, journal.revision(), now), Moment(now, now))


def aboard(journal: Journal) -> None:
    sent(journal, NORTH, "survivors.complement", {"part": "company", "persons": 20})
    for name, sort in (("forward", "refuge"), ("vehicle", "vehicle")):
        sent(journal, NORTH, "survivors.place", {"name": name, "sort": sort})
    sent(journal, NORTH, "survivors.report",
         {"place": "forward", "persons": 20})  # fmt: skip


def in_vehicle(journal: Journal) -> int:
    now = journal.now()
    known = Known(journal, KINDS, journal.revision(), now)
    return muster(known, Moment(now, now)).by_place["vehicle"]


def move(persons: int) -> dict[str, Any]:
    return {
        "from_place": "forward", "to_place": "vehicle", "reason": "lift",
        "groups": [{"persons": persons}],
    }  # fmt: skip


def test_author_room_and_server_stand_in_each_record_and_are_hashed(journal: Journal) -> None:
    sent(journal, NORTH, "watch.note", {"text": "heard knocking"})
    (record,) = journal.read(["watch.note"], journal.revision())
    assert read_signature(record.author) == Signature("AB", "North", "plot-1:8501")
    assert read_signature(record.author).words() == "AB, room North"
    assert verify(journal).intact
    with journal.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE records SET author = replace(author, 'North', 'South')")
    assert not verify(journal).intact


@pytest.mark.parametrize("author", ["watch officer", "Lt (jg) Smith", "feed reader", "a, room b"])
def test_an_author_of_an_older_program_is_a_name(author: str) -> None:
    assert read_signature(author) == Signature(author)


@pytest.mark.parametrize(
    ("count", "asked"),
    [
        (5, r"5 from .*AB, room North: are these others\?"),
        (4, r"AB, room North.*5 from forward to vehicle.*The same\?"),
    ],
)
def test_people_moved_by_both_rooms_at_once_are_asked_about(
    journal: Journal, count: int, asked: str
) -> None:
    aboard(journal)
    sent(journal, NORTH, "survivors.move", move(5))
    with pytest.raises(RecordRefused, match=asked):
        sent(journal, SOUTH, "survivors.move", move(count))
    assert in_vehicle(journal) == 5


def test_the_same_event_answered_as_another_is_taken(journal: Journal) -> None:
    aboard(journal)
    sent(journal, NORTH, "survivors.move", move(5))
    sent(journal, SOUTH, "survivors.move", {**move(5), "read_back": True})
    assert in_vehicle(journal) == 10


def test_an_hour_later_nobody_is_asked(journal: Journal, clock: Clock) -> None:
    aboard(journal)
    sent(journal, NORTH, "survivors.move", move(5))
    clock.at += timedelta(hours=1)
    sent(journal, SOUTH, "survivors.move", move(5), at=clock.at)


def test_one_hand_may_book_the_next_of_the_same_way(journal: Journal) -> None:
    aboard(journal)
    sent(journal, NORTH, "survivors.move", move(5))
    sent(journal, NORTH, "survivors.move", move(4))


def test_a_fact_told_in_both_rooms_is_asked_whatever_its_words(journal: Journal) -> None:
    told = {"part": "riders", "persons": 3, "remark": "told by the squadron duty officer"}
    sent(journal, NORTH, "survivors.complement", told)
    with pytest.raises(AskedFirst, match="AB, room North"):
        sent(
            journal,
            SOUTH,
            "survivors.complement",
            {**told, "remark": "as the base had it from the port"},
        )


def decision(what: str, **more: Any) -> dict[str, Any]:
    return {"what": what, "reasons": "as weighed", "decided_by": "SSRA", **more}


def test_the_second_room_is_told_what_the_first_has_decided(journal: Journal) -> None:
    first = sent(journal, NORTH, "watch.decision", decision("Dive now"))
    with pytest.raises(AskedFirst, match=r"AB, room North.*decided: Dive now"):
        sent(journal, SOUTH, "watch.decision", decision("Hold the vehicle on deck"))
    sent(journal, SOUTH, "watch.decision", decision("Hold the vehicle on deck", replaces=first))
    first_state, second = watch(journal).decisions
    assert first_state.replaced_by == second.entry.id


def test_two_decisions_that_replace_one_stand_marked_until_one_is_named(journal: Journal) -> None:
    old = sent(journal, NORTH, "watch.decision", decision("Wait for light"))
    a = sent(journal, NORTH, "watch.decision", decision("Dive now", replaces=old))
    b = sent(journal, SOUTH, "watch.decision", decision("Hold", replaces=old), answered=(a, old))
    marked = {one.entry.id for one in watch(journal).decisions if one.beside}
    assert marked == {a, b}
    sent(
        journal, NORTH, "watch.decision", decision("Dive now", replaces=a, over=[b]), answered=(b,)
    )
    assert not any(one.beside for one in watch(journal).decisions)
    assert [one.entry.value.what for one in watch(journal).decisions if not one.replaced_by] == [
        "Dive now"
    ]


@pytest.mark.parametrize(
    ("kind", "payload"),
    [
        ("watch.decision", decision("Dive", replaces="0" * 32)),
        ("watch.acknowledged", {"target": "0" * 32, "by": "AB"}),
        ("watch.alarm_rule", {"sort": "feed stale", "limit": 1.0, "replaces": "0" * 32}),
    ],
)
def test_a_record_that_names_another_must_name_one_that_is_there(
    journal: Journal, kind: str, payload: dict[str, Any]
) -> None:
    with pytest.raises(RecordRefused, match="there is no record"):
        sent(journal, NORTH, kind, payload)


def test_two_answers_to_a_question_stand_until_a_person_settles_them(journal: Journal) -> None:
    asked = sent(journal, NORTH, "watch.question", {"what": "Blankets?", "asked_of": "the port"})
    yes = {"target": asked, "outcome": "answered", "said": "yes, 40"}
    no = {"target": asked, "outcome": "answered", "said": "no, none"}
    first = sent(journal, NORTH, "watch.settled", yes)
    assert not watch(journal).questions
    with pytest.raises(AskedFirst, match=r"AB, room North.*yes, 40"):
        sent(journal, SOUTH, "watch.settled", no)
    second = sent(journal, SOUTH, "watch.settled", no, answered=(first,))
    (point,) = watch(journal).questions
    assert {one.value.said for one in point.answers} == {"yes, 40", "no, none"}
    sent(journal, NORTH, "watch.settled", {**no, "over": [first, second]})
    assert not watch(journal).questions


def test_a_listening_time_kept_and_missed_says_so(journal: Journal) -> None:
    agreed = sent(journal, NORTH, "watch.listening", {"at": AT.isoformat(), "with_whom": "boat"})
    kept = sent(journal, NORTH, "watch.listening_kept", {"target": agreed, "outcome": "kept"})
    sent(journal, SOUTH, "watch.listening_kept", {"target": agreed, "outcome": "missed"},
         answered=(kept,))  # fmt: skip
    (told,) = watch(journal).listening
    assert told.outcome == "two say otherwise"
    assert {one.value.outcome for one in told.disputed} == {"kept", "missed"}


def test_a_task_that_is_told_done_goes_on_only_when_it_is_meant_so(journal: Journal) -> None:
    task = sent(journal, NORTH, "watch.task", {"who": "TENACE", "what": "tow the raft in"})
    done = sent(journal, NORTH, "watch.task_report", {
        "target": task, "said": "raft alongside", "state": "done"})  # fmt: skip
    still = {"target": task, "said": "still towing", "state": "under way"}
    with pytest.raises(AskedFirst, match="told: done, raft alongside"):
        sent(journal, SOUTH, "watch.task_report", still)
    sent(journal, SOUTH, "watch.task_report", still, answered=(done,))
    assert [one.state for one in watch(journal).tasks] == ["under way"]


def test_a_handover_is_signed_by_whom_it_was_given_to(journal: Journal) -> None:
    given = sent(journal, NORTH, "watch.handover", {
        "given_by": "AB", "given_to": "EF", "since": (AT - timedelta(hours=4)).isoformat(),
        "matters": "air forward"})  # fmt: skip
    with pytest.raises(RecordRefused, match="given to EF, not to GH"):
        sent(journal, SOUTH, "watch.takeover", {"target": given, "taken_by": "GH"})
    sent(journal, SOUTH, "watch.takeover", {"target": given, "taken_by": "EF"})
    with pytest.raises(RecordRefused, match="EF has signed this handover already"):
        sent(journal, NORTH, "watch.takeover",
             {"target": given, "taken_by": "GH", "in_place_of": "EF"})  # fmt: skip
    (handover,) = watch(journal).handovers
    assert handover.taken is not None
    assert handover.taken.value.taken_by == "EF"


def test_another_may_sign_when_it_is_said_in_whose_place(journal: Journal) -> None:
    given = sent(journal, NORTH, "watch.handover", {
        "given_by": "AB", "given_to": "EF", "since": (AT - timedelta(hours=4)).isoformat(),
        "matters": "air forward"})  # fmt: skip
    sent(journal, SOUTH, "watch.takeover", {"target": given, "taken_by": "GH", "in_place_of": "EF"})


def test_a_name_is_one_however_it_is_spaced_and_spelt(journal: Journal) -> None:
    given = sent(journal, NORTH, "watch.handover", {
        "given_by": "AB", "given_to": "Relief B", "since": (AT - timedelta(hours=4)).isoformat(),
        "matters": "air forward"})  # fmt: skip
    sent(journal, SOUTH, "watch.takeover", {"target": given, "taken_by": "relief  b"})
    (handover,) = watch(journal).handovers
    assert handover.signed


def test_two_corrections_of_one_figure_are_asked_and_can_be_put_back(journal: Journal) -> None:
    aboard(journal)
    moved = sent(journal, NORTH, "survivors.move", move(5))

    def corrected(persons: int) -> dict[str, Any]:
        groups = [{"persons": persons}]
        return {"target": moved, "fields": {"groups": groups}, "reason": "counted again"}

    first = sent(journal, NORTH, "journal.correct", corrected(3))
    with pytest.raises(AskedFirst, match=r"AB, room North.*corrected this"):
        sent(journal, SOUTH, "journal.correct", corrected(4))
    sent(journal, SOUTH, "journal.correct", corrected(4), answered=(first,))
    sent(journal, SOUTH, "journal.correct", corrected(5), answered=(first,))  # back to the first
    assert in_vehicle(journal) == 5


def test_an_alert_that_is_ended_is_not_ended_again_without_a_word(journal: Journal) -> None:
    with pytest.raises(AskedFirst, match="no alert runs"):
        sent(journal, NORTH, "watch.stage", {"stage": "ended", "basis": "all accounted for"})
    sent(journal, NORTH, "watch.stage", {"stage": "SUBSUNK", "basis": "buoy"})
    ended = sent(journal, NORTH, "watch.stage", {"stage": "ended", "basis": "all accounted for"})
    for stage in ("ended", "SUBSUNK"):
        with pytest.raises(AskedFirst, match="ended AB, room North"):
            sent(journal, NORTH, "watch.stage", {"stage": stage, "basis": "again"})
    sent(journal, NORTH, "watch.stage", {"stage": "SUBLOOK", "basis": "new"}, answered=(ended,))


def test_what_a_feed_brings_is_never_asked(journal: Journal) -> None:
    feed = dataclasses.replace(NORTH, name="feed reader", role=Role.FEED)
    other = dataclasses.replace(SOUTH, name="feed reader", role=Role.FEED)
    payload = json.loads(json.dumps({"part": "riders", "persons": 3}))
    sent(journal, feed, "survivors.complement", payload)
    sent(journal, other, "survivors.complement", payload)


def told_in(journal: Journal, room: Actor) -> list[tuple[int, str]]:
    """Return the number of this room's record and the kind of what another did to it."""
    now = journal.now()
    known = Known(journal, KINDS, journal.revision(), now)
    here = Signature("", room.room, room.server)
    return [(one.target.seq, one.act.kind) for one in changed_by_others(known, here)]


def test_what_one_room_does_to_anothers_record_is_told_there_alone(journal: Journal) -> None:
    decided = sent(journal, NORTH, "watch.decision",
                   {"what": "dive now", "reasons": "calm", "decided_by": "AB"})  # fmt: skip
    asked = sent(journal, NORTH, "watch.question", {"what": "how many?", "asked_of": "boat"})
    task = sent(journal, NORTH, "watch.task", {"who": "TENACE", "what": "search"})
    note = sent(journal, NORTH, "watch.note", {"text": "heard knocking"})
    sent(journal, SOUTH, "watch.decision", {"what": "hold", "reasons": "swell", "decided_by": "CD",
                                            "replaces": decided})  # fmt: skip
    sent(journal, SOUTH, "watch.settled", {"target": asked, "outcome": "answered", "said": "40"})
    sent(journal, SOUTH, "watch.task_report", {"target": task, "said": "gone", "state": "done"})
    sent(journal, SOUTH, "journal.correct",
         {"target": note, "fields": {"text": "heard tapping"}, "reason": "read again"})  # fmt: skip
    assert told_in(journal, NORTH) == [
        (1, "watch.decision"), (2, "watch.settled"), (3, "watch.task_report"),
        (4, "journal.correct"),
    ]  # fmt: skip
    assert told_in(journal, SOUTH) == []


def test_who_takes_note_of_a_record_has_changed_nothing(journal: Journal) -> None:
    note = sent(journal, NORTH, "watch.note", {"text": "heard knocking"})
    sent(journal, SOUTH, "watch.acknowledged", {"target": note, "by": "CD"})
    assert told_in(journal, NORTH) == []


def test_a_watch_later_nothing_old_is_told_as_new(journal: Journal, clock: Clock) -> None:
    asked = sent(journal, NORTH, "watch.question", {"what": "how many?", "asked_of": "boat"})
    sent(journal, SOUTH, "watch.settled", {"target": asked, "outcome": "answered", "said": "40"})
    assert told_in(journal, NORTH)
    clock.at += timedelta(hours=5)
    assert told_in(journal, NORTH) == []
