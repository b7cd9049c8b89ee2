"""From the second Enter in the box of what was heard to the mark on the chart, painted.

The reference is a record of the same kind that another process appends, in the same page and run:
what the second Enter adds to that is reading the line once more and recording it.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import numpy as np
from playwright.sync_api import Page, expect, sync_playwright

from layers.catalogue import KINDS
from layers.journal.store import open_journal
from tests.benchmarks.figure import Figure
from tests.benchmarks.painted import NOTE_RECORDS, RECORDS, Waited, waited
from tests.benchmarks.recording import append
from tests.browser.chart import chart, run
from tests.browser.conftest import ARGUMENTS, chromium, start, wait_for_land

LINES = 20
APART_S = (1.0, 3.0)  # at no fixed step, which would always meet the same moment of a clock
SETTLE_S, WITHIN_S = 8.0, 5.0
WANTED_S = 1.0


def figures() -> list[Figure]:
    """Return how long a heard line takes to its mark, beside a record that is appended."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium(), args=list(ARGUMENTS))
        server = start(Path(folder), "--empty", "--exercise", "TRY")
        journal = open_journal(str(server.folder / "journal.sqlite"), KINDS)
        try:
            wait_for_land(server)
            page = browser.new_page(viewport={"width": 1366, "height": 768})
            page.goto(f"{server.address}/plot")
            expect(page.get_by_label("What was heard")).to_be_visible(timeout=120_000)
            for line in ("lkp 4320N 00840E -30 min within 2 nmi", "new ship TENACE"):
                _enter(page, line)
            chart(page)
            page.wait_for_timeout(SETTLE_S * 1e3)
            run(page, NOTE_RECORDS)
            rng = np.random.default_rng(3)
            typed, appended = {}, {}
            for number in range(LINES):
                north = 43.10 + 0.01 * number
                at = _enter(page, f"TENACE {int(north)}{60 * (north % 1):04.1f}N 00820E")
                page.wait_for_timeout(rng.uniform(*APART_S) * 1e3)
                typed[str(journal.head()[0])] = at
                told = {"subject": "TENACE", "latitude_deg": north, "longitude_deg": 8.4}
                at = time.time()
                appended[str(append(journal, "tracks.position", told).seq)] = at
                page.wait_for_timeout(rng.uniform(*APART_S) * 1e3)
            page.wait_for_timeout(WITHIN_S * 1e3)
            seen = run(page, RECORDS)
        finally:
            journal.close()
            server.end()
            browser.close()
    return [_figure(waited(typed, seen), waited(appended, seen))]


def _enter(page: Page, line: str) -> float:
    """Type a line, read it back, press Enter again; return when that was pressed."""
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("/")
    expect(page.get_by_label("What was heard")).to_be_focused()
    page.keyboard.type(line)
    page.keyboard.press("Enter")
    expect(page.locator(".mp-heard", has_text="Understood:")).to_be_visible(timeout=60_000)
    at = time.time()
    page.keyboard.press("Enter")
    expect(page.get_by_label("What was heard")).to_have_value("", timeout=60_000)
    return at


def _figure(typed: Waited, appended: Waited) -> Figure:
    alone = appended.cut(95)
    note = f"second Enter {typed.words()}, appended {appended.words()}, of {LINES} each"
    return Figure(issue=17, name="from the second Enter to the mark on the chart, p95",
                  ratio=typed.cut(95) / alone, target=WANTED_S / alone, direction="at most",
                  reference="a record appended beside it to its mark, p95", note=note)  # fmt: skip
