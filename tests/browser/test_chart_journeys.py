"""The chart far and near, at 80° N across the date line, in another frame; deep links to pages."""

from __future__ import annotations

import re
from contextlib import suppress
from pathlib import Path

import pytest
from playwright.sync_api import Error, Page, expect

from dashboard.page_table import TABLE
from layers.scene.ink import NIGHT
from tests.browser.chart import PATIENCE_MS, chart, run
from tests.browser.conftest import Server, Watched, start
from tests.browser.pages import OPENING_MS, at_rest, box, opened, unknown_misses

pytestmark = pytest.mark.browser

IN_SHORT = ("plot", "survivors", "wall")
SETTLES = 20
CENTRE = (
    "() => { const c = map_div.getCenter(); return musterplot.projection.inverse(c.lng, c.lat); }"
)
ACROSS_M = "() => { const b = map_div.getBounds(); return b.getEast() - b.getWest(); }"
DEGREES = "() => [...document.querySelectorAll('.mp-grat')].map(e => e.textContent)"


def reached(page: Page, key: str) -> None:
    """Move the slider of the reach by a key, and wait for the chart that comes of it."""
    before = run(page, "() => musterplot.spec.half_width_m")
    page.get_by_role("slider", name="Reach from the centre (nmi)").press(key)
    for _ in range(120):
        page.wait_for_timeout(500)
        try:
            if run(page, "() => musterplot.spec.half_width_m") != before:
                break
        except Exception:
            continue
    chart(page)
    at_rest(page)
    page.wait_for_timeout(700)


@pytest.mark.long
def test_a_first_coastline_does_not_build_the_chart_anew(on: Watched, tmp_path: Path) -> None:
    """It stands before its coastline is cut; the viewer's pan and zoom outlive its coming."""
    running = start(tmp_path, coast=False)
    try:
        page, built = on.page, []
        page.on("framenavigated", lambda frame: built.append(frame.url))
        opened(on, running)
        run(page, "() => void map_div.setView([9000, -7000], -5, {animate: false})")
        before = run(page, CENTRE)
        expect(chart(page).locator("#map_div")).to_have_attribute(
            "data-land", re.compile(r"^[1-9]"), timeout=PATIENCE_MS
        )
        at_rest(page)
        assert sum("st_folium" in url for url in built) == 1
        assert run(page, CENTRE) == pytest.approx(before, abs=5e-4)  # a pixel is 32 m
    finally:
        running.end()


def test_a_link_holds_where_the_chart_was_moved_to_and_gives_away_no_place(
    on: Watched, server: Server
) -> None:
    page = opened(on, server)
    assert "look=" not in page.url
    home = run(page, CENTRE)
    run(page, "() => void map_div.setView([9000, -7000], -5, {animate: false})")
    expect(page).to_have_url(re.compile(r"[?&]look=-7000,9000,\d+$"), timeout=PATIENCE_MS)
    assert not re.search(r"49[.,]|-?8[.,]5", page.url)
    before, across = run(page, CENTRE), run(page, ACROSS_M)
    assert page.context.browser is not None
    fresh = page.context.browser.new_page
    for link, centre in ((page.url, before), (f"{server.address}/?look=9e9,<b>,0", home)):
        theirs = fresh(viewport=page.viewport_size)  # who was sent the link; the second is forged
        theirs.goto(link)
        chart(theirs)
        assert run(theirs, CENTRE) == pytest.approx(centre, abs=5e-4)  # a pixel is 32 m
        if centre is before:
            assert run(theirs, ACROSS_M) == pytest.approx(across, rel=0.01)
        theirs.close()
    run(page, "() => void map_div.fitBounds([[-25000, -25000], [25000, 25000]], {animate: false})")
    expect(page).not_to_have_url(re.compile("look="), timeout=PATIENCE_MS)


