"""How pages look when little is known: nothing told, a first report, refuges half read.

The looks are those of the complete exercise (`tests/browser/look.py`); what is told is typed as it
would be heard, by the command without a screen, into a journal of its own.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from dashboard.page_table import TABLE
from dashboard.panels.plot.nowhere import GOES_THERE, NO_PLACE
from tests.browser.conftest import ROOT, Server, start
from tests.browser.look import wrong
from tests.browser.pages import OPENING_MS, at_rest

pytestmark = pytest.mark.browser
NAME = "NIGHT WATCH"
FIRST = (
    "lkp 4320N 00840E -140 min within 2 nmi", "course 215 speed 6", "52 on board", "sublook",
    "TENACE 4310N 00820E 240/12", "TENACE bearing 060M -20 min",
)  # fmt: skip
REFUGES = (
    *FIRST, "forward 20 people, aft 26", "aft o2 17.5 percent co2 1.9 percent at 1.4 bar abs",
    "wind 310/25 sea 2.8 m 7 s at TENACE", "limit launch 2.5 m",
)  # fmt: skip
READ = (
    *REFUGES, "forward o2 20 percent co2 1.2 percent at 1.1 bar abs", "forward volume 400 m3",
    "aft volume 350 m3", "level co2 6 percent sev", "limit recovery 2.0 m",
)  # fmt: skip
TOLD = {"nothing": (), "first report": FIRST, "refuges": REFUGES, "no stores told": READ}


def hear(journal: Path, *words: str) -> None:
    """Record lines as they are heard; each of them must have become a record."""
    done = subprocess.run(
        [sys.executable, "-m", "layers", "hear", "--into", str(journal), *words],
        cwd=ROOT, check=True, capture_output=True, text=True,
    )  # fmt: skip
    lines = words[2:] if words[0] == "--exercise" else words
    assert done.stdout.count("No. ") >= len(lines), done.stdout


# what lies between looks like its neighbours, and takes minutes
BETWEEN = ("first report", "no stores told")
PARAMS = [pytest.param(t, marks=pytest.mark.long if t in BETWEEN else []) for t in TOLD]


@pytest.fixture(scope="module", params=PARAMS)
def half_told(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Server]:
    folder = tmp_path_factory.mktemp("half")
    journal = folder / "night.sqlite"
    told = TOLD[request.param] or ("note: first call",)  # nothing of it is on the plot
    hear(journal, "--exercise", NAME, *told)
    running = start(folder, "--journal", str(journal))
    try:
        yield running
    finally:
        running.end()


def test_no_page_cuts_a_word_or_scrolls_where_little_is_known(
    browser: Browser, half_told: Server
) -> None:
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    found = {}
    for entry in TABLE:
        page.goto(f"{half_told.address}/{entry.address}")
        expect(page.get_by_text(f"EXERCISE {NAME}").first).to_be_visible(timeout=OPENING_MS)
        expect(page.get_by_text("being worked out")).to_have_count(0, timeout=OPENING_MS)
        at_rest(page)
        if faults := wrong(page):
            found[entry.address] = faults
    page.close()
    assert found == {}


def test_no_chart_of_nowhere_stands_and_the_first_place_shows_by_itself(
    browser: Browser, half_told: Server
) -> None:
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    page.goto(f"{half_told.address}/wall")
    expect(page.get_by_text(f"EXERCISE {NAME}").first).to_be_visible(timeout=OPENING_MS)
    at_rest(page)
    covered = page.get_by_text(NO_PLACE)
    chart = page.frame_locator('iframe[title="streamlit_folium.st_folium"]')
    if "half0" in half_told.folder.name:  # nothing is told
        expect(covered).to_be_visible()
        hear(half_told.folder / "night.sqlite", FIRST[0])
    expect(covered).to_have_count(0, timeout=OPENING_MS)
    expect(chart.get_by_text("43°20′N").first).to_be_visible(timeout=OPENING_MS)
    expect(page.get_by_text(GOES_THERE)).to_have_count(0, timeout=OPENING_MS)
    page.close()
