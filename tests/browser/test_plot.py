"""The plot as the watch meets it: the real command, a real browser, no network."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from layers.earth.chart.frames import ChartFrame, FrameName
from layers.earth.geodesy import between
from layers.earth.position import Position
from tests.browser.chart import CHART, PATIENCE_MS, chart, pixel_of, run
from tests.browser.conftest import Server, Watched
from tests.browser.pages import opened

pytestmark = pytest.mark.browser


def test_the_exercise_is_on_the_plot_with_all_its_layers(on: Watched, server: Server) -> None:
    opened(on, server)
    expect(on.page.get_by_text("EXERCISE SABLE TIDE").first).to_be_visible()
    expect(on.page.locator(".mp-strip [data-answer^='persons']").first).to_be_visible()
    legend = chart(on.page).locator(".mp-legend")
    for words in (
        "DISSUB", "transponder", "ship of the rescue", "port or airfield", "weather station",
        "people",
    ):  # fmt: skip
        # a layer that takes longer comes to the chart when it is worked out
        expect(legend.get_by_text(words, exact=True).first).to_be_attached(timeout=PATIENCE_MS)
    expect(chart(on.page).locator("#map_div")).to_have_attribute(
        "data-land", re.compile(r"^[1-9]"), timeout=PATIENCE_MS
    )
    assert on.failed == []
    assert on.errors == []


@pytest.mark.parametrize("name", [name for name in FrameName if name is not FrameName.POLAR])
def test_each_frame_projects_in_the_browser_as_on_the_server(
    on: Watched, server: Server, name: FrameName
) -> None:
    opened(on, server, f"?frame={name.value}")
    spec = run(on.page, "() => musterplot.spec.frame")
    assert spec["name"] == name.value
    frame = ChartFrame(name, Position(spec["lat"], spec["lon"]))
    for place in (Position(50.3, -7.1), Position(49.1, -9.9), Position(51.7, -5.1)):
        x, y = run(on.page, "([a, o]) => musterplot.projection.forward(a, o)",
                   [place.latitude_deg, place.longitude_deg])  # fmt: skip
        expected = frame.project([place.latitude_deg], [place.longitude_deg])
        # pyproj 3.7.2 (PROJ 9.5.1) is the reference; a centimetre is far below a pixel
        assert (x, y) == pytest.approx((expected[0][0], expected[1][0]), abs=0.01)
        back = run(on.page, "([x, y]) => musterplot.projection.inverse(x, y)", [x, y])
        assert back == pytest.approx([place.latitude_deg, place.longitude_deg], abs=1e-9)


def test_the_polar_frame_projects_as_on_the_server(on: Watched, server: Server) -> None:
    opened(on, server)
    centre = Position(80.0, 170.0)
    frame = ChartFrame(FrameName.POLAR, centre)
    spec = {
        "name": "polar",
        "lat": 80.0,
        "lon": 170.0,
        "meridian": 170.0,
        "lat_ts": 80.0,
        "pole": 1,
    }
    for place in (Position(84.0, -175.0), Position(76.5, 120.0), Position(89.9, 0.0)):
        x, y = run(
            on.page,
            "([spec, a, o]) => musterplot.frame(spec).forward(a, o)",
            [spec, place.latitude_deg, place.longitude_deg],
        )
        expected = frame.project([place.latitude_deg], [place.longitude_deg])
        assert (x, y) == pytest.approx((expected[0][0], expected[1][0]), abs=0.01)


def test_two_clicks_read_the_right_range_and_bearing(on: Watched, server: Server) -> None:
    opened(on, server)
    page = on.page
    page.get_by_text("Measure", exact=True).click()
    page.get_by_text("Click points on the chart").click()
    expect(page.get_by_text("No points yet.")).to_be_visible(timeout=PATIENCE_MS)
    spec = run(page, "() => musterplot.spec.frame")
    frame = ChartFrame(FrameName(spec["name"]), Position(spec["lat"], spec["lon"]))
    start, end = Position(49.72, -8.75), Position(49.93, -8.35)
    for place in (start, end):
        x, y = pixel_of(page, frame, place)
        page.mouse.click(x, y)
        page.wait_for_timeout(1_500)  # the component gathers clicks for a quarter of a second
    expect(page.locator(".mp-panel .mp-big", has_text="°T").first).to_be_visible(
        timeout=PATIENCE_MS
    )
    distance_m, bearing, _ = between(start, end)
    said = page.locator(".mp-panel .mp-big").all_inner_texts()
    shown_bearing = next(float(t.split("°")[0]) for t in said if "°T" in t)
    shown_nmi = next(float(t.split()[0]) for t in said if "nmi" in t)
    # a click is a whole pixel, about 70 m at this scale
    assert shown_nmi == pytest.approx(distance_m / 1852.0, abs=0.12)
    assert shown_bearing == pytest.approx(bearing, abs=0.6)
    # and it stands at the line itself
    labels = run(page, "() => [...document.querySelectorAll('.mp-label')].map(e => e.textContent)")
    assert any(f"{shown_bearing:05.1f}°T" in text for text in labels)


def test_a_record_keeps_pan_and_zoom(on: Watched, server: Server) -> None:
    opened(on, server)
    page = on.page
    run(page, "() => void map_div.setView([3000, -4000], -4.5, {animate: false})")
    before = run(
        page, "() => [map_div.getCenter().lat, map_div.getCenter().lng, map_div.getZoom()]"
    )
    page.get_by_text("Layers", exact=True).click()
    page.wait_for_timeout(500)
    page.get_by_text("Ships and aircraft").click()
    gone = "() => !musterplot.seen.has('other traffic')"
    page.wait_for_selector(CHART).content_frame().wait_for_function(gone, timeout=PATIENCE_MS)
    after = run(page, "() => [map_div.getCenter().lat, map_div.getCenter().lng, map_div.getZoom()]")
    assert after == pytest.approx(before)


def test_going_back_in_time_changes_the_muster_and_says_so(on: Watched, server: Server) -> None:
    at = 1_805_068_800_000_000  # 2027-03-15T00:00Z, before the first lift
    opened(on, server, f"?as_of={at}")
    expect(on.page.locator(".mp-strip .moved", has_text="150000Z")).to_be_visible()
    # before the first lift two are out of the boat, and whoever is not counted is said to be so
    persons = on.page.locator(".mp-strip [data-answer^='persons']")
    expect(persons.filter(has_text=re.compile(r"^2\s*out"))).to_be_visible()
    expect(persons.filter(has_text=re.compile(r"^71\s*POB"))).to_be_visible()
    on.page.get_by_role("button", name="Now", exact=True).click()
    expect(on.page.locator(".mp-strip [data-mode='now']")).to_be_visible(timeout=PATIENCE_MS)
