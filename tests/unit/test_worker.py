from __future__ import annotations

import pickle
import sqlite3
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from layers import alive
from layers.alarming import Alarms, watched
from layers.catalogue import KINDS
from layers.contract import Moment, Unavailable
from layers.earth.values import Ellipse
from layers.journal.actor import Actor, Role
from layers.journal.known import Known
from layers.journal.record import Draft, form_identity
from layers.journal.sources import FEED_READER
from layers.journal.store import Journal, open_journal
from layers.picture import Picture
from layers.results import Results
from layers.watch.state import state as watch_state
from layers.worker import Worker, keys_of
from tests.journals import FEED, NOW, WATCH, Clock

SYSTEM = datetime(2027, 3, 15, 12, 0, tzinfo=UTC)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def journal(tmp_path: Path, clock: Clock) -> Any:
    opened = open_journal(tmp_path / "j.sqlite", KINDS, clock=clock)
    yield opened
    opened.close()


@pytest.fixture
def results(tmp_path: Path, journal: Journal) -> Results:
    return Results(tmp_path, journal.key)


def typed(form: str, kind: str, at: datetime, **payload: Any) -> Draft:
    return Draft(
        kind=kind,
        payload=payload,
        valid_at=at,
        heard_at=at,
        source="watch",
        identity=form_identity(form),
    )


def test_a_sign_of_life_lasts_ten_seconds(tmp_path: Path) -> None:
    assert alive.gone_words(tmp_path, "feeds", SYSTEM) == "the feed reader is not running"
    alive.beat(tmp_path, "feeds", SYSTEM, "7 feeds")
    assert alive.gone_words(tmp_path, "feeds", SYSTEM + timedelta(seconds=9)) == ""
    assert alive.gone_words(tmp_path, "feeds", SYSTEM + timedelta(minutes=3)) == (
        "the feed reader is gone, last heard 3 min ago"
    )
    alive.end(tmp_path, "feeds")
    assert not alive.is_alive(tmp_path, "feeds", SYSTEM)


def test_a_torn_sign_of_life_counts_as_none(tmp_path: Path) -> None:
    (tmp_path / "alive").mkdir()
    (tmp_path / "alive" / "feeds.json").write_text('{"at_us": 1')
    assert alive.last_beat(tmp_path, "feeds") is None


def test_a_result_comes_back_in_another_process_as_it_was(tmp_path: Path, results: Results) -> None:
    results["k"] = Unavailable(reason="no weather yet")
    again = Results(tmp_path, "another journal")
    assert "k" not in again
    same = Results.__new__(Results)
    same.path, same.kept, same._local = results.path, results.kept, threading.local()
    assert same["k"] == Unavailable(reason="no weather yet")


def test_a_result_that_cannot_be_read_counts_as_not_there(results: Results) -> None:
    results["k"] = Unavailable(reason="x")
    foreign = pickle.dumps(Ellipse(semi_major_m=1.0, semi_minor_m=1.0, bearing_true_deg=0.0))
    for content in (b"torn", foreign):
        next(results.kept.iterdir()).write_bytes(content)
        with pytest.raises(KeyError):
            results["k"]


def test_the_oldest_results_make_room(results: Results) -> None:
    for number in range(10):
        results[str(number)] = Unavailable(reason="x" * 1000)
    results.trim(3_500)
    assert sorted(results) == ["7", "8", "9"]


def test_making_room_takes_a_second_at_most_and_goes_on_the_next_time(results: Results) -> None:
    """A process that threw everything away at one go once left viewers waiting for minutes."""
    for number in range(10):
        results[str(number)] = Unavailable(reason="x" * 1000)
    results.trim(0, most_s=0.0)
    assert len(results) == 10
    results.trim(0)
    assert len(results) == 0


def test_making_room_reads_no_result(results: Results) -> None:
    """Sizes and ages come from the index alone: behind megabytes of content they are slow."""
    with sqlite3.connect(results.path) as connection:
        for question in (
            "SELECT coalesce(sum(size), 0) FROM results INDEXED BY results_by_age",
            "SELECT key, size FROM results INDEXED BY results_by_age ORDER BY used LIMIT 100",
        ):
            plan = connection.execute(f"EXPLAIN QUERY PLAN {question}").fetchall()
            assert [step[3] for step in plan] == [
                "SCAN results USING COVERING INDEX results_by_age"
            ]


def test_the_worker_computes_each_new_record_once(journal: Journal, results: Results) -> None:
    worker = Worker(journal, results)
    assert worker.step()
    assert not worker.step()
    moment = Moment(journal.now(), journal.now())
    assert results.there(keys_of(journal, moment).values())
    journal.append(WATCH, [typed("a", "watch.marking", NOW, line="x")])
    assert worker.step()
    assert not worker.step()


