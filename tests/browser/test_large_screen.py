"""A screen of 3840 pixels is read from where one of 1920 is: all of it twice as large, none cut."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from dashboard.page_table import TABLE
from tests.browser.chart import CHART, chart, run
from tests.browser.conftest import Server
from tests.browser.look import wrong
from tests.browser.pages import OPENING_MS, at_rest

pytestmark = pytest.mark.browser
LARGE, HALF = {"width": 3840, "height": 2160}, {"width": 1920, "height": 1080}
# letters and controls of each page's own, by what they are
SIZES = """() => { const main = document.querySelector(".stMain");
  const at = (all, of) => [...document.querySelectorAll(all)].filter((e) =>
    e.checkVisibility() && e.getBoundingClientRect().width).slice(0, 40).map(of);
  const high = (e) => e.getBoundingClientRect().height;
  const letters = (e) => { const m = e.getScreenCTM && e.getScreenCTM();
    return parseFloat(getComputedStyle(e).fontSize) * (m ? Math.abs(m.d) : 1); };
  return { strip: at(".mp-strip b, .mp-strip small", letters),
    pages: at(".st-key-pages p", letters), buttons: at(".stMain button", high),
    words: at(".mp-panel, .mp-panel b, .mp-quiet, .mp-caution, .stMain label p", letters),
    fields: at(".stMain input[type=text]", high), drawn: at(".stMain svg[role] text", letters) };
}"""
DRAWN_TO_WIDTH = 0.12  # what a drawing made to its column's width may be off by
HELD = 0.03
SETTLED_MS = 2_500


def opened(page: Page, server: Server, address: str, ink: str = "night") -> None:
    page.goto(f"{server.address}/{address}?ink={ink}")
    margin = page.locator("[data-answer='margin']").first
    expect(margin).to_contain_text(" h", timeout=2 * OPENING_MS)
    if address == "plot":
        chart(page)
    at_rest(page)
    page.locator(".st-key-time button", has_text="expected").first.wait_for(timeout=OPENING_MS)
    page.wait_for_timeout(SETTLED_MS)


def _legend(page: Page) -> float:
    """Return how high the chart's legend stands on the screen; its frame may be shown larger."""
    frame = page.locator(CHART).bounding_box()
    assert frame is not None
    inside = run(page, "() => [innerWidth, musterplot.legend.getBoundingClientRect().height]")
    return float(inside[1]) * frame["width"] / float(inside[0])


def _points_where_it_is(page: Page) -> None:
    """Hold that the chart takes the hand to be where it is."""
    frame = page.locator(CHART).bounding_box()
    assert frame is not None
    run(page, "() => void map_div.on('mousemove', (e) => { window.held = e.containerPoint; })")
    page.mouse.move(frame["x"] + frame["width"] / 4, frame["y"] + frame["height"] / 2)
    x, y, wide, high = run(page, "() => [held.x, held.y, innerWidth, innerHeight]")
    assert (x / wide, y / high) == pytest.approx((0.25, 0.5), abs=0.01)


PAGES = [entry.address for entry in TABLE if not entry.bare]
IN_SHORT = ("plot", "survivors", "weather", "brief")


@pytest.mark.parametrize(
    "address", [pytest.param(a, marks=[] if a in IN_SHORT else pytest.mark.long) for a in PAGES]
)
def test_all_is_twice_as_large_and_nothing_is_cut(
    browser: Browser, server: Server, address: str
) -> None:
    found = {}
    for size in (HALF, LARGE):
        page = browser.new_page(viewport=size)
        opened(page, server, address)
        assert wrong(page, ("cut", "overlap", "first screen scrolls")) == {}
        found[size["width"]] = page.evaluate(SIZES)
        if address == "plot":
            found[size["width"]]["chart"] = [_legend(page)]
            _points_where_it_is(page)
        page.close()
    for what, small in found[1920].items():
        large = found[3840][what]
        assert bool(large) == bool(small), what
        off = DRAWN_TO_WIDTH if what == "drawn" else HELD
        # least and largest: an alarm may come between the two looks, with a button of its own
        for of in (min, max):
            assert of(large, default=0.0) == pytest.approx(2.0 * of(small, default=0.0), rel=off)
        assert min(large, default=26.0) >= 25.9, what


@pytest.mark.parametrize("size", [(2560, 1440), (2880, 1620), (3840, 1200)])
def test_between_and_beyond_nothing_is_cut(
    browser: Browser, server: Server, size: tuple[int, int]
) -> None:
    page = browser.new_page(viewport={"width": size[0], "height": size[1]})
    opened(page, server, "plot")
    assert wrong(page, ("cut", "overlap", "first screen scrolls")) == {}
    page.close()
