"""Servers on one PostgreSQL share what is long to work out.

Written from the text: computed once by whoever is free; an encoding that carries no code; nothing
that somebody put into the database is believed; without the others each goes on alone.
"""

from __future__ import annotations

import pickle
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

import layers.picture as making
from layers import ours, shared
from layers.catalogue import KINDS as EVERY_KIND
from layers.contract import Layer, Moment, Shown, Unavailable
from layers.earth.errors import JournalError
from layers.earth.position import Position
from layers.earth.table import Table
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from layers.picture import ROUGH
from layers.results import Results
from layers.shared import SharedResults, shared_by
from layers.spelt import spelt
from layers.worker import Worker, WorkerPart, keys_of
from tests.databases import fresh
from tests.journals import KINDS, WATCH, Clock
from tests.unit.test_supervisor import until

pytestmark = pytest.mark.servers
KEY = "0123456789abcdef" * 4
LONG = "(margin 1 7 0 KNOWN)"


def result(words: str) -> Shown:
    return Shown(
        result=Position(49.5, -9.0), marks=(), table=Table.of(()), sentence=words, tables={}
    )


class Servers:
    """Servers of one journal, each with a data folder of its own."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._url = folder, fresh("postgresql", folder)
        self.journals: list[Journal] = []
        self.made: list[SharedResults] = []

    def one(self, name: str, key: str = KEY) -> SharedResults:
        folder = self._folder / name
        folder.mkdir()
        if key:
            ours.write(folder / ours.SERVERS_KEY, key.encode())
        journal = open_journal(self._url, KINDS, clock=Clock())
        self.journals.append(journal)
        made = shared_by(folder, Results(folder, journal.key), journal)
        assert made is not None
        self.made.append(made)
        return made


@pytest.fixture
def servers(tmp_path: Path) -> Iterator[Servers]:
    made = Servers(tmp_path)
    yield made
    for one in made.made:
        one.close()
    for journal in made.journals:
        journal.close()


@pytest.fixture(autouse=True)
def everything_is_long(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shared, "LEAST_S", 0.0)


def worked_out(one: SharedResults, key: str, work: Callable[[], Shown]) -> Shown | Unavailable:
    """Return a result as a picture gets it: found, or worked out and kept."""
    found = one.get(key)
    if found is None:
        found = one[key] = work()
    return found


def test_what_one_server_worked_out_the_other_finds(servers: Servers) -> None:
    north, south = servers.one("north"), servers.one("south")
    worked_out(north, LONG, lambda: result("by north"))
    assert worked_out(south, LONG, lambda: result("by south")) == result("by north")
    assert LONG in south  # and keeps it for its pages


def test_two_servers_at_once_work_it_out_once_and_the_rough_look_comes_first(
    servers: Servers,
) -> None:
    north, south = servers.one("north"), servers.one("south")
    assert north.get(LONG) is None  # north has begun
    got: list[Shown | Unavailable] = []
    waiting = threading.Thread(
        target=lambda: got.append(worked_out(south, LONG, lambda: result("by south")))
    )
    waiting.start()
    north[LONG + ROUGH] = result("roughly")
    assert until(lambda: LONG + ROUGH in south)
    assert not got
    north[LONG] = result("by north")
    waiting.join(20.0)
    assert got == [result("by north")]


def test_when_a_server_dies_at_work_the_other_works_it_out(servers: Servers) -> None:
    north, south = servers.one("north"), servers.one("south")
    assert north.get(LONG) is None
    north.close()  # its claim goes with its connection
    assert worked_out(south, LONG, lambda: result("by south")) == result("by south")


def test_what_was_claimed_and_not_worked_out_is_let_go(servers: Servers) -> None:
    north, south = servers.one("north"), servers.one("south")
    assert north.get(LONG) is None
    north.let_go()
    assert worked_out(south, LONG, lambda: result("by south")) == result("by south")


@pytest.mark.parametrize("put", ["other words", "a pickle", "another's", "of another key"])
def test_nothing_that_somebody_put_into_the_database_is_believed(
    servers: Servers, put: str
) -> None:
    north = servers.one("north")
    worked_out(north, LONG, lambda: result("by north"))
    worked_out(north, "(datum 1)", lambda: result("the datum"))
    with servers.journals[0].engine.begin() as connection:
        if put == "of another key":
            connection.exec_driver_sql("DELETE FROM shared_results")
        else:
            content = spelt(result("forged"))
            if put == "a pickle":
                content = pickle.dumps(result("forged"))
            if put == "another's":  # whole and sealed, but of something else
                connection.exec_driver_sql(
                    "UPDATE shared_results AS a SET content = b.content, seal = b.seal "
                    "FROM shared_results AS b WHERE a.key <> b.key"
                )
            else:
                connection.execute(
                    sa.text("UPDATE shared_results SET content = :c"), {"c": content}
                )
    if put == "of another key":
        worked_out(servers.one("stranger", key="f" * 64), LONG, lambda: result("forged"))
    south = servers.one("south")
    assert worked_out(south, LONG, lambda: result("by south")) == result("by south")


def test_without_the_database_each_server_goes_on_alone(
    servers: Servers, monkeypatch: pytest.MonkeyPatch
) -> None:
    north = servers.one("north")
    servers.journals[0].engine.dispose()

    def away() -> None:
        raise OSError("nobody answers")

    monkeypatch.setattr(servers.journals[0].engine, "raw_connection", away)
    assert worked_out(north, LONG, lambda: result("by north")) == result("by north")


def test_what_is_quick_to_work_out_is_not_asked_for(
    servers: Servers, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shared, "LEAST_S", 5.0)
    north, south = servers.one("north"), servers.one("south")
    worked_out(north, "(tracks 1)", lambda: result("by north"))
    assert worked_out(south, "(tracks 1)", lambda: result("by south")) == result("by south")
    with servers.journals[0].engine.connect() as connection:
        held = connection.exec_driver_sql("SELECT count(*) FROM shared_results").scalar_one()
    assert held == 0


def test_a_record_s_layer_is_worked_out_by_one_of_two_servers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    url, counted = fresh("postgresql", tmp_path), Counter[str]()
    compute = making.show_layer

    def counting(layer: Layer, *about: Any) -> Shown | Unavailable:
        counted[layer.key] += 1
        return compute(layer, *about)

    monkeypatch.setattr(making, "show_layer", counting)
    clock = Clock()
    said, held = [], []
    try:
        for name in ("north", "south"):
            folder = tmp_path / name
            folder.mkdir()
            ours.write(folder / ours.SERVERS_KEY, KEY.encode())
            journal = open_journal(url, EVERY_KIND, clock=clock)
            results = Results(folder, journal.key)
            mine = shared_by(folder, results, journal)
            worker = Worker(journal, results, part=WorkerPart.QUICK, shared=mine)
            held.append((worker, mine))
            if name == "north":
                ship = {"subject": "mmsi:299000900", "latitude_deg": 49.8, "longitude_deg": -8.4}
                told = Draft(kind="tracks.position", payload=ship, valid_at=clock(),
                             heard_at=clock(), source="x", identity=form_identity("a"))  # fmt: skip
                journal.append(WATCH, [told])
            assert worker.step()
            key = keys_of(journal, Moment(journal.now(), journal.now()))["tracks"]
            said.append(results[key])
        assert counted["tracks"] == 1
        assert isinstance(said[0], Shown)
        assert isinstance(said[1], Shown)
        assert (said[0].sentence, said[0].marks) == (said[1].sentence, said[1].marks)
    finally:
        for worker, mine in held:
            worker.news.end()
            assert mine is not None
            mine.close()
            worker.journal.close()


def test_nothing_is_shared_without_a_key_that_is_this_account_s_alone(
    servers: Servers, tmp_path: Path
) -> None:
    north = servers.one("north")
    journal = servers.journals[0]
    bare = tmp_path / "bare"
    bare.mkdir()
    assert shared_by(bare, north._own, journal) is None
    path = bare / ours.SERVERS_KEY
    ours.write(path, b"short")
    with pytest.raises(JournalError, match="32 random characters"):
        shared_by(bare, north._own, journal)
    ours.write(path, KEY.encode())
    path.chmod(0o644)
    with pytest.raises(JournalError, match="other accounts"):
        shared_by(bare, north._own, journal)
