"""``python -m tests.crash --programs 40``: kill -9 the program's own processes at random.

The web server, the computing processes and the feed reader run as ``python -m dashboard`` runs
them. A viewer has a page open; two writers send forms; whole files come into the watched folder
and a log in it grows. Each round one process or more is killed, wherever it is, and started
again. At the end every line of every file is one record, nothing that a writer was told is
recorded is lost, and the chain, the database and the picture hold as in `tests.crash`.
"""

from __future__ import annotations

import asyncio
import json
import os
import random
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from unittest import mock

import sqlalchemy as sa

from dashboard.__main__ import answers, arguments, children
from dashboard.server.processes import Child, end_all
from layers.catalogue import KINDS
from layers.checking import last
from layers.feeds.settings import DROP_FOLDER
from layers.incidents import folder_of
from layers.journal import naming
from layers.journal.store import open_journal
from tests.benchmarks.viewers import Viewer
from tests.crash import Trial, acknowledged
from tests.unit.test_supervisor import free_port

LINES = 300  # in a whole file
SENTENCES = 60  # that the log gains at a time
LOG = "bridge.log"
PATIENCE_S = 300.0


class Feeds:
    """What comes into the watched folder, from a thread, and how many records it must make."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.expected: Counter[str] = Counter()
        self._at = datetime.now(UTC) - timedelta(days=2)
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        self._thread.start()

    def end(self) -> None:
        self._ending.set()
        self._thread.join()

    def _run(self) -> None:
        number = 0
        while not self._ending.wait(0.7):
            number += 1
            self._grow()
            if number % 3 == 0:
                self._bring(number)

    def _bring(self, number: int) -> None:
        """Bring a whole file, under its name only once it is whole."""
        name = f"positions-{number}.jsonl"
        lines = [self._line(number, place) for place in range(LINES)]
        part = self.folder / f"{name}.part"
        part.write_text("\n".join(lines) + "\n", "utf-8")
        part.rename(self.folder / name)
        self.expected[name] = LINES

    def _line(self, number: int, place: int) -> str:
        payload = {
            "subject": f"mmsi:29900020{place % 10}",
            "latitude_deg": 49.0 + place / 1000.0,
            "longitude_deg": -9.0 + number / 1000.0,
        }
        at = self._at + timedelta(seconds=place)
        return json.dumps(
            {"kind": "tracks.position", "valid_at": at.isoformat(), "payload": payload}
        )

    def _grow(self) -> None:
        """Let the log gain a minute of fixes, one a second."""
        sentences = [self._sentence(self._at + timedelta(seconds=n)) for n in range(SENTENCES)]
        self._at += timedelta(seconds=SENTENCES)
        with (self.folder / LOG).open("a", encoding="ascii", newline="") as file:
            file.write("".join(sentences))
        self.expected[LOG] += SENTENCES

    @staticmethod
    def _sentence(at: datetime) -> str:
        body = f"GPRMC,{at:%H%M%S}.00,A,4930.000,N,00830.000,W,5.0,090.0,{at:%d%m%y},,,A"
        parity = 0
        for character in body.encode():
            parity ^= character
        return f"${body}*{parity:02X}\r\n"


REFUSED = 2  # the status of a program that says in a line why it cannot start


class Programs:
    """The program's processes, a viewer, and who is killed."""

    def __init__(self, url: str, folder: Path, seed: int) -> None:
        self.rng = random.Random(seed)  # nosec B311 - a test's own dice
        self.port = free_port()
        asked = arguments(["--empty", "--journal", url, "--port", str(self.port)])
        with mock.patch.dict(os.environ, {naming.FOLDER: str(folder)}):
            self.held: list[Child] = children(asked, url)
        self.kills: Counter[str] = Counter()
        self.viewer = threading.Thread(target=self._look, daemon=True)

    def start(self) -> None:
        for child in self.held:
            child.start()
        self.viewer.start()

    def _look(self) -> None:
        """Keep a page open, and open it again whenever the web server is gone."""
        address = f"ws://127.0.0.1:{self.port}/_stcore/stream"
        while True:
            asyncio.run(Viewer(address).stay())
            time.sleep(0.5)

    def stand_up(self) -> None:
        """Start again, as the program's own supervisor does, who was started with no database."""
        for child in self.held:
            assert child.process is not None
            if child.process.poll() == REFUSED:
                child.start()
                self.kills[f"({child.name} found no database)"] += 1

    def kill_some(self) -> None:
        """Kill one process, now and then all of them at once, wherever they are."""
        time.sleep(self.rng.uniform(0.2, 6.0))
        self.stand_up()
        feeds = self.held[-1]
        chosen = self.rng.choice([[feeds], [feeds], [self.rng.choice(self.held)], self.held])
        for child in chosen:
            assert child.process is not None
            if child.process.poll() is not None:
                raise AssertionError(
                    f"the {child.name} ended by itself: {child.process.returncode}"
                )
            child.process.kill()
            self.kills[child.name] += 1
        for child in chosen:
            assert child.process is not None
            child.process.wait()
            child.start()


