"""``python -m tests.crash --kills 200``: kill -9 at random while four writers write.

Two writers stand for the web server (forms, typed records), two for the feed reader (positions
in batches). Each notes on disk, before it goes on, what the journal has acknowledged. They, and
on PostgreSQL the whole database, are killed at random points and started again; what was not
acknowledged is sent again, as a form on a bad line is. At the end nothing acknowledged is lost,
nothing is doubled, the chain is intact by two programs, the database's own check finds nothing,
and the picture equals the picture computed from the bare records.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import signal
import sys
import tempfile
import time
from collections.abc import Collection, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.errors import JournalError
from layers.journal.actor import Actor, Role
from layers.journal.integrity.chain import verify
from layers.journal.known import ListShelf
from layers.journal.record import Draft
from layers.journal.store import Journal, open_journal
from layers.picture import picture
from tests import databases
from tests.chain_by_itself import chain_of

WRITERS = ("web-1", "web-2", "feed-1", "feed-2")
BEGAN = datetime(2027, 3, 13, tzinfo=UTC)


def batch(writer: str, number: int) -> list[Draft]:
    """Return the batch of a writer, the same each time it is asked for."""
    rng = random.Random(f"{writer} {number}")  # nosec B311 - a test's own dice
    now = datetime.now(UTC)
    if writer.startswith("web"):
        kind, count = "watch.task", rng.randint(1, 3)
    else:
        kind, count = "tracks.position", rng.randint(5, 60)
    made = []
    for place in range(count):
        payload: dict[str, Any] = (
            {"who": writer, "what": f"task {number}"}
            if kind == "watch.task"
            else {
                "subject": f"mmsi:29900010{rng.randint(0, 9)}",
                "latitude_deg": rng.uniform(49.0, 50.0),
                "longitude_deg": rng.uniform(-9.0, -8.0),
                "speed_kn": round(rng.uniform(0.0, 15.0), 1),
            }
        )
        scheme = "form" if kind == "watch.task" else "file"
        made.append(
            Draft(
                kind=kind,
                payload=payload,
                valid_at=now,
                heard_at=now,
                source=writer,
                identity=f"{scheme}:{writer}:{number}:{place}",
            )
        )
    return made


def write(url: str, ledger: Path, writer: str) -> None:
    """Write batches for ever, noting each acknowledged one; resend the last at the start."""
    role = Role.WATCH if writer.startswith("web") else Role.FEED
    actor = Actor(name=writer, role=role)
    number = max(acknowledged(ledger) - 1, 0)
    held = os.open(ledger, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    journal: Journal | None = None
    while True:
        try:
            journal = journal or open_journal(url, KINDS)
            drafts = batch(writer, number)
            made = journal.append(actor, drafts)
            assert len(made.records) + len(made.already_there) == len(drafts)
        except JournalError:  # the database is down: send the same again
            if journal is not None:
                journal.close()
                journal = None
            time.sleep(0.05)
            continue
        number += 1
        os.write(held, f"{number}\n".encode())
        os.fsync(held)


def acknowledged(ledger: Path) -> int:
    """Return how many batches a ledger notes; a torn last line does not count."""
    if not ledger.exists():
        return 0
    whole = ledger.read_bytes().rsplit(b"\n", 1)[0]
    return int(whole.rsplit(b"\n", 1)[-1] or 0) if whole else 0


class Trial:
    """One run against one database."""

    def __init__(
        self, database: str, folder: Path, seed: int, writers: Sequence[str] = WRITERS
    ) -> None:
        self.database = database
        self.writers = writers
        self.folder = folder
        self.rng = random.Random(seed)  # nosec B311 - a test's own dice
        self.url = databases.fresh(database, folder)
        open_journal(self.url, KINDS).close()
        self.running: dict[str, int] = {}
        self.kills = {"writer": 0, "database": 0}

    def ledger(self, writer: str) -> Path:
        return self.folder / f"{writer}.acknowledged"

    def start(self) -> None:
        """Start every writer that does not run."""
        for writer in self.writers:
            if writer not in self.running:
                self.running[writer] = self._fork(writer)

    def _fork(self, writer: str) -> int:
        # A child of this process: everything is imported already, and it starts in no time.
        pid = os.fork()
        if pid == 0:
            signal.signal(signal.SIGINT, signal.SIG_DFL)
            try:
                write(self.url, self.ledger(writer), writer)
            except BaseException as fault:
                sys.stderr.write(f"{writer}: {fault!r}\n")
            os._exit(1)
        return pid

    def kill_some(self) -> None:
        """Kill one writer or more at once, or the database under all of them."""
        time.sleep(self.rng.uniform(0.02, 0.4))
        for writer, pid in self.running.items():
            if os.waitpid(pid, os.WNOHANG)[0]:
                raise AssertionError(f"{writer} ended by itself")
        if self.database == "postgresql" and self.rng.random() < 0.25:
            self._kill_database()
            return
        many = min(self.rng.choice([1, 1, 1, 2, 4]), len(self.writers))
        for writer in self.rng.sample(self.writers, many):
            self._kill(writer)
            self.kills["writer"] += 1

    def _kill(self, writer: str) -> None:
        pid = self.running.pop(writer)
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)

    def _kill_database(self) -> None:
        import psutil

        postmaster = psutil.Process(databases.server().get_pid())
        everybody = [postmaster, *postmaster.children(recursive=True)]
        for process in everybody:
            with contextlib.suppress(psutil.NoSuchProcess):  # it went with the one before
                process.kill()
        psutil.wait_procs(everybody, timeout=10)
        self.kills["database"] += 1
        databases.start_again()

    def end(self) -> None:
        for writer in list(self.running):
            self._kill(writer)

    def check_database(self) -> None:
        """Let the database check itself."""
        engine = open_journal(self.url, KINDS).engine
        with engine.connect() as connection:
            if self.database == "sqlite":
                found = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
                assert found == ["ok"], found
            else:
                _read_every_page(connection)
        engine.dispose()

    def check(self, feeds: Collection[str] = ()) -> int:
        """Check everything; return how many records there are.

        ``feeds`` are sources of records that no writer of this trial sent.
        """
        journal = open_journal(self.url, KINDS)
        found = verify(journal)
        assert found.intact, found
        assert chain_of(journal.engine) == (found.records, found.head_hash, None)
        with journal.engine.connect() as connection:
            rows = connection.execute(sa.text("SELECT id, source, kind FROM records")).fetchall()
        ids = {row[0] for row in rows}
        assert len(ids) == found.records, "a record is doubled"
        possible: set[str] = set()
        for writer in self.writers:
            done = acknowledged(self.ledger(writer))
            for number in range(done):
                wanted = {one.id for one in batch(writer, number)}
                assert wanted <= ids, f"{writer} batch {number} was acknowledged and is lost"
                possible |= wanted
            possible |= {one.id for one in batch(writer, done)}  # written, not acknowledged
        possible |= {row[0] for row in rows if row[1] in feeds}
        possible |= {row[0] for row in rows if row[2] == "watch.look"}  # of the trial's own viewer
        assert ids <= possible, "a record nobody sent"
        self._check_picture(journal)
        journal.close()
        return found.records

    def _check_picture(self, journal: Journal) -> None:
        upto = journal.revision()
        moment = Moment(journal.now(), journal.now())
        records = journal.read(list(KINDS), upto)
        stored = picture(journal, moment, upto, ("tracks",)).layers["tracks"]
        bare = picture(ListShelf(records), moment, upto, ("tracks",)).layers["tracks"]
        assert getattr(stored, "table", stored) == getattr(bare, "table", bare)
        assert getattr(stored, "sentence", stored) == getattr(bare, "sentence", bare)


def _read_every_page(connection: sa.Connection) -> None:
    """Read all pages, whose checksums PostgreSQL then checks; heap and indexes must agree.

    Its index checker (amcheck) is not in the server that the tests bring along.
    """
    connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
    assert connection.exec_driver_sql("SHOW data_checksums").scalar() == "on"
    for table, column in (("records", "id"), ("records", "seq"), ("blocks", "block")):
        counts = []
        for way in ("enable_indexscan", "enable_seqscan"):
            connection.exec_driver_sql("SET LOCAL enable_bitmapscan = off")
            connection.exec_driver_sql(f"SET LOCAL {way} = off")
            ordered = f"SELECT {column} AS held FROM {table} ORDER BY {column}"
            question = f"SELECT count(held), max(held) FROM ({ordered}) t"
            counts.append(tuple(connection.exec_driver_sql(question).one()))
            connection.exec_driver_sql(f"SET LOCAL {way} = on")
        assert counts[0] == counts[1], f"heap and index of {table} differ: {counts}"


def run(database: str, kills: int, seed: int) -> str:
    """Kill that often; return what was found in a sentence."""
    with tempfile.TemporaryDirectory() as name:
        trial = Trial(database, Path(name), seed)
        began = time.monotonic()
        try:
            for number in range(kills):
                trial.start()
                trial.kill_some()
                trial.check_database()
                if number % 25 == 24:
                    trial.end()
                    trial.check()
        finally:
            trial.end()
        records = trial.check()
        return (
            f"{database}: {trial.kills['writer']} writers and {trial.kills['database']} databases "
            f"killed in {kills} rounds, {records} records, nothing acknowledged lost, nothing "
            f"doubled, chain intact, picture equal ({time.monotonic() - began:.0f} s)"
        )


def main() -> int:
    """Run on both databases, or on one."""
    parser = argparse.ArgumentParser(prog="python -m tests.crash")
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--programs", type=int, metavar="ROUNDS", help="kill the program's own processes instead"
    )
    parser.add_argument("--database", choices=("sqlite", "postgresql"), action="append")
    asked = parser.parse_args()
    for database in asked.database or ("sqlite", "postgresql"):
        if asked.programs is None:
            print(run(database, asked.kills, asked.seed), flush=True)
            continue
        from tests import crash_programs  # which needs this module

        print(crash_programs.run(database, asked.programs, asked.seed), flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
