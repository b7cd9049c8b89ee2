"""A server is told of a new record; it does not have to ask again and again.

Written from the text: LISTEN and NOTIFY with PostgreSQL, one thread; where that is lost it asks as
before and says so, and nothing is missed. Of a file it is told as well.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from dashboard.faults import Faults
from layers.journal.store import Journal, open_journal
from layers.journal.tables import news
from layers.journal.tables.news import NewRecords
from tests.databases import fresh
from tests.journals import KINDS, WATCH, Clock, draft
from tests.unit.test_supervisor import until

BOTH = ["sqlite", pytest.param("postgresql", marks=pytest.mark.servers)]


class Counting(Journal):
    """A journal that counts how often it was asked for what is new."""

    asked = 0

    def revision(self) -> int:
        self.asked += 1
        return super().revision()


@pytest.fixture
def database() -> str:
    return "postgresql"


@pytest.fixture
def url(database: str, tmp_path: Path) -> str:
    return fresh(database, tmp_path)


@pytest.fixture
def writer(url: str) -> Iterator[Journal]:
    made = open_journal(url, KINDS, clock=Clock())
    yield made
    made.close()


@pytest.fixture
def reader(writer: Journal, url: str) -> Iterator[Counting]:
    made = Counting.open(url, KINDS, readonly=True, clock=Clock())
    yield made
    made.close()


@pytest.fixture
def told(reader: Counting) -> Iterator[NewRecords]:
    made = NewRecords(reader)
    made.wake(lambda: None)
    assert until(lambda: made.hears)
    yield made
    made.end()


def listeners(writer: Journal) -> list[int]:
    with writer.engine.connect() as connection:
        asked = sa.text(
            "SELECT pid FROM pg_stat_activity WHERE datname = current_database() "
            "AND query LIKE 'LISTEN%'"
        )
        return [row.pid for row in connection.execute(asked)]


def cut_off(writer: Journal) -> None:
    (pid,) = listeners(writer)
    with writer.engine.connect() as connection:
        connection.execute(sa.text("SELECT pg_terminate_backend(:pid)"), {"pid": pid})


@pytest.mark.parametrize("database", BOTH)
def test_a_server_is_told_of_a_record_and_asks_hardly_ever_meanwhile(
    writer: Journal, reader: Counting, told: NewRecords
) -> None:
    woken = threading.Event()
    told.wake(woken.set)
    assert told.revision() == 0
    before = reader.asked
    for _ in range(200):
        assert told.revision() == 0
    assert reader.asked - before <= 1 + news.SURE_S  # one now and then, to be sure
    writer.append(WATCH, [draft("a")])
    assert woken.wait(10.0)
    assert told.revision() == 1
    assert told.fault == ""


@pytest.mark.parametrize("database", BOTH)
def test_the_exercise_s_clock_set_anew_is_told_too(writer: Journal, told: NewRecords) -> None:
    woken = threading.Event()
    told.revision()
    told.wake(woken.set)
    writer.set_clock(Clock()() + timedelta(hours=1))
    assert woken.wait(10.0)


@pytest.mark.servers
def test_what_was_only_refused_or_not_committed_is_told_to_nobody(
    writer: Journal, told: NewRecords
) -> None:
    woken = threading.Event()
    told.revision()
    told.wake(woken.set)
    writer.append(WATCH, [draft("a")])
    assert woken.wait(10.0)
    woken.clear()
    writer.append(WATCH, [draft("a")])  # there already: nothing is new
    assert not woken.wait(1.0)


@pytest.mark.servers
def test_one_that_is_cut_off_asks_as_before_says_so_and_listens_again_by_itself(
    writer: Journal,
    reader: Counting,
    told: NewRecords,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(news, "AGAIN_S", 3600.0)  # it does not come back until it is let
    woken = threading.Event()
    told.wake(woken.set)
    told.revision()
    cut_off(writer)
    assert until(lambda: not told.hears)
    assert woken.is_set()  # what came at the same moment may have been missed
    faults = Faults(reader, tmp_path, told)
    (said,) = [text for text in faults.look() if "not told of new records" in text]
    assert "asks" in said
    writer.append(WATCH, [draft("a")])
    assert told.revision() == 1  # asked, not waited for
    before = reader.asked
    told.revision()
    assert reader.asked == before + 1
    woken.clear()
    told.try_again()
    assert until(lambda: told.hears)
    assert woken.is_set()
    assert not [text for text in faults.look() if "not told of new records" in text]


@pytest.mark.servers
def test_records_that_nobody_tells_of_are_found_and_it_is_said(
    writer: Journal, reader: Counting, told: NewRecords, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A pool of connections in between, or an older program that writes there."""
    monkeypatch.setattr("layers.journal.store.tell", lambda connection: None)
    told.revision()
    writer.append(WATCH, [draft("a")])
    assert until(lambda: told.revision() == 1)
    assert until(lambda: told.revision() == 1 and "without a word" in told.fault)
    before = reader.asked
    told.revision()
    told.revision()
    assert reader.asked == before + 2
    monkeypatch.undo()
    writer.append(WATCH, [draft("b")])
    assert until(lambda: told.revision() == 2 and told.fault == "")  # it is told again


def test_who_wakes_nobody_asks_each_time_and_nothing_is_missing(tmp_path: Path) -> None:
    journal = Counting.open(tmp_path / "a.sqlite", KINDS, clock=Clock())
    told = NewRecords(journal)
    before = journal.asked
    told.revision()
    journal.append(WATCH, [draft("a")])
    assert told.revision() == 1
    assert journal.asked == before + 2
    assert (told.hears, told.fault) == (False, "")
    journal.close()
