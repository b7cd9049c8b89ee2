"""The journal at scale: time travel over a million records, and appending beside bare SQLite."""

from __future__ import annotations

import gc
import hashlib
import os
import sqlite3
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

import numpy as np

from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.clock import to_us
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, canonical, columns_bytes
from layers.journal.store import Journal, open_journal
from layers.journal.tables.engine import writing
from layers.journal.tables.rows import insert_rows
from layers.journal.tables.schema import BLOCKS, RECORDS, side_table
from layers.journal.tables.side_row import SideRow
from layers.picture import picture
from tests.benchmarks.figure import Figure

RECORDS_MADE = int(os.environ.get("MUSTERPLOT_BENCH_RECORDS", "1000000"))
BEGAN = datetime(2027, 3, 10, tzinfo=UTC)
SPAN = timedelta(days=10)
SHIPS = 100
TAKING_PART = 8  # of them; their tracks are looked at over two days, those of the rest over hours
BLOCK = 500
FEED = Actor(name="feed reader", role=Role.FEED, via="feed")


def filled(folder: Path, count: int = RECORDS_MADE, seed: int = 1) -> Journal:
    """Return a journal of ten days of AIS, written row by row as the intake writes it.

    The ships are anywhere each time, so that every step is a jump: more to find than in life.
    """
    clock = [BEGAN]
    journal = open_journal(folder / f"{count}.sqlite", KINDS, clock=lambda: clock[0])
    journal.append(FEED, [_vessel(number) for number in range(TAKING_PART)])
    clock[0] = BEGAN + SPAN
    kind = KINDS["tracks.position"]
    side_row = SideRow(kind)
    rng = np.random.default_rng(seed)
    step_us = int(SPAN.total_seconds() * 1e6) // count
    seq, head = journal.head()
    with writing(journal.engine, journal.place) as connection:
        while seq < count:
            rows, sides, digest, first = [], [], hashlib.sha256(bytes.fromhex(head)), seq + 1
            at_us = to_us(BEGAN) + (seq + BLOCK) * step_us
            block = seq // BLOCK + 2
            for draw in rng.random((BLOCK, 3)):
                seq += 1
                payload = {
                    "subject": f"mmsi:2990001{int(draw[0] * SHIPS):02d}",
                    "latitude_deg": round(49.0 + draw[1], 5),
                    "longitude_deg": round(-9.0 + draw[2], 5),
                    "speed_kn": 10.0,
                    "course_true_deg": 90.0,
                }
                id_ = f"{seq:032x}"
                heard = at_us - BLOCK * step_us
                fixed = (seq, id_, "ais", heard, heard)
                text = canonical(payload)
                row = (seq, id_, kind.name, kind.version, heard, heard, at_us, "ais", "f", text)
                raw = columns_bytes(row)
                digest.update(len(raw).to_bytes(8, "big") + raw)
                rows.append((seq, block, *row[1:]))
                sides.append(side_row(payload, fixed))
            head = digest.hexdigest()
            insert_rows(connection, RECORDS, rows)
            insert_rows(connection, side_table(kind), sides)
            insert_rows(connection, BLOCKS, [(block, first, seq, at_us, head)])
    return journal


def _vessel(number: int) -> Draft:
    return Draft(
        kind="tracks.vessel",
        payload={
            "subject": f"mmsi:2990001{number:02d}",
            "name": f"SHIP {number}",
            "role": "search ship",
        },
        valid_at=BEGAN,
        heard_at=BEGAN,
        source="watch",
        identity=f"form:vessel {number}",
    )


