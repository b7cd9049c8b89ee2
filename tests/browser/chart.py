"""Reading the chart in a page: its frame, its marks, its place in metres."""

from __future__ import annotations

import re
from typing import Any

from playwright.sync_api import Error, FrameLocator, Page, expect

from layers.earth.chart.frames import ChartFrame
from layers.earth.position import Position

SOME = re.compile(r"^[1-9]\d*$")
CHART = 'iframe[title="streamlit_folium.st_folium"]'
STANDS = "() => window.musterplot && musterplot.spec && musterplot.marks && window.map_div"
GONE = ("detached", "destroyed", "not defined")  # what is said of a frame that has been replaced
BUILT_ANEW = 5
PATIENCE_MS = 120_000  # a cold server on a busy machine works out the picture first


def chart(page: Page) -> FrameLocator:
    """Return the chart's frame once its marks are drawn."""
    frame = page.frame_locator(CHART)
    expect(frame.locator("#map_div")).to_have_attribute("data-marks", SOME, timeout=PATIENCE_MS)
    return frame


def run(page: Page, script: str, argument: Any = None) -> Any:
    """Run a script in the chart's frame, once it stands; it may just be built anew."""
    for left in reversed(range(BUILT_ANEW)):
        handle = page.wait_for_selector(CHART, timeout=PATIENCE_MS)
        inner = handle.content_frame()
        try:
            if inner is None:
                raise Error("the frame was detached")
            inner.wait_for_function(STANDS, timeout=PATIENCE_MS)
            return inner.evaluate(script, argument)
        except Error as fault:
            if not left or not any(words in str(fault) for words in GONE):
                raise
            page.wait_for_timeout(500)


def pixel_of(page: Page, frame: ChartFrame, place: Position) -> tuple[float, float]:
    """Return where a place is in the page, by the server's own projection."""
    x, y = frame.project([place.latitude_deg], [place.longitude_deg])
    found = run(
        page,
        "([x, y]) => { const p = map_div.latLngToContainerPoint([y, x]); return [p.x, p.y]; }",
        [float(x[0]), float(y[0])],
    )
    box = page.locator(CHART).bounding_box()
    assert box is not None
    return box["x"] + found[0], box["y"] + found[1]
