"""What changed, swapped into open pages: many readers' sockets, five of them real pages.

``MUSTERPLOT_SOCKETS=100,1000`` names how many readers ask over our own socket. Each simulated one
asks as a page does, with a token and a browser of its own; its page's first run is not in it, and
it draws nothing. `bench_readers` is the way beside it: each reader's page run anew.
"""

from __future__ import annotations

import asyncio
import gzip
import json
import os
import re
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psutil
import websockets
from playwright.async_api import BrowserContext, Frame, async_playwright

from dashboard.chart.chart_view import ChartView
from dashboard.door.browser import COOKIE
from dashboard.live.token import Bearer, Eyes, browser_key, made
from layers.catalogue import KINDS
from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.position import Position
from layers.journal.store import open_journal
from tests.benchmarks.bench_readers import _cpu_s, _own_mb, _web
from tests.benchmarks.figure import Figure
from tests.benchmarks.painted import NOTE_RECORDS, RECORDS, Waited, together, waited
from tests.benchmarks.recording import append_ship
from tests.benchmarks.viewers import BEHIND_A_PROXY
from tests.browser.chart import CHART, STANDS
from tests.browser.conftest import ARGUMENTS, Server, chromium, start, wait_for_land

COUNTS = tuple(int(n) for n in os.environ.get("MUSTERPLOT_SOCKETS", "100,1000").split(","))
PAGES = int(os.environ.get("MUSTERPLOT_PAGES", "5"))  # none: what they wait for is not measured
CHANGES, AFTER_S, PATIENCE_S = 20, 8.0, 240.0
NAMES = ("strip", "five_lines", "clocks.small", "chart")
VIEW = ChartView(frame=frame_for(Position(49.5, -9.0), FrameName.RANGE_TRUE, 25_000.0)).words()
UNPACKED: dict[bytes, tuple[dict[str, str], list[int], frozenset[str]]] = {}  # one for all


@dataclass
class Asker:
    """One reader's socket: what it has, and when it came."""

    address: str
    release: str
    number: int
    received: int = 0
    came: dict[str, float] = field(default_factory=dict)
    looked_for: dict[str, float] = field(default_factory=dict)
    ready: bool = False
    fault: str = ""

    async def stay(self) -> None:
        """Ask until cancelled."""
        cookie = f"{self.number:032x}"
        eyes = Eyes(self.release, writable=False, wall=False, ink="night", chart=VIEW)
        token = made(eyes, Bearer(browser_key(cookie)))
        have, since = dict.fromkeys(NAMES, ""), [0, 0]
        headers = {"X-Forwarded-For": f"192.0.2.{self.number}", "Cookie": f"{COOKIE}={cookie}"}
        try:
            async with websockets.connect(
                self.address, additional_headers=headers, compression=None, open_timeout=60
            ) as link:
                while True:
                    await link.send(json.dumps({"token": token, "since": since, "have": have}))
                    said = await link.recv()
                    if isinstance(said, str):
                        token = json.loads(said).get("token", token)
                        continue
                    now = time.monotonic()
                    known, since, cited = _unpacked(said)
                    have = {**have, **known}
                    if self.ready:
                        self.received += len(said)
                    self.ready = True
                    for one in (self.looked_for.keys() & cited) - self.came.keys():
                        self.came[one] = now
        except (OSError, websockets.WebSocketException) as fault:
            self.fault = str(fault)[:100] or type(fault).__name__