def test_another_frame_keeps_what_is_looked_at(on: Watched, server: Server) -> None:
    page = opened(on, server)
    box(page, "Chart")
    run(page, "() => void map_div.setView([9000, -7000], -5, {animate: false})")
    before = run(page, CENTRE)
    page.get_by_text(re.compile("^Mercator: rhumb")).click()
    expect(page).to_have_url(re.compile("frame=mercator"), timeout=PATIENCE_MS)
    named = "() => window.musterplot && musterplot.spec ? musterplot.spec.frame.name : ''"
    for _ in range(PATIENCE_MS // 500):  # the chart is built anew; its old frame may be gone
        page.wait_for_timeout(500)
        with suppress(Error):
            if run(page, named) == "mercator":
                break
    chart(page)
    assert run(page, "() => musterplot.spec.frame.name") == "mercator"
    # a whole zoom step is kept; the place to some metres, once the chart has its width again
    for _ in range(SETTLES):
        if run(page, CENTRE) == pytest.approx(before, abs=1e-3):
            break
        page.wait_for_timeout(500)
    assert run(page, CENTRE) == pytest.approx(before, abs=1e-3)


CURSOR = """() => { const middle = map_div.getCenter();
  musterplot.cursor({ latlng: middle }); return musterplot.readout.textContent; }"""
SCALE_SAYS = "() => musterplot.scaleBox.textContent"


def test_the_chart_works_from_200_m_to_5000_km_across(on: Watched, server: Server) -> None:
    page = opened(on, server)
    box(page, "Chart")
    reached(page, "Home")
    assert run(page, ACROSS_M) < 1_000
    run(page, "() => void map_div.setZoom(2.25, {animate: false})")  # 4.8 pixels a metre
    assert run(page, ACROSS_M) < 210
    assert len(run(page, DEGREES)) >= 2  # the graticule is still named
    # L23: the cursor is as fine as the scale, 0.001 minute here, and no finer than a pixel far out
    assert re.search(r"\d\.\d{3}′", run(page, CURSOR))
    assert run(page, SCALE_SAYS).endswith(" m")
    reached(page, "End")
    assert re.search(r"\d\.\d′", run(page, CURSOR))
    # L30: where it is true stands beside the bar; how far across in figures that are read out
    assert re.search(r"nmi\s+at \d+°[NS]$", run(page, SCALE_SAYS))
    assert re.fullmatch(r"\d+ nmi across", run(page, "() => musterplot.across.textContent"))
    assert run(page, ACROSS_M) > 5_000_000
    assert len(run(page, DEGREES)) >= 4
    expect(chart(page).locator("#map_div")).to_have_attribute(
        "data-land", re.compile(r"^[1-9]"), timeout=PATIENCE_MS
    )
    assert on.errors == []


def test_the_chart_works_at_80_north_across_the_date_line(on: Watched, server: Server) -> None:
    page = opened(on, server)
    box(page, "Chart")
    page.get_by_label("Centre, empty for the datum").fill("80 00.0N 179 54.0E")
    page.get_by_label("Centre, empty for the datum").press("Tab")
    for _ in range(60):
        page.wait_for_timeout(500)
        try:
            if run(page, "() => musterplot.spec.frame.lat") == pytest.approx(80.0):
                break
        except Exception:
            continue
    page.wait_for_timeout(1_000)
    names = " ".join(run(page, DEGREES))
    assert re.search(r"179°\d*′?\d*E|179°.*E", names)
    assert re.search(r"179°.*W", names)
    assert run(page, CENTRE) == pytest.approx([80.0, 179.9], abs=0.02)
    assert on.errors == []


# each page is opened by its address in `test_accessible` too
LINKED = [
    pytest.param(
        entry, id=entry.address, marks=[] if entry.address in IN_SHORT else pytest.mark.long
    )
    for entry in TABLE
]


@pytest.mark.parametrize("entry", LINKED)
def test_a_link_to_a_page_opens_it_dressed(on: Watched, server: Server, entry) -> None:
    """From a link the page has its banner and style, asks nothing of a network, fails nothing."""
    on.page.goto(f"{server.address}/{entry.address}")
    expect(on.page.get_by_text("SABLE TIDE").first).to_be_visible(timeout=OPENING_MS)
    at_rest(on.page)
    expect(on.page.get_by_text("Page not found")).to_have_count(0)
    ground = on.page.evaluate(
        "() => getComputedStyle(document.querySelector('.stApp')).backgroundColor"
    )
    red, green, blue = (int(NIGHT.page[i : i + 2], 16) for i in (1, 3, 5))
    assert ground == f"rgb({red}, {green}, {blue})"
    assert unknown_misses(on) == []
    assert on.errors == []
