"""Reading 100,000 AIS lines into the journal, hashed, against decoding them with pyais alone."""

from __future__ import annotations

import hashlib
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

import numpy as np
from pyais import decode
from pyais.encode import encode_dict

from layers.contract import Origin
from layers.journal.actor import Actor, Role
from layers.journal.store import open_journal
from layers.tracks import LAYER
from layers.tracks.feeds import nmea_feed
from tests.benchmarks.figure import Figure

LINES = 100_000
RECEIVED = datetime(2027, 3, 13, 12, 0, tzinfo=UTC)
DATED = b"$GPZDA,115900,13,03,2027,00,00*42\r\n"  # a file without any date would ask for one


def log(lines: int = LINES, seed: int = 1) -> bytes:
    """Return class A position reports of 2,000 ships, every one different."""
    rng = np.random.default_rng(seed)
    made = []
    for _ in range(lines):
        message = {
            "msg_type": int(rng.choice([1, 1, 1, 3, 18])),
            "mmsi": str(299_000_000 + int(rng.integers(0, 2000))),
            "lat": float(rng.uniform(48, 52)),
            "lon": float(rng.uniform(-12, -4)),
            "speed": round(float(rng.uniform(0, 20)), 1),
            "course": round(float(rng.uniform(0, 359.9)), 1),
            "heading": int(rng.integers(0, 360)),
        }
        made.append(encode_dict(message, radio_channel="A", sentence_type="VDM")[0])
    return "\n".join(made).encode()


def by_pyais(data: bytes) -> int:
    """Decode every line with pyais alone."""
    return sum(1 for line in data.split(b"\n") if decode(line).asdict())


def into_journal(data: bytes, folder: Path) -> int:
    """Read the log and append it to a new journal; return how many records it took."""
    kinds = {kind.name: kind for kind in LAYER.kinds}
    journal = open_journal(folder / "journal.sqlite", kinds, clock=lambda: RECEIVED)
    origin = Origin(
        source="ais.nmea", received_at=RECEIVED, digest=hashlib.sha256(data).hexdigest()
    )
    reading = nmea_feed.read(DATED + data, origin)
    actor = Actor(name="feed reader", role=Role.FEED, via="feed")
    taken = journal.append(actor, reading.drafts, rejects=reading.rejects)
    journal.close()
    return taken.count


def figures(runs: int = 3) -> list[Figure]:
    """Return the ratio of the medians of interleaved runs."""
    data = log()
    ours, theirs = [], []
    for _ in range(runs):
        start = time.perf_counter()
        by_pyais(data)
        theirs.append(time.perf_counter() - start)
        with tempfile.TemporaryDirectory() as folder:
            start = time.perf_counter()
            count = into_journal(data, Path(folder))
            ours.append(time.perf_counter() - start)
        if count != LINES:
            raise AssertionError(f"{count} records of {LINES} lines")
    return [
        Figure(
            issue=21,
            name="100,000 AIS lines into the journal, hashed",
            ratio=median(ours) / median(theirs),
            target=2.5,
            direction="at most",
            reference="pyais decode of the same lines",
            note=f"{LINES / median(ours):,.0f} lines a second",
        )
    ]