def test_the_worker_answers_what_was_asked_for(journal: Journal, results: Results) -> None:
    journal.append(WATCH, [typed("a", "watch.marking", NOW, line="x")])
    worker = Worker(journal, results)
    worker.step()
    earlier = Moment(NOW - timedelta(hours=3), NOW - timedelta(hours=3))
    wanted = keys_of(journal, earlier)
    assert not results.wait_for(wanted.values(), earlier, 0.05)
    worker.step()
    assert results.there(wanted.values())
    assert set(results.found(wanted)) == set(wanted)


def test_a_wish_is_forgotten_after_a_minute(results: Results) -> None:
    results.ask(Moment(NOW, NOW))
    with sqlite3.connect(results.path) as connection:
        connection.execute("UPDATE wanted SET asked = asked - 61")
    assert results.wanted() is None


FOLLOWED = Actor(name=FEED_READER, role=Role.FEED)


def position(number: int, at: datetime) -> Draft:
    return Draft(
        kind="tracks.position",
        payload={"subject": "mmsi:299000101", "latitude_deg": 49.8, "longitude_deg": -8.5},
        valid_at=at,
        heard_at=at,
        source="bridge.nmea",
        identity=f"file:abc:{number}",
    )


def test_an_alarm_is_recorded_once_while_it_lasts_and_again_when_it_returns(
    journal: Journal, clock: Clock
) -> None:
    rule = typed("r", "watch.alarm_rule", NOW, sort="feed stale", about="bridge", limit=30.0)
    journal.append(WATCH, [rule])
    journal.append(FOLLOWED, [position(1, NOW)])
    alarms = Alarms(journal)

    def look() -> int:
        at = journal.now()
        empty = Picture(moment=Moment(at, at), upto_seq=journal.revision(), layers={})
        return len(alarms.raise_due(empty, lambda: empty))

    assert look() == 0
    clock.at += timedelta(minutes=31)
    assert look() == 1
    clock.at += timedelta(minutes=5)
    assert look() == 0
    journal.append(FOLLOWED, [position(2, clock.at)])
    assert look() == 0
    clock.at += timedelta(minutes=45)
    assert look() == 1
    alarms = Alarms(journal)  # the computing process was started again
    assert look() == 0
    said = [r.payload["said"] for r in journal.read(["watch.alarm"], 99)]
    assert len(said) == 2
    assert said[0] == "bridge.nmea was last heard"
    # the first ended when the feed was heard again; the second lasts
    first, second = journal.read(["watch.alarm"], 99)
    ended = [r.payload["target"] for r in journal.read(["watch.alarm_ended"], 99)]
    assert ended == [first.id]
    at = journal.now()
    moment = Moment(at, at)
    watch = watch_state(Known(journal, KINDS, journal.revision(), at), moment)
    words = {state.alarm.id: state.words(at) for state in watch.alarms}
    assert words[first.id].startswith("ended ")
    assert "not acknowledged" in words[first.id]
    assert words[second.id].endswith("bridge.nmea was last heard, 45 min ago")


def test_a_source_that_a_person_types_is_no_feed(journal: Journal) -> None:
    journal.append(WATCH, [typed("a", "watch.marking", NOW, line="x")])
    journal.append(FEED, [position(1, NOW)])
    assert {s.source: s.by_feed for s in journal.sources()} == {"bridge.nmea": True, "watch": False}


def test_layers_that_have_nothing_leave_their_values_out() -> None:
    at = NOW
    layers = {"datum": Unavailable(reason="x"), "survivors": Unavailable(reason="y")}
    found = watched(Picture(moment=Moment(at, at), upto_seq=0, layers=layers), {})
    assert found.datum is None
    assert found.not_accounted_for is None
    assert found.margins_h == {}


def test_once_the_alert_is_ended_its_alarms_rest_and_end(journal: Journal, clock: Clock) -> None:
    rule = typed("r", "watch.alarm_rule", NOW, sort="feed stale", about="bridge", limit=30.0)
    stage = typed("s", "watch.stage", NOW, stage="SUBLOOK", basis="report missed")
    journal.append(WATCH, [rule, stage])
    journal.append(FOLLOWED, [position(1, NOW)])
    alarms = Alarms(journal)

    def look() -> int:
        at = journal.now()
        empty = Picture(moment=Moment(at, at), upto_seq=journal.revision(), layers={})
        return len(alarms.raise_due(empty, lambda: empty))

    clock.at += timedelta(minutes=31)
    assert look() == 1
    clock.at += timedelta(minutes=1)
    journal.append(WATCH, [typed("e", "watch.stage", clock.at, stage="ended", basis="all home")])
    assert look() == 0
    (alarm,) = journal.read(["watch.alarm"], 99)
    assert [r.payload["target"] for r in journal.read(["watch.alarm_ended"], 99)] == [alarm.id]
    clock.at += timedelta(hours=2)
    assert look() == 0
