"""An own exercise: it begins now, goes on after a night, and its clock is the watch's to set."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from dashboard.__main__ import arguments, make_ready
from demo_data.scenario import NAME as DEMO
from layers.__main__ import main
from layers.catalogue import KINDS
from layers.earth.errors import InputError, NotAllowed
from layers.journal.actor import Actor, Role
from layers.journal.integrity import outside
from layers.journal.record import Draft
from layers.journal.store import open_journal
from layers.watch import exercise_clock
from tests.samples import sample

WATCH = Actor(name="watch officer", role=Role.WATCH)
EVENING = datetime(2027, 5, 3, 18, 0, tzinfo=UTC)


class Clock:
    """The computer's clock, moved by hand."""

    def __init__(self, at):
        self.at = at

    def __call__(self):
        return self.at


def journal_at(path, clock, **words):
    return open_journal(path, KINDS, clock=clock, **{"name": "HEATH", "exercise": True, **words})


def stage(at):
    return Draft(
        kind="watch.stage", payload={"stage": "SUBLOOK", "basis": "report missed"},
        valid_at=at, heard_at=at, source="duty officer", identity=f"test:{at}",
    )  # fmt: skip


def known(journal):
    from layers.journal.known import Known

    return Known(journal, KINDS, journal.revision(), journal.now())


@pytest.mark.parametrize("words", [("--exercise", "HEATH"), ("--empty", "--exercise", "HEATH")])
def test_an_exercise_begun_from_nothing_begins_now_and_takes_a_report_of_now(tmp_path, words):
    url = str(tmp_path / "j.sqlite")
    make_ready(arguments(words), url)
    make_ready(arguments(words), url)  # started again before anything was recorded
    journal = open_journal(url, KINDS)
    assert journal.exercise
    assert journal.name == "HEATH"
    assert abs(journal.now() - datetime.now(UTC)) < timedelta(seconds=30)
    now = journal.now()
    assert journal.append(WATCH, [stage(now - timedelta(minutes=10))]).count == 1
    journal.close()


def test_the_demo_started_again_after_a_night_is_no_altered_journal(tmp_path):
    """Whoever starts it twice reads no false alarm: that the clock was put back is a record."""
    url, evening = str(tmp_path / "j.sqlite"), datetime.now(UTC) - timedelta(hours=9)
    first = open_journal(url, KINDS, name=DEMO, exercise=True, clock=lambda: evening)
    first.set_clock(datetime(2027, 3, 16, 6, 35, tzinfo=UTC))
    first.append(WATCH, [stage(datetime(2027, 3, 16, 6, 35, tzinfo=UTC))])
    assert outside.check(first, tmp_path)[0].intact
    first.close()
    make_ready(arguments(()), url)
    again = open_journal(url, KINDS)
    assert again.now() - datetime(2027, 3, 16, 6, 35, tzinfo=UTC) < timedelta(minutes=2)
    found, _ = outside.check(again, tmp_path)
    assert found.intact, found.faults
    again.close()


def test_an_exercise_told_its_clock_begins_at_it_and_runs_on(tmp_path):
    url = str(tmp_path / "j.sqlite")
    make_ready(arguments(("--exercise", "HEATH", "--clock", "130705Z MAR 27")), url)
    journal = open_journal(url, KINDS)
    ran = journal.now() - datetime(2027, 3, 13, 7, 5, tzinfo=UTC)
    assert timedelta(0) <= ran < timedelta(seconds=30)
    journal.close()


def test_an_exercise_begun_in_1970_by_an_older_program_is_mended(tmp_path):
    path = tmp_path / "j.sqlite"
    journal = open_journal(path, KINDS, name="HEATH", exercise=True)
    journal.set_clock(datetime(1970, 1, 1, tzinfo=UTC))
    journal.close()
    make_ready(arguments(("--exercise", "HEATH")), str(path))
    journal = open_journal(path, KINDS)
    assert abs(journal.now() - datetime.now(UTC)) < timedelta(seconds=30)
    journal.close()


