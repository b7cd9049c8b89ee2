"""``python -m tests.soak``: ten days of an operation at 240 times speed, in an hour.

A feed reader with 100 ships (a position a minute each), 20 buoys (a report an hour) and a
forecast every six hours, a watch that types 2,000 records, the two computing processes, and a
viewer who follows it all, each a process of its own on one journal with a clock that runs fast.
Every few seconds the memory of each is taken, and how long the viewer waited for the new picture.
At the end growth after the first tenth is said, the chain is checked, and the journal is opened
and looked at as known at random times. ``--days 0.1`` is the short version.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

import numpy as np
import psutil

from demo_data.writers.write_weather import _forecast
from layers.catalogue import BY_KEY, FEEDS, KINDS
from layers.contract import Moment, Origin
from layers.journal.actor import Actor, Role
from layers.journal.integrity.chain import verify
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from layers.picture import picture
from layers.results import Results
from layers.worker import Worker, WorkerPart, keys_of

BEGAN = datetime(2027, 3, 13, tzinfo=UTC)
SHIPS, BUOYS, TYPED, DAYS = 100, 20, 2_000, 10.0
FEED = Actor(name="feed reader", role=Role.FEED, via="feed")
WATCH = Actor(name="watch officer 1", role=Role.WATCH)
BUOY_HEADS = (
    "#YY  MM DD hh mm WDIR WSPD GST  WVHT   DPD   APD MWD   PRES  ATMP  WTMP  DEWP  VIS PTDY TIDE\n"
    "#yr  mo dy hr mn degT m/s  m/s     m   sec   sec degT   hPa  degC  degC  degC  nmi  hPa   ft\n"
)


class FastClock:
    """A clock that began with the run and runs so many times faster."""

    def __init__(self, speed: float) -> None:
        self.speed = speed
        self.started = time.time()

    def __call__(self) -> datetime:
        return BEGAN + timedelta(seconds=(time.time() - self.started) * self.speed)


def feed_reader(journal: Journal, days: float, folder: Path) -> None:
    """Bring ships, buoys and forecasts in as they come due."""
    rng = np.random.default_rng(1)
    places = np.column_stack((rng.uniform(48.5, 51.0, SHIPS), rng.uniform(-11.0, -6.0, SHIPS)))
    minute, end = 0, int(days * 1440)
    while minute < end:
        due = min(int((journal.now() - BEGAN).total_seconds() // 60), end)
        for minute in range(minute, due):  # noqa: B020  goes on from where it was
            places += rng.normal(0.0, 0.002, places.shape)
            _ships(journal, places, minute)
            if minute % 60 == 0:
                _buoys(journal, minute)
            if minute % 360 == 0:
                _forecasts(journal, minute, folder)
        minute = due
        time.sleep(0.1)


def _ships(journal: Journal, places: np.ndarray, minute: int) -> None:
    at = BEGAN + timedelta(minutes=minute)
    journal.append(
        FEED,
        [
            Draft(
                kind="tracks.position",
                payload={
                    "subject": f"mmsi:{299000200 + ship}",
                    "latitude_deg": round(float(latitude), 5),
                    "longitude_deg": round(float(longitude), 5),
                    "speed_kn": 8.0,
                    "course_true_deg": float(ship * 3 % 360),
                },
                valid_at=at,
                heard_at=at,
                source="AIS receiver",
                identity=f"stream:ais:{minute}:{ship}",
            )
            for ship, (latitude, longitude) in enumerate(places)
        ],
    )


def _read(journal: Journal, key: str, content: bytes, source: str, at: datetime) -> None:
    feed = next(feed for feed in FEEDS if feed.key == key)
    digest = hashlib.sha256(content).hexdigest()
    reading = feed.read(content, Origin(source=source, received_at=at, digest=digest))
    journal.append(FEED, reading.drafts, rejects=reading.rejects, blobs=reading.blobs)


def _buoys(journal: Journal, minute: int) -> None:
    at = BEGAN + timedelta(minutes=minute)
    for number in range(BUOYS):
        hs_m = 1.5 + 0.05 * number + 0.5 * np.sin(minute / 400.0)
        line = (
            f"{at:%Y %m %d %H %M} 220 12.0 15.0 {hs_m:5.1f}   8.0   6.0 230 1010.0  10.0  11.0"
            "   7.0   MM   MM    MM\n"
        )
        _read(journal, "ndbc", (BUOY_HEADS + line).encode(), f"buoy 62Y{number:02d}", at)


def _forecasts(journal: Journal, minute: int, folder: Path) -> None:
    at = BEGAN + timedelta(minutes=minute)
    path = folder / f"forecast-{minute}.nc"
    _forecast(path, at, minute // 360)
    manifest = json.loads((Path("demo_data") / "weather" / "manifest.json").read_text())
    key = next(entry["feed"] for entry in manifest if entry["file"].endswith(".nc"))
    _read(journal, key, path.read_bytes(), "forecast", at)
    path.unlink()


def watch(journal: Journal, days: float, _folder: Path) -> None:
    """Type records, evenly spread."""
    count = int(TYPED * days / DAYS)
    for number in range(count):
        due = BEGAN + timedelta(days=days * number / count)
        while journal.now() < due:
            time.sleep(0.05)
        payload = {"who": f"ship {number % 9}", "what": f"task {number}"}
        at = journal.now()
        draft = Draft(
            kind="watch.task",
            payload=payload,
            valid_at=at,
            heard_at=at,
            source="watch",
            identity=form_identity(f"typed-{number}"),
        )
        journal.append(WATCH, [draft])
    time.sleep(3600)


def computing(journal: Journal, _days: float, folder: Path) -> None:
    """Compute every new picture, without the slow layers."""
    _compute(Worker(journal, Results(folder, journal.key), part=WorkerPart.QUICK))


def margin(journal: Journal, _days: float, folder: Path) -> None:
    """Compute the slow layers of every new picture."""
    _compute(Worker(journal, Results(folder, journal.key), part=WorkerPart.SLOW))


def _compute(worker: Worker) -> None:
    while True:
        if not worker.step():
            time.sleep(0.2)


def viewer(journal: Journal, _days: float, folder: Path) -> None:
    """Follow the picture as a web process does, noting how long each change took to show.

    It waits for the quick layers; of the slow ones it is shown the last.
    """
    results = Results(folder, journal.key)
    with (folder / "waits").open("a") as notes:
        while True:
            moment = Moment(now := journal.now(), now)
            began = time.monotonic()
            keys = _waited_for(journal, results, moment)
            results.found(keys)
            notes.write(f"{time.monotonic() - began:.3f}\n")
            notes.flush()
            time.sleep(2.0)


def _waited_for(journal: Journal, results: Results, moment: Moment) -> dict[str, str]:
    """Return the keys of a moment once its quick layers are there.

    They are asked for again while waiting: with a clock this fast a record that was being written
    at the moment may come to stand before it.
    """
    until = time.monotonic() + 120.0
    while True:
        keys = keys_of(journal, moment)
        quick = [name for key, name in keys.items() if not BY_KEY[key].slow]
        if results.wait_for(quick, moment, 1.0) or time.monotonic() > until:
            return keys


PARTS: dict[str, Callable[[Journal, float, Path], None]] = {
    "feed reader": feed_reader,
    "watch": watch,
    "computing process": computing,
    "margin's process": margin,
    "viewer": viewer,
}


def fork(name: str, folder: Path, clock: FastClock, days: float) -> int:
    """Start one part as a process of its own."""
    pid = os.fork()
    if pid == 0:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        code = 0
        try:
            journal = open_journal(folder / "journal.sqlite", KINDS, clock=clock, busy_s=60.0)
            PARTS[name](journal, days, folder)
        except BaseException as fault:
            sys.stderr.write(f"{name}: {fault!r}\n")
            code = 1
        os._exit(code)
    return pid


def growth(values: list[float]) -> float:
    """Return how much larger the last tenth is than what came just after the first tenth."""
    tenth = max(len(values) // 10, 1)
    return median(values[-tenth:]) / median(values[tenth : 2 * tenth]) - 1.0


def run(days: float, speed: float) -> list[str]:
    """Run it; return what was found, a line each."""
    with tempfile.TemporaryDirectory() as name:
        folder, clock = Path(name), FastClock(speed)
        open_journal(folder / "journal.sqlite", KINDS, clock=clock, exercise=True).close()
        pids = {part: fork(part, folder, clock, days) for part in PARTS}
        sizes: dict[str, list[float]] = {part: [] for part in PARTS}
        done = False
        while not done:
            time.sleep(min(max(days * 86_400 / speed / 200, 0.2), 10.0))
            done = os.waitpid(pids["feed reader"], os.WNOHANG)[0] != 0
            for part, pid in pids.items():
                if not (done and part == "feed reader"):
                    held = psutil.Process(pid).memory_info().rss / 1e6
                    sizes[part] += [held] if held else []  # nothing: it has just ended
            _report(sizes, folder, clock, days)
        patience = time.monotonic() + 120.0  # a busy machine may not have shown one picture yet
        while not _said(folder / "waits") and time.monotonic() < patience:
            time.sleep(0.2)
        for part, pid in pids.items():
            if part != "feed reader":
                os.kill(pid, signal.SIGKILL)
                os.waitpid(pid, 0)
        waits = [float(line) for line in (folder / "waits").read_text().split()]
        return [*_memory(sizes), *_ending(folder, clock, waits)]


def _report(sizes: dict[str, list[float]], folder: Path, clock: FastClock, days: float) -> None:
    """Say now and then how far it is, so that a run that is broken off has said something."""
    if len(sizes["viewer"]) % 20:
        return
    held = ", ".join(f"{part} {values[-1]:.0f} MB" for part, values in sizes.items())
    waits = (folder / "waits").read_text().split() if _said(folder / "waits") else []
    last = median(float(wait) for wait in waits[-20:]) if waits else 0.0
    passed = (clock() - BEGAN) / timedelta(days=days)
    sys.stderr.write(f"{passed:4.0%} of {days:g} days: {held}; viewer waits {last:.2f} s\n")


def _said(path: Path) -> bool:
    return path.exists() and path.stat().st_size > 0


def _memory(sizes: dict[str, list[float]]) -> list[str]:
    return [
        f"{part}: {values[-1]:.0f} MB at the end, {growth(values):+.0%} after the first tenth"
        for part, values in sizes.items()
    ]


def _ending(folder: Path, clock: FastClock, waits: list[float]) -> list[str]:
    began = time.monotonic()
    journal = open_journal(folder / "journal.sqlite", KINDS, clock=clock)
    opened_s = time.monotonic() - began
    began = time.monotonic()
    found = verify(journal)
    verified_s = time.monotonic() - began
    assert found.intact
    rng = np.random.default_rng(3)
    span = journal.now() - BEGAN
    scrubs = []
    for part in rng.random(5):
        at = BEGAN + span * float(part)
        began = time.monotonic()
        picture(journal, Moment(at, at), journal.seq_at(at), ("tracks", "weather"))
        scrubs.append(time.monotonic() - began)
    rejects = sum(journal.reject_counts().values())
    journal.close()
    slower = f", {growth(waits):+.0%} after the first tenth" if len(waits) >= 20 else ""
    return [
        f"viewer waited {median(waits):.2f} s for a picture{slower}",
        f"{found.records} records, {rejects} rejects, chain intact (read through in "
        f"{verified_s:.0f} s); opened in {opened_s:.2f} s, ships and weather as known at a random "
        f"time in {median(scrubs):.2f} s",
    ]


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.soak")
    parser.add_argument("--days", type=float, default=DAYS)
    parser.add_argument("--speed", type=float, default=240.0)
    asked = parser.parse_args()
    for line in run(asked.days, asked.speed):
        print(line, flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