def _unpacked(said: bytes) -> tuple[dict[str, str], list[int], frozenset[str]]:
    """Return what is made, its version, and the numbers of the records that its words cite."""
    if said not in UNPACKED:
        text = gzip.decompress(said).decode()
        told = json.loads(text)
        cited = re.findall(r"\brecords? (\d+(?:, \d+)*)", text)
        numbers = frozenset(number for each in cited for number in each.split(", "))
        UNPACKED[said] = (told["made"], told["v"], numbers)
    return UNPACKED[said]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What so many sockets cost and how long their readers waited."""

    readers: int
    message: Waited
    pixel: Waited | None
    cores: float
    kb: float
    mb_each: float
    faults: int

    def words(self) -> str:
        """Return it in one line."""
        pixel = f"to pixel {_two(self.pixel)}, " if self.pixel else ""
        return (
            f"{self.readers} sockets and {PAGES} pages: to message {_two(self.message)}, "
            f"{pixel}{self.cores:.2f} core, {self.kb:.1f} kB a change, "
            f"{1e3 * self.mb_each:.0f} kB of memory each, {self.faults} faults, "
            f"load {os.getloadavg()[0]:.0f}"
        )


def _two(found: Waited) -> str:
    return f"p50 {found.cut(50):.2f} s p95 {found.cut(95):.2f} s most {found.cut(100):.2f} s"


def figures() -> list[Figure]:
    """Return what many sockets cost and how long it took to the pixel of real pages."""
    found = []
    for count in COUNTS:
        with tempfile.TemporaryDirectory() as folder:
            os.environ["MUSTERPLOT_DATA_FOLDER"] = folder  # the tokens are signed with its key
            server = start(Path(folder))
            try:
                wait_for_land(server)
                found.append(asyncio.run(_measured(server, count)))
            finally:
                server.end()
        print(f"  {found[-1].words()}", flush=True)
    return [one for each in found for one in _figures(each)]


def _figures(one: Measured) -> list[Figure]:
    n, many = one.readers, one.readers > 100
    bound = 0.8 if many else 0.5
    waits = {"message": one.message, **({"pixel": one.pixel} if one.pixel else {})}
    wanted = (
        *((f"{n} readers, p95 to {to}", each.cut(95), bound, "1 s", "s")
          for to, each in waits.items()),
        (f"{n} sockets, web process", one.cores, 0.4 if many else 0.1, "one core", "cores"),
        (f"message a reader of {n} and change", one.kb, 3.0, "1 kB", "kB"),
        (f"a socket's memory of {n}", one.mb_each, 1.0, "1 MB", "MB"),
    )  # fmt: skip
    return [
        Figure(issue=23, name=name, ratio=float(ratio), target=target, direction="at most",
               reference=reference, unit=unit, note=one.words())
        for name, ratio, target, reference, unit in wanted
    ]  # fmt: skip


async def _page(context: BrowserContext, server: Server) -> Frame:
    page = await context.new_page()
    await page.goto(server.address)
    handle = await page.wait_for_selector(CHART, timeout=PATIENCE_S * 1e3)
    frame = await handle.content_frame() if handle is not None else None
    if frame is None:
        raise AssertionError("the page has no chart")
    await frame.wait_for_function(STANDS, timeout=PATIENCE_S * 1e3)
    await frame.evaluate(NOTE_RECORDS)
    return frame


async def _measured(server: Server, count: int) -> Measured:
    async with async_playwright() as play:
        browser = await play.chromium.launch(executable_path=chromium(), args=list(ARGUMENTS))
        frames = []
        for _ in range(PAGES):  # each in a browser window of its own, or its frames are held back
            context = await browser.new_context(extra_http_headers=BEHIND_A_PROXY)
            frames.append(await _page(context, server))
        web, address = _web(server), f"ws{server.address.removeprefix('http')}/changes"
        before_mb = _own_mb(web)
        release = await asyncio.to_thread(_readers_release, server)
        askers = [Asker(address, release, number) for number in range(count)]
        tasks = []
        for asker in askers:
            tasks.append(asyncio.create_task(asker.stay()))
            await asyncio.sleep(0.02)
        end = time.monotonic() + PATIENCE_S
        while not all(a.ready or a.fault for a in askers) and time.monotonic() < end:
            await asyncio.sleep(0.5)
        await asyncio.sleep(10.0)  # the pages' last runs
        mb = (_own_mb(web) - before_mb) / count
        found = await _changes(server, web, askers, frames)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        await browser.close()
    faults = sum(bool(a.fault) for a in askers)
    return Measured(readers=count, mb_each=mb, faults=faults, **found)


async def _changes(
    server: Server, web: psutil.Process, askers: list[Asker], frames: list[Frame]
) -> dict[str, Any]:
    journal = open_journal(str(server.folder / "exercise.sqlite"), KINDS)
    cpu, begun, written = _cpu_s(web), time.monotonic(), {}
    for asker in askers:
        asker.received = 0
    for number in range(CHANGES):
        record = await asyncio.to_thread(append_ship, journal, number)
        name = str(record.seq)
        written[name] = time.monotonic()
        for asker in askers:
            asker.looked_for[name] = written[name]
        await asyncio.sleep(max(0.0, begun + number + 1.0 - time.monotonic()))
    await asyncio.sleep(AFTER_S)
    cores = (_cpu_s(web) - cpu) / (time.monotonic() - begun)
    journal.close()
    ahead_s = time.time() - time.monotonic()
    by_name = {name: at + ahead_s for name, at in written.items()}
    painted = [waited(by_name, await frame.evaluate(RECORDS)) for frame in frames]
    return {
        "message": together(waited(written, asker.came) for asker in askers),
        "pixel": together(painted) if painted else None,
        "cores": cores,
        "kb": sum(a.received for a in askers) / 1e3 / len(askers) / CHANGES,
    }


def _readers_release(server: Server) -> str:
    """Return the key of what readers may see there."""
    from dashboard.cache import opened
    from dashboard.view import released_to

    os.environ["MUSTERPLOT_DATABASE_URL"] = str(server.folder / "exercise.sqlite")
    try:
        return opened.key_of(released_to("readers"))
    finally:
        del os.environ["MUSTERPLOT_DATABASE_URL"]
