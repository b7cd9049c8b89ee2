"""What a viewer waits for and is sent: the real command in a real Chromium on this machine."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.request import urlopen

from playwright.sync_api import Browser, CDPSession, Page, sync_playwright

from tests.benchmarks.figure import Figure
from tests.browser.chart import CHART, PATIENCE_MS
from tests.browser.conftest import ARGUMENTS, chromium, free_port, start, wait_for_land

RUNS = 3
QUIET_S = 20.0


def figures() -> list[Figure]:
    """Return start to first map against Streamlit's hello page, and what a quiet refresh sends."""
    # nobody who starts it as the README says has this: what Python compiles is kept there
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium(), args=list(ARGUMENTS))
        hello = min(_hello(browser) for _ in range(RUNS))
        server = start(Path(folder))
        wait_for_land(server)
        _first_map(browser, server.address)  # the picture and the coast of the frame are kept now
        server.end()
        maps = []
        for _ in range(RUNS):
            begun = time.perf_counter()
            server = start(Path(folder))
            _first_map(browser, server.address)
            maps.append(time.perf_counter() - begun)
            if len(maps) < RUNS:
                server.end()
        server.end()
        for kept in Path(folder).glob("incidents/*/cache"):
            shutil.rmtree(kept)
        begun = time.perf_counter()
        server = start(Path(folder))
        _first_map(browser, server.address)
        anew = time.perf_counter() - begun
        quiet = _quiet(browser, server.address)
        server.end()
        browser.close()
    return [
        Figure(
            issue=2, name="start to first map drawn", ratio=min(maps) / hello, target=3.0,
            direction="at most", reference="Streamlit's own hello page to its first paint",
            note=f"{min(maps):.1f} s against {hello:.1f} s; best of {RUNS}",
        ),
        Figure(
            issue=23, name="second start to the last picture", ratio=min(maps) / hello, target=1.2,
            direction="at most", reference="Streamlit's own hello page to its first paint",
            note=f"{min(maps):.1f} s against {hello:.1f} s; best of {RUNS}",
        ),
        Figure(
            issue=23, name="start to first map, no picture kept", ratio=anew / hello, target=1.6,
            direction="at most", reference="Streamlit's own hello page to its first paint",
            note=f"{anew:.1f} s against {hello:.1f} s; once",
        ),
        Figure(
            issue=2, name="a refresh in which nothing changed sends", ratio=quiet[0] / 1000.0,
            target=5.0, direction="at most", reference="1 kB", unit="kB",
            note=f"the largest of the answers within {QUIET_S:.0f} s",
        ),
        Figure(
            issue=7, name="a quiet reader costs in 5 s", ratio=quiet[1] / 1000.0, target=2.0,
            direction="at most", reference="1 kB", unit="kB",
            note="both ways over the socket",
        ),
    ]  # fmt: skip


@contextmanager
def hello_page() -> Iterator[str]:
    """Give the address of Streamlit's own hello page, once it answers."""
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, "-m", "streamlit", "hello", "--server.headless=true",
         f"--server.port={port}", "--server.address=127.0.0.1",
         "--browser.gatherUsageStats=false"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        answering(f"http://127.0.0.1:{port}")
        yield f"http://127.0.0.1:{port}/"
    finally:
        process.terminate()
        process.wait(10)


def _hello(browser: Browser) -> float:
    begun = time.perf_counter()
    with hello_page() as address:
        page = browser.new_page()
        page.goto(address)
        page.get_by_text("Welcome to Streamlit").first.wait_for(timeout=PATIENCE_MS)
        taken = time.perf_counter() - begun
        page.close()
    return taken


def answering(address: str) -> None:
    """Wait until a server answers."""
    for _ in range(600):
        try:
            with urlopen(f"{address}/_stcore/health", timeout=1.0):
                return
        except OSError:
            time.sleep(0.05)
    raise RuntimeError(f"no answer from {address}")


def _first_map(browser: Browser, address: str) -> None:
    page = browser.new_page()
    page.goto(address)
    drawn(page)
    page.close()


def drawn(page: Page) -> None:
    """Wait until a page's chart stands with its marks."""
    frame = page.frame_locator(CHART)
    frame.locator("#map_div[data-marks]").wait_for(timeout=PATIENCE_MS)
    marks = frame.locator("#map_div").get_attribute("data-marks")
    assert re.match(r"^[1-9]", marks or ""), marks


def _quiet(browser: Browser, address: str) -> tuple[float, float]:
    """Return the largest answer in bytes, and bytes a 5 s both ways, while nothing changes."""
    page = browser.new_page()
    page.goto(address)
    drawn(page)
    page.wait_for_timeout(5_000)  # what came with the first paint
    session: CDPSession = page.context.new_cdp_session(page)
    session.send("Network.enable")
    received: list[int] = []
    sent: list[int] = []
    session.on(
        "Network.webSocketFrameReceived",
        lambda event: received.append(len(event["response"]["payloadData"]) * 3 // 4),
    )
    session.on(
        "Network.webSocketFrameSent",
        lambda event: sent.append(len(event["response"]["payloadData"]) * 3 // 4),
    )
    page.wait_for_timeout(QUIET_S * 1000.0)
    page.close()
    # whole seconds past the minute redraw everything: that is a change of the time shown
    largest = sorted(received)[-2] if len(received) > 4 else max(received, default=0)
    return float(largest), (sum(received) + sum(sent)) * 5.0 / QUIET_S
