"""Many readers of one plot: the real command, simulated viewers, one record a second.

``MUSTERPLOT_READERS=10,25`` names how many, one after the other; more readers take more minutes.
Beside it stands the plain way: every reader has the whole page run anew every five seconds.
"""

from __future__ import annotations

import asyncio
import os
import tempfile
import time
import uuid
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from statistics import quantiles

import psutil

from layers.catalogue import KINDS
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from tests.benchmarks.figure import Figure
from tests.benchmarks.viewers import Viewer
from tests.browser.conftest import Server, start, wait_for_land

COUNTS = tuple(int(n) for n in os.environ.get("MUSTERPLOT_READERS", "10,25,50,100,200").split(","))
SETTLE_S, CHANGES, AFTER_S, QUIET_S = 6.0, 15, 10.0, 20.0
STORM = 50
PATIENCE_S = 120.0
WATCH = Actor(name="bench", role=Role.WATCH, via="server")


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What one number of readers cost."""

    readers: int
    delays_s: list[float]
    missed: int  # changes a reader never saw by themselves: a newer one came first
    late: int  # readers that did not see the last change within 5 s
    cores: float
    mb_each: float
    kb_a_change: float
    quiet_kb: float
    faults: int

    def words(self) -> str:
        """Return it in one line."""
        cut = quantiles(self.delays_s, n=20) if len(self.delays_s) > 1 else [float("nan")] * 19
        return (
            f"{self.readers}: append to message p50 {cut[9]:.1f} s p95 {cut[18]:.1f} s, "
            f"{self.late} late, {self.cores:.2f} core, {self.mb_each:.1f} MB each, "
            f"{self.kb_a_change:.0f} kB a change, quiet {self.quiet_kb:.2f} kB per 5 s, "
            f"{self.missed} overtaken, {self.faults} faults"
        )


def figures() -> list[Figure]:
    """Return what the most readers cost, each against the issue's own limit."""
    with tempfile.TemporaryDirectory() as folder:
        server = start(Path(folder))
        try:
            wait_for_land(server)
            loads = []
            for count in COUNTS:
                loads.append(asyncio.run(_load(server, count)))
                print(f"  {loads[-1].words()}", flush=True)
            plain = asyncio.run(_load(server, COUNTS[0], every_s=5.0))
            print(f"  the plain way, {plain.words()}", flush=True)
            storm = asyncio.run(_storm(server))
        finally:
            server.end()
    return _figures(next((x for x in loads if x.readers == 100), loads[-1]), loads[0], plain, storm)


def _figures(most: Load, first: Load, plain: Load, storm: float) -> list[Figure]:
    n, note = most.readers, most.words()
    wanted = (
        (f"{n} readers not current within 5 s", most.late, 0.0, "one reader", "readers"),
        (f"{n} readers' web process", most.cores, 0.6, "one core", "cores"),
        (f"memory a reader of {n}", most.mb_each, 15.0, "1 MB", "MB"),
        (f"bytes a reader and change of {n}", most.kb_a_change, 60.0, "1 kB", "kB"),
        (f"a quiet reader of {n} in 5 s", most.quiet_kb, 2.0, "1 kB", "kB"),
        (f"{STORM} coming back at once have the chart", storm, 30.0, "1 s", "s"),
        (
            f"{first.readers} readers against the plain way",
            first.kb_a_change / max(plain.kb_a_change, 0.001), 1.0, "the plain way's bytes", "×",
        ),
    )  # fmt: skip
    return [
        Figure(issue=7, name=name, ratio=float(ratio), target=target, direction="at most",
               reference=reference, unit=unit, note=note)
        for name, ratio, target, reference, unit in wanted
    ]  # fmt: skip


def _web(server: Server) -> psutil.Process:
    children = psutil.Process(server.process.pid).children(recursive=True)
    return next(child for child in children if "dashboard.web" in " ".join(child.cmdline()))


async def _load(server: Server, count: int, every_s: float | None = None) -> Load:
    web, journal = _web(server), _journal(server)
    before_mb = web.memory_info().rss / 1e6
    address = f"ws{server.address.removeprefix('http')}/_stcore/stream"
    viewers = [Viewer(address, every_s=every_s) for _ in range(count)]
    tasks = [asyncio.create_task(viewer.stay()) for viewer in viewers]
    await _have_charts(viewers)
    await asyncio.sleep(SETTLE_S)
    quiet = sum(v.received + v.sent for v in viewers)
    await asyncio.sleep(QUIET_S)
    quiet = sum(v.received + v.sent for v in viewers) - quiet
    got, cpu, begun = sum(v.received for v in viewers), _cpu_s(web), time.monotonic()
    written: dict[bytes, float] = {}
    for number in range(CHANGES):
        text, at = await asyncio.to_thread(_append, journal, number)
        written[text] = at
        for viewer in viewers:
            viewer.looked_for[text] = at
        await asyncio.sleep(max(0.0, begun + number + 1.0 - time.monotonic()))
    await asyncio.sleep(AFTER_S)
    span = time.monotonic() - begun
    cores = (_cpu_s(web) - cpu) / span
    got = sum(v.received for v in viewers) - got
    mb = (web.memory_info().rss / 1e6 - before_mb) / count
    for task in tasks:
        task.cancel()
    ended = await asyncio.gather(*tasks, return_exceptions=True)
    journal.close()
    broken = [x for x in ended if isinstance(x, Exception)]
    if broken:
        raise broken[0]
    last = max(written, key=lambda text: written[text])
    delays = [at - written[text] for v in viewers for text, at in v.came.items()]
    return Load(
        readers=count, delays_s=delays, missed=count * CHANGES - len(delays),
        late=sum(v.came.get(last, float("inf")) - written[last] > 5.0 for v in viewers),
        cores=cores, mb_each=mb, kb_a_change=got / 1e3 / count / CHANGES,
        quiet_kb=quiet / 1e3 / count * 5.0 / QUIET_S, faults=sum(bool(v.fault) for v in viewers),
    )  # fmt: skip


async def _storm(server: Server) -> float:
    """Return the seconds until the last of fifty who come at once has its chart."""
    address = f"ws{server.address.removeprefix('http')}/_stcore/stream"
    viewers = [Viewer(address) for _ in range(STORM)]
    tasks = [asyncio.create_task(viewer.stay()) for viewer in viewers]
    await _have_charts(viewers)
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    return max(v.first_chart_s if v.first_chart_s is not None else 120.0 for v in viewers)


async def _have_charts(viewers: list[Viewer]) -> None:
    end = time.monotonic() + PATIENCE_S
    while any(v.first_chart_s is None for v in viewers) and time.monotonic() < end:
        await asyncio.sleep(0.2)


def _cpu_s(process: psutil.Process) -> float:
    used = process.cpu_times()
    return float(used.user + used.system)


def _journal(server: Server) -> Journal:
    return open_journal(str(server.folder / "exercise.sqlite"), KINDS)


def _append(journal: Journal, number: int) -> tuple[bytes, float]:
    """Append one ship's position; return the text by which a viewer knows it, and when."""
    now = journal.now() - timedelta(seconds=1)
    payload = {
        "subject": "mmsi:299000900", "latitude_deg": 49.80 + number * 0.001,
        "longitude_deg": -8.40, "speed_kn": 5.0, "course_true_deg": 0.0,
    }  # fmt: skip
    draft = Draft(kind="tracks.position", payload=payload, valid_at=now, heard_at=now,
                  source="bench", identity=form_identity(uuid.uuid4().hex))  # fmt: skip
    done = journal.append(WATCH, [draft])
    return done.records[0].id[:8].encode(), time.monotonic()
