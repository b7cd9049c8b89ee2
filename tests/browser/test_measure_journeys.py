"""Measuring on the plot as the watch does it: a mark, typed positions, EBL, VRM, a route."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from layers.catalogue import KINDS
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.journal.known import Known
from layers.journal.store import open_journal
from tests.browser.chart import CHART, PATIENCE_MS, run
from tests.browser.conftest import Server, Watched
from tests.browser.pages import at_rest, box, opened

pytestmark = pytest.mark.browser
MARK = """() => { const m = musterplot.marks.find(m => m.layer.getLatLng && (m.p.l || "").startsWith("SALTMARSH"));
  const at = m.layer.getLatLng(), p = map_div.latLngToContainerPoint(at); return [p.x, p.y, at.lng, at.lat]; }"""  # noqa: E501  one script


def typed(page: Page, text: str) -> None:
    field = page.get_by_label("Position", exact=True).first
    field.fill(text)
    page.get_by_role("button", name="Add this point").click()
    at_rest(page)


def labels(page: Page) -> list[str]:
    found = run(page, "() => [...document.querySelectorAll('.mp-label')].map(e => e.textContent)")
    return [str(each) for each in found]


def test_a_click_near_a_mark_measures_from_the_mark_itself(on: Watched, server: Server) -> None:
    page = opened(on, server)
    box(page, "Measure")
    page.get_by_text("Click points on the chart").click()
    expect(page.get_by_text("No points yet.")).to_be_visible(timeout=PATIENCE_MS)
    x, y, east_m, north_m = run(page, MARK)
    held = page.locator(CHART).bounding_box()
    assert held is not None
    page.mouse.click(held["x"] + x + 4, held["y"] + y + 3)  # a finger is not exact
    expect(page.get_by_text("One point.")).to_be_visible(timeout=PATIENCE_MS)
    page.wait_for_timeout(500)
    anchor = run(page, "() => musterplot.anchor")
    # places are sent to a tenth of a metre; five pixels would be some 200 m
    assert (anchor[1], anchor[0]) == pytest.approx((east_m, north_m), abs=0.3)
    assert on.errors == []


def test_typed_positions_are_measured_and_a_wrong_one_is_said(on: Watched, server: Server) -> None:
    page = opened(on, server)
    box(page, "Measure")
    typed(page, "49 60.0N 008 30.0W")
    expect(page.get_by_role("alert").filter(has_text="60")).to_be_visible(timeout=PATIENCE_MS)
    assert page.get_by_label("Position", exact=True).first.input_value() == "49 60.0N 008 30.0W"
    typed(page, "49 50.0N 008 30.0W")
    expect(page.get_by_text("One point.")).to_be_visible(timeout=PATIENCE_MS)
    typed(page, "50 10.0N 008 30.0W")
    # WGS 84 geodesic by GeographicLib through pyproj
    metres, _, _ = between(Position(49 + 50 / 60, -8.5), Position(50 + 10 / 60, -8.5))
    said = page.locator(".mp-panel .mp-big").filter(has_text=f"{metres / 1852:.2f} nmi")
    expect(said).to_be_visible(timeout=PATIENCE_MS)
    expect(page.locator(".mp-panel .mp-big").filter(has_text="000.0°T")).to_be_visible()


def test_a_bearing_line_and_a_ring_stand_on_the_chart(on: Watched, server: Server) -> None:
    page = opened(on, server)
    box(page, "Measure")
    page.get_by_text("Bearing line and range ring (EBL, VRM)").click()
    bearing, reach = (
        page.get_by_label("Bearing", exact=True),
        page.get_by_label("Range", exact=True),
    )
    lay = page.get_by_role("button", name="Lay it off")
    bearing.fill("065")
    reach.fill("12nmi")
    lay.click()
    # a bearing that does not say true, magnetic, grid or relative is no bearing
    expect(page.get_by_role("alert").filter(has_text="065")).to_be_visible(timeout=PATIENCE_MS)
    bearing.fill("065T")
    lay.click()
    at_rest(page)
    bearing.fill("")
    reach.fill("5nmi")
    lay.click()
    at_rest(page)
    for _ in range(40):  # of a machine that may be busy
        page.wait_for_timeout(1_500)
        found = labels(page)
        if any(text.startswith("ring 5") for text in found):
            break
    assert any(text.startswith("065.0°T") and "12" in text for text in found)
    assert any(text.startswith("ring 5") for text in found)


def test_measured_points_become_a_route_unless_they_cross_land(on: Watched, server: Server) -> None:
    page = opened(on, server)
    box(page, "Measure")
    typed(page, "49 50.0N 008 30.0W")
    expect(page.get_by_text("One point.")).to_be_visible(timeout=PATIENCE_MS)
    typed(page, "53 00.0N 008 00.0W")  # inland
    name = page.get_by_label("Name of the route")
    name.fill("over the hills")
    page.get_by_role("button", name="Record these points as a route").click()
    expect(page.get_by_role("alert").filter(has_text="on land")).to_be_visible(timeout=PATIENCE_MS)
    assert name.input_value() == "over the hills"
    page.get_by_role("button", name="Clear what was measured").click()
    expect(page.get_by_text("No points yet.")).to_be_visible(timeout=PATIENCE_MS)
    typed(page, "49 50.0N 008 30.0W")
    expect(page.get_by_text("One point.")).to_be_visible(timeout=PATIENCE_MS)
    typed(page, "50 20.0N 008 10.0W")
    page.get_by_label("Name of the route").fill("to the north")
    page.get_by_role("button", name="Record these points as a route").click()
    expect(page.get_by_text(re.compile("Recorded: route to the north, 2 waypoints"))).to_be_visible(
        timeout=PATIENCE_MS
    )
    journal = open_journal(server.folder / "exercise.sqlite", KINDS)
    routes = Known(journal, KINDS, journal.head()[0], journal.now()).entries("tracks.route")
    kept = [entry.value for entry in routes if entry.value.name == "to the north"]
    journal.close()
    assert [len(route.waypoints) for route in kept] == [2]
    assert all(entry.value.name != "over the hills" for entry in routes)
