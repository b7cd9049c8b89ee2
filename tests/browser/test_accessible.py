"""Every page in Chromium: nothing cut, faint, overlapping, unitless or serious to axe.

axe-core 4 comes in the wheel axe-playwright-python; its rules are those of WCAG 2 A and AA.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest
from playwright.sync_api import Browser, expect

from dashboard.page_table import TABLE
from tests.browser.chart import PATIENCE_MS
from tests.browser.conftest import Server
from tests.browser.look import wrong
from tests.browser.pages import OPENING_MS, at_rest

pytestmark = pytest.mark.browser

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text()
HEAVY = ("serious", "critical")
# what others' elements do, which no page of ours can change: rule, part of its markup, why
NOT_OURS: tuple[tuple[str, str, str], ...] = (
    ("scrollable-region-focusable", "<pre", "the code box with a height takes no focus of its own"),
    ("svg-img-alt", "graphics-symbol", "Vega marks whole groups as pictures and names only some"),
)


# by day what stands on every page, and the pages that draw most
BY_DAY = ("plot", "survivors", "watch", "wall")
OPENED = [
    pytest.param(entry.address, ink, marks=pytest.mark.long if late else [])
    for entry in TABLE
    for ink in ("night", "day")
    for late in [ink == "day" and entry.address not in BY_DAY]
]


@pytest.mark.parametrize(("address", "ink"), OPENED)
def test_a_page_has_nothing_serious_of_ours(
    browser: Browser, server: Server, address: str, ink: str
) -> None:
    context = browser.new_context(bypass_csp=True, viewport={"width": 1366, "height": 768})
    page = context.new_page()
    page.goto(f"{server.address}/{address}?ink={ink}")
    expect(page.get_by_text("EXERCISE SABLE TIDE").first).to_be_visible(timeout=2 * PATIENCE_MS)
    # where the margin is not there yet less stands on a page than it must hold
    margin = page.locator("[data-answer='margin']").first
    expect(margin).to_contain_text(" h", timeout=OPENING_MS)
    at_rest(page)
    found = wrong(page)
    assert found == {}
    if (everything := page.get_by_text("Everything", exact=True)).count():
        everything.click()
        at_rest(page)
    page.evaluate(
        "() => document.querySelectorAll('details').forEach((box) => { box.open = true; })"
    )
    page.evaluate(AXE)
    found = page.evaluate("() => axe.run(document, {iframes: false, resultTypes: ['violations']})")
    ours = [said for violation in found["violations"] for said in _ours(violation)]
    context.close()
    assert ours == []


TROUBLE = """() => document.querySelector(".mp-strip").insertAdjacentHTML("afterend",
  `<div class="mp-trouble" role="alert"><b>The disk is nearly full: 12 MB are left where the journal
  lies, and nothing can be recorded when it is full · The feed reader is not running since 0612Z:
  what comes in meanwhile is read when it runs again</b></div>`)"""


def test_a_line_of_trouble_pushes_no_answer_off_a_first_screen(
    browser: Browser, server: Server
) -> None:
    # as the strip writes it (`panels/strip.py`), in its full two lines
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    found = {}
    for entry in TABLE:
        if entry.address == "wall":  # it has its own place for trouble
            continue
        page.goto(f"{server.address}/{entry.address}")
        margin = page.locator("[data-answer='margin']").first
        expect(margin).to_contain_text(" h", timeout=2 * OPENING_MS)
        at_rest(page)
        page.evaluate(TROUBLE)
        if faults := wrong(page, ("cut", "first screen scrolls")):
            found[entry.address] = faults
    page.close()
    assert found == {}


@pytest.mark.parametrize("address", ["plot", "survivors", "lifts"])
def test_a_tablet_cuts_no_word(browser: Browser, server: Server, address: str) -> None:
    page = browser.new_page(viewport={"width": 820, "height": 1180})
    page.goto(f"{server.address}/{address}")
    margin = page.locator("[data-answer='margin']").first
    expect(margin).to_contain_text(" h", timeout=OPENING_MS)
    at_rest(page)
    assert wrong(page, ("cut",)) == {}
    for key, names in (("time", ("Now", "Play", "expected")), ("heard", ("Read back", "Examples"))):
        for name in names:
            button = page.locator(f".st-key-{key} button", has_text=name).first
            shown = button.evaluate(
                "(e) => { const r = e.getBoundingClientRect(), p = e.querySelector('p') || e;"
                " return r.right <= innerWidth && p.scrollWidth <= p.clientWidth + 1; }"
            )
            assert shown, name
    page.close()


def _ours(violation: dict[str, Any]) -> list[str]:
    if violation["impact"] not in HEAVY:
        return []
    told = []
    for node in violation["nodes"]:
        where = f"{node['target']} {node['html']}"
        if not any(violation["id"] == rule and part in where for rule, part, _ in NOT_OURS):
            told.append(f"{violation['id']}: {where[:300]}")
    return told


@pytest.mark.parametrize("address", ["survivors", "weather"])
def test_a_telephone_shrinks_no_drawing_below_what_can_be_read(
    browser: Browser, server: Server, address: str
) -> None:
    # from the sheet of pictures: the muster and the bar of a whole sortie had letters of 5 px
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(f"{server.address}/{address}")
    margin = page.locator("[data-answer='margin']").first
    expect(margin).to_contain_text(" h", timeout=2 * OPENING_MS)
    at_rest(page)
    small = page.evaluate(
        """() => [...document.querySelectorAll(".stMain svg text")].map((t) => {
          const svg = t.ownerSVGElement, m = t.getScreenCTM();
          return [t.textContent, parseFloat(getComputedStyle(t).fontSize) * Math.abs(m.d), svg.id];
        }).filter(([said, px]) => said.trim() && px < 10)"""
    )
    page.close()
    assert small == []
