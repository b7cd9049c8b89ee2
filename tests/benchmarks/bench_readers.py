"""Many readers of one plot: the real command, simulated viewers, one record a second.

``MUSTERPLOT_READERS=10,25`` names how many, one after the other; more readers take more minutes.
One of the readers is a real Chromium, which tells what the drawing adds. Beside it stands the
plain way: every reader has the whole page run anew every five seconds.
"""

from __future__ import annotations

import asyncio
import os
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import psutil
from playwright.async_api import Browser, Frame, async_playwright

from layers.catalogue import KINDS
from layers.journal.store import Journal, open_journal
from tests.benchmarks.figure import Figure
from tests.benchmarks.painted import NOTE_RECORDS, RECORDS, Waited, together, waited
from tests.benchmarks.recording import append_ship
from tests.benchmarks.viewers import BEHIND_A_PROXY, Viewer
from tests.browser.chart import CHART, STANDS
from tests.browser.conftest import ARGUMENTS, Server, chromium, start, wait_for_land

COUNTS = tuple(int(n) for n in os.environ.get("MUSTERPLOT_READERS", "10,25,50,100,200").split(","))
REST_S, SETTLE_S, CHANGES, AFTER_S, QUIET_S = 15.0, 6.0, 15, 10.0, 20.0
STORM = 50
PATIENCE_S = 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What one number of readers cost."""

    readers: int
    message: Waited
    pixel: Waited | None  # of the real one, if there is one
    waiting: tuple[float, int]  # readers whose run is still to come: on average, and the most
    late: int  # readers that were more than 5 s behind with any change
    cores: float
    mb_each: float
    kb_a_change: float
    quiet_kb: float
    faults: int

    def words(self) -> str:
        """Return it in one line."""
        average, most = self.waiting
        pixel = f"to pixel {self.pixel.words()}, " if self.pixel else ""
        return (
            f"{self.readers}: append to message {self.message.words()}, "
            f"{pixel}{self.late} late, {average:.1f} runs queued and {most} at most, "
            f"{self.cores:.2f} core, {self.mb_each:.1f} MB each, "
            f"{self.kb_a_change:.0f} kB a change, quiet {self.quiet_kb:.2f} kB per 5 s, "
            f"{self.faults} faults"
        )


def figures() -> list[Figure]:
    """Return what the most readers cost, each against the issue's own limit."""
    loads = []
    for count in COUNTS:
        with _fresh() as server:
            loads.append(asyncio.run(_load(server, count)))
        print(f"  {loads[-1].words()}", flush=True)
    with _fresh() as server:
        plain = asyncio.run(_cost(server, COUNTS[0], every_s=5.0))
        print(f"  the plain way, {plain.words()}", flush=True)
        storm = asyncio.run(_coming(server, STORM))
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


@contextmanager
def _fresh() -> Iterator[Server]:
    """Give a server of its own, which has had one reader.

    What one load leaves in a process would be there for the next; what the first reader brings
    in is shared by all, and no part of what one more costs.
    """
    with tempfile.TemporaryDirectory() as folder:
        server = start(Path(folder))
        try:
            wait_for_land(server)
            asyncio.run(_coming(server, 1))
            time.sleep(REST_S)
            yield server
        finally:
            server.end()


def _web(server: Server) -> psutil.Process:
    children = psutil.Process(server.process.pid).children(recursive=True)
    return next(child for child in children if "dashboard.server.web" in " ".join(child.cmdline()))


async def _load(server: Server, count: int) -> Load:
    """Return what so many readers cost, the last of them a real Chromium."""
    async with async_playwright() as play:
        browser = await play.chromium.launch(executable_path=chromium(), args=list(ARGUMENTS))
        found = await _cost(server, count, browser=browser)
        await browser.close()
    return found


async def _chart(browser: Browser, server: Server) -> Frame:
    """Open the plot as a reader; return its chart's frame, which notes what it paints."""
    page = await browser.new_page(extra_http_headers=BEHIND_A_PROXY)
    await page.goto(server.address)
    handle = await page.wait_for_selector(CHART, timeout=PATIENCE_S * 1e3)
    frame = await handle.content_frame() if handle is not None else None
    if frame is None:
        raise AssertionError("the page has no chart")
    await frame.wait_for_function(STANDS, timeout=PATIENCE_S * 1e3)
    await frame.evaluate(NOTE_RECORDS)
    return frame


