"""What the first look at a page costs: bytes over the line until its chart is drawn, kept nothing.

The reference is Streamlit's own hello page in the same browser. Target: what was measured when
this figure was first taken (1.27 and 1.17), with a twentieth for the exercise's hour.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from playwright.sync_api import Browser, CDPSession, Page, sync_playwright

from tests.benchmarks.bench_browser import drawn, hello_page
from tests.benchmarks.figure import Figure
from tests.browser.chart import PATIENCE_MS
from tests.browser.conftest import ARGUMENTS, chromium, start, wait_for_land

AFTER_MS = 4_000  # what still comes once the chart stands
TARGETS = {"plot": 1.33, "wall": 1.23}  # the framework's own page weighs most of it


def figures() -> list[Figure]:
    """Return what plot and wall send to a browser that has kept nothing, against the hello page."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium(), args=list(ARGUMENTS))
        with hello_page() as address:
            hello = _weight(browser, address, "Welcome to Streamlit")
        server = start(Path(folder))
        wait_for_land(server)
        _weight(browser, f"{server.address}/plot")  # the picture is worked out, the letters packed
        found = {name: _weight(browser, f"{server.address}/{name}") for name in TARGETS}
        server.end()
        browser.close()
    return [
        Figure(
            issue=22, name=f"first look at the {name} sends", ratio=found[name] / hello,
            target=target, direction="at most", reference="Streamlit's own hello page",
            note=f"{found[name] / 1000.0:.0f} kB against {hello / 1000.0:.0f} kB, nothing kept",
        )
        for name, target in TARGETS.items()
    ]  # fmt: skip


def _weight(browser: Browser, address: str, words: str = "") -> float:
    """Return the bytes that a page and its socket bring, in a browser that has kept nothing."""
    context = browser.new_context(viewport={"width": 1366, "height": 768})
    page: Page = context.new_page()
    session: CDPSession = context.new_cdp_session(page)
    session.send("Network.enable")
    came: list[float] = []
    session.on("Network.loadingFinished", lambda event: came.append(event["encodedDataLength"]))
    session.on(
        "Network.webSocketFrameReceived",
        lambda event: came.append(len(event["response"]["payloadData"]) * 3 / 4),
    )
    page.goto(address)
    if words:
        page.get_by_text(words).first.wait_for(timeout=PATIENCE_MS)
    else:
        drawn(page)
    page.wait_for_timeout(AFTER_MS)
    context.close()
    return sum(came)