def seconds_of(work: Callable[[], object]) -> float:
    """Return how long a call takes."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def cpu_s_of(work: Callable[[], object]) -> float:
    """Return how much of a processor a call takes; a busy machine makes it no longer.

    What was left by the call before is swept away first, or this one would pay for it.
    """
    gc.collect()
    began = time.process_time()
    work()
    return time.process_time() - began


def shown(journal: Journal, at: datetime) -> None:
    """Make the picture of the layer that reads the bulk, as known at a time."""
    moment = Moment(at, at)
    picture(journal, moment, journal.seq_at(at), ("tracks",))


def time_travel(journal: Journal, thin: Journal) -> list[Figure]:
    """Return what a picture costs at random times, early, and of a tenth of the records.

    All of it is reading and computing in one process, so the processor's time is what counts.
    ``thin`` holds a tenth as many in the same ten days.
    """
    end = BEGAN + SPAN
    cold = cpu_s_of(lambda: shown(journal, end))
    rng = np.random.default_rng(7)
    times = [BEGAN + SPAN * float(part) for part in rng.uniform(0.05, 1.0, 9)]
    random_s, now_s, early_s, thin_s, empty_s = [], [], [], [], []
    for at in times:
        now_s.append(cpu_s_of(lambda: shown(journal, end)))
        random_s.append(cpu_s_of(lambda at=at: shown(journal, at)))
        early_s.append(cpu_s_of(lambda: shown(journal, BEGAN + SPAN * 0.2)))
        thin_s.append(cpu_s_of(lambda: shown(thin, end)))
        empty_s.append(cpu_s_of(lambda: shown(journal, BEGAN + SPAN * 0.0005)))
    now, constant = median(now_s), median(empty_s)
    size = f"{journal.revision():,} records"
    return [
        Figure(
            issue=8,
            name="picture as known at a random time, the slowest of nine",
            ratio=max(random_s) / now,
            target=3.0,
            direction="at most",
            reference="the same picture now",
            note=f"{size}; now {now * 1e3:.0f} ms, the first of all {cold * 1e3:.0f} ms",
        ),
        Figure(
            issue=8,
            name="picture now, after ten days",
            ratio=now / median(early_s),
            target=1.5,
            direction="at most",
            reference="the picture after two days, as long a track of each ship",
            note=f"{size}; after two days {median(early_s) * 1e3:.0f} ms",
        ),
        Figure(
            issue=8,
            name="picture of a tenth of the records in the same time, less the constant",
            ratio=max(median(thin_s) - constant, 0.0) / max(now - constant, 1e-9),
            target=0.2,
            direction="at most",
            reference="the same of all records, less the constant (0.1 were exact)",
            note=f"{size}; a tenth {median(thin_s) * 1e3:.0f} ms, constant {constant * 1e3:.0f} ms",
        ),
    ]


def appends(folder: Path, runs: int = 150) -> Figure:
    """Return what one acknowledged append costs beside one bare fully synchronous commit."""
    journal = open_journal(folder / "small.sqlite", KINDS)
    bare = sqlite3.connect(folder / "bare.sqlite", isolation_level=None)
    bare.execute("PRAGMA journal_mode=WAL")
    bare.execute("PRAGMA synchronous=FULL")
    bare.execute("CREATE TABLE t (a INTEGER PRIMARY KEY, b TEXT)")
    ours, theirs = [], []
    for number in range(runs):
        at = datetime.now(UTC)
        draft = Draft(
            kind="watch.marking",
            payload={"line": f"line {number}"},
            valid_at=at,
            heard_at=at,
            source="watch",
            identity=f"form:{number}",
        )
        ours.append(seconds_of(lambda draft=draft: journal.append(FEED, [draft])))
        theirs.append(
            seconds_of(lambda: bare.execute("INSERT INTO t (b) VALUES (?)", ("x" * 300,)))
        )
    journal.close()
    return Figure(
        issue=8,
        name="one record appended, hashed and acknowledged",
        ratio=median(ours) / median(theirs),
        target=15.0,
        direction="at most",
        reference="one bare INSERT in SQLite, WAL, synchronous=FULL",
        note=f"{1 / median(ours):.0f} a second, one after the other",
    )


def figures() -> list[Figure]:
    """Return every figure of the journal."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        journal, thin = filled(folder), filled(folder, RECORDS_MADE // 10)
        found = [*time_travel(journal, thin), appends(folder)]
        thin.close()
        journal.close()
    return found