async def _cost(
    server: Server, count: int, *, browser: Browser | None = None, every_s: float | None = None
) -> Load:
    web, journal = _web(server), _journal(server)
    before_mb = _own_mb(web)
    address = f"ws{server.address.removeprefix('http')}/_stcore/stream"
    simulated = count - 1 if browser else count
    viewers = [Viewer(address, every_s=every_s) for _ in range(simulated)]
    tasks = [asyncio.create_task(viewer.stay()) for viewer in viewers]
    await _have_charts(viewers)
    chart = await _chart(browser, server) if browser else None
    await asyncio.sleep(SETTLE_S)
    quiet = sum(v.received + v.sent for v in viewers)
    await asyncio.sleep(QUIET_S)
    quiet = sum(v.received + v.sent for v in viewers) - quiet
    quiet_mb = _own_mb(web)
    got, cpu, begun = sum(v.received for v in viewers), _cpu_s(web), time.monotonic()
    written: dict[bytes, float] = {}
    for number in range(CHANGES):
        text, at = await asyncio.to_thread(_append, journal, number)
        written[text] = at
        for viewer in viewers:
            viewer.looked_for[text] = at
        await asyncio.sleep(max(0.0, begun + number + 1.0 - time.monotonic()))
    await asyncio.sleep(AFTER_S)
    painted = await chart.evaluate(RECORDS) if chart else {}
    span = time.monotonic() - begun
    cores = (_cpu_s(web) - cpu) / span
    got = sum(v.received for v in viewers) - got
    mb = (max(quiet_mb, _own_mb(web)) - before_mb) / count
    for task in tasks:
        task.cancel()
    ended = await asyncio.gather(*tasks, return_exceptions=True)
    journal.close()
    broken = [x for x in ended if isinstance(x, Exception)]
    if broken:
        raise broken[0]
    each = [waited(written, viewer.came) for viewer in viewers]
    ahead_s = time.time() - time.monotonic()
    by_name = {text.decode().split()[-1]: at + ahead_s for text, at in written.items()}
    pixel = waited(by_name, painted) if chart else None
    return Load(
        readers=count, message=together(each), pixel=pixel,
        waiting=queued(written, [viewer.came for viewer in viewers]),
        late=sum(max(one.seconds) > 5.0 for one in (*each, *([pixel] if pixel else []))),
        cores=cores, mb_each=mb, kb_a_change=got / 1e3 / simulated / CHANGES,
        quiet_kb=quiet / 1e3 / simulated * 5.0 / QUIET_S,
        faults=sum(bool(v.fault) for v in viewers),
    )  # fmt: skip


def queued(written: dict[bytes, float], came: list[dict[bytes, float]]) -> tuple[float, int]:
    """Return how many readers were shown less than there was: on average, and the most."""
    edges = []
    for seen in came:
        shown = float("inf")  # the earliest time that this one or a newer one was seen
        until = float("inf")  # where the stretch after this one begins
        for text, at in sorted(written.items(), key=lambda one: -one[1]):
            shown = min(shown, seen.get(text, float("inf")))
            if shown < float("inf"):
                edges += [(at, 1), (min(shown, until), -1)]
            until = at
    if not edges:
        return 0.0, 0
    times, steps = np.array(sorted(edges)).T
    queued = np.cumsum(steps)
    return float(np.sum(queued[:-1] * np.diff(times)) / np.ptp(times)), int(queued.max())


async def _coming(server: Server, count: int) -> float:
    """Return the seconds until the last of those who come at once has its chart."""
    address = f"ws{server.address.removeprefix('http')}/_stcore/stream"
    viewers = [Viewer(address) for _ in range(count)]
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


def _own_mb(process: psutil.Process) -> float:
    """Return the memory that nobody but this process holds."""
    return float(process.memory_full_info().uss) / 1e6


def _cpu_s(process: psutil.Process) -> float:
    used = process.cpu_times()
    return float(used.user + used.system)


def _journal(server: Server) -> Journal:
    return open_journal(str(server.folder / "exercise.sqlite"), KINDS)


def _append(journal: Journal, number: int) -> tuple[bytes, float]:
    """Append one ship's position; return the text by which a viewer knows it, and when."""
    return b"from record %d" % append_ship(journal, number).seq, time.monotonic()