def test_a_real_operation_is_never_opened_as_an_exercise_nor_one_exercise_as_another(tmp_path):
    url = str(tmp_path / "j.sqlite")
    make_ready(arguments(("--empty", "--name", "Watch")), url)
    with pytest.raises(InputError, match="operation 'Watch'"):
        make_ready(arguments(("--exercise", "HEATH")), url)
    other = str(tmp_path / "k.sqlite")
    make_ready(arguments(("--exercise", "MOOR")), other)
    with pytest.raises(InputError, match="exercise 'MOOR'"):
        make_ready(arguments(("--exercise", "HEATH")), other)


def test_a_clock_is_only_an_exercises():
    with pytest.raises(SystemExit):
        arguments(("--empty", "--clock", "130705Z MAR 27"))


@pytest.mark.parametrize("in_step", [True, False])
def test_after_a_night_the_watch_is_asked_once_and_no_feed_is_taken_before(tmp_path, in_step):
    path, clock = tmp_path / "j.sqlite", Clock(EVENING)
    journal = journal_at(path, clock)
    journal.append(WATCH, [stage(EVENING)])
    journal.keep_clock()
    assert not exercise_clock.waits(journal)
    clock.at = EVENING + timedelta(hours=14, minutes=2)
    asked = exercise_clock.resume(journal)
    assert "for 14 h 02" in asked
    assert "040802Z MAY 27" in asked
    assert journal.now() == EVENING  # it waits where it stood
    assert exercise_clock.waits(journal)
    clock.at += timedelta(minutes=3)
    question = exercise_clock.asked(known(journal))
    exercise_clock.go_on(journal, WATCH, question, in_step=in_step)
    expected = EVENING + timedelta(minutes=3) if not in_step else clock.at
    assert abs(journal.now() - expected) < timedelta(seconds=1)
    assert exercise_clock.asked(known(journal)) is None
    assert not exercise_clock.waits(journal)
    if in_step:  # the morning's report is no report from the future
        morning = stage(clock.at - timedelta(minutes=1))
        assert journal.append(WATCH, [morning]).count == 1
    journal.close()


def test_a_short_restart_goes_on_in_step_unasked(tmp_path):
    clock = Clock(EVENING)
    journal = journal_at(tmp_path / "j.sqlite", clock)
    journal.append(WATCH, [stage(EVENING)])
    clock.at += timedelta(minutes=8)
    assert exercise_clock.resume(journal) == ""
    assert journal.now() == clock.at
    journal.close()


def test_the_watch_sets_the_clock_in_a_record_forwards_only(tmp_path):
    clock = Clock(EVENING)
    journal = journal_at(tmp_path / "j.sqlite", clock)
    exercise_clock.put_clock(journal, WATCH, EVENING - timedelta(days=9), "the play is last week")
    assert journal.now() == EVENING - timedelta(days=9)
    journal.append(WATCH, [stage(journal.now())])
    with pytest.raises(InputError, match="never goes back"):
        exercise_clock.put_clock(journal, WATCH, EVENING - timedelta(days=10))
    (told,) = known(journal).entries("watch.clock")
    assert told.value.reason == "the play is last week"
    reader = Actor(name="reader", role=Role.READER)
    with pytest.raises(NotAllowed):
        exercise_clock.put_clock(journal, reader, EVENING)
    journal.close()
    operation = open_journal(tmp_path / "o.sqlite", KINDS)
    with pytest.raises(InputError, match="no exercise"):
        exercise_clock.put_clock(operation, WATCH, EVENING)
    operation.close()


def test_read_into_nothing_makes_an_exercise_at_the_time_told(tmp_path, capsys):
    url = tmp_path / "new.sqlite"
    words = ("read", sample("ndbc_44013_stdmet.txt"), "--into", url, "--exercise", "HEATH",
             "--clock", "130705Z MAR 27", "--json")  # fmt: skip
    assert main([str(word) for word in words]) == 0
    assert json.loads(capsys.readouterr().out)["files"][0]["new"] == 1500
    journal = open_journal(url, KINDS, readonly=True)
    assert journal.exercise
    assert journal.name == "HEATH"
    ran = journal.now() - datetime(2027, 3, 13, 7, 5, tzinfo=UTC)
    assert timedelta(0) <= ran < timedelta(minutes=3)
    journal.close()
    words = ("read", sample("route.gpx"), "--into", url, "--exercise", "MOOR")
    assert main([str(word) for word in words]) == 2
    assert "HEATH" in capsys.readouterr().err