def run(database: str, kills: int, seed: int) -> str:
    """Kill that often; return what was found in a sentence."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        trial = Trial(database, folder, seed, WRITERS)
        (folder / "land").write_text("a file where a folder should be: no coastline in this test")
        drop = folder_of(trial.url, folder) / DROP_FOLDER
        drop.mkdir(parents=True)
        feeds = Feeds(drop)
        programs = Programs(trial.url, folder, seed)
        began = time.monotonic()
        try:
            programs.start()
            feeds.start()
            for number in range(kills):
                trial.start()
                programs.kill_some()
                if number % 4 == 3:
                    trial.kill_some()
                trial.check_database()
            feeds.end()
            trial.end()
            programs.stand_up()
            _wait_until_read(trial.url, feeds.expected)
            _wait(lambda: answers(f"http://127.0.0.1:{programs.port}/"), "the web server answers")
        finally:
            feeds.end()
            trial.end()
            end_all(programs.held)
        told = sum(acknowledged(trial.ledger(writer)) for writer in WRITERS)
        records = trial.check(feeds=set(feeds.expected))
        _nothing_was_called_altered(trial.url, folder)
        took_s = time.monotonic() - began
        killed = ", ".join(f"{name} {count}" for name, count in programs.kills.items())
        return (
            f"{database}: killed {killed} times, {trial.kills['writer']} writers and "
            f"{trial.kills['database']} databases in {kills} rounds; {feeds.expected.total()} "
            f"lines of {len(feeds.expected)} files each one record, {told} batches told of all "
            f"there, {records} records, chain intact, picture equal ({took_s:.0f} s)"
        )


def _nothing_was_called_altered(url: str, folder: Path) -> None:
    """The checks that ran meanwhile gave no false alarm."""
    journal = open_journal(url, KINDS, readonly=True)
    found = last(journal, folder)
    journal.close()
    assert found is None or not found.faults, found


WRITERS = ("web-1", "web-2")


def _by_source(url: str) -> dict[str, int]:
    journal = open_journal(url, KINDS, readonly=True)
    question = "SELECT source, count(*) FROM records WHERE kind = 'tracks.position' GROUP BY source"
    with journal.engine.connect() as connection:
        found = {row[0]: row[1] for row in connection.execute(sa.text(question))}
    journal.close()
    return found


def _wait_until_read(url: str, expected: Counter[str]) -> None:
    """Wait for the feed reader to have caught up; then nothing is lost and nothing is doubled."""
    _wait(lambda: all(_by_source(url).get(n, 0) >= c for n, c in expected.items()), "all is read")
    assert _by_source(url) == dict(expected)


def _wait(true: Callable[[], bool], what: str) -> None:
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        if true():
            return
        time.sleep(0.5)
    raise AssertionError(f"after {PATIENCE_S:.0f} s it is not so that {what}")
