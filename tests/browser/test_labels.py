"""The words on the chart: none lies on another, none under the furniture, one thing said once."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from layers.earth.chart.frames import FrameName
from tests.browser.chart import chart, run
from tests.browser.conftest import Server, Watched
from tests.browser.pages import opened

pytestmark = pytest.mark.browser
BOXES = """() => {
  const frame = map_div.getContainer().getBoundingClientRect();
  const seen = (e) => { const b = e.getBoundingClientRect(), style = getComputedStyle(e);
    return style.display !== "none" && style.visibility !== "hidden" && b.width > 0 && b.right > 0
      && b.bottom > 0 && b.left < frame.right && b.top < frame.bottom; };
  return [...document.querySelectorAll(".mp-label, .mp-grat, .mp-box, .leaflet-bar")].filter(seen)
    .map((e) => { const b = e.getBoundingClientRect();
      return [(e.closest(".mp-inset") ? "inset " : "") + e.className, e.textContent,
        b.left, b.top, b.right, b.bottom]; }); }"""
ZOOM = "(steps) => void map_div.setZoom(map_div.getZoom() + steps, { animate: false })"
ZOOMS = (-4, 1, 1, 1, 1, 1, 1, 1)  # eight, each from the one before
SETTLED_MS = 500
HALF_A_PIXEL = 0.5


IN_SHORT = (FrameName.RANGE_TRUE, FrameName.MERCATOR)
FRAMES = [
    pytest.param(name.value, marks=[] if name in IN_SHORT else pytest.mark.long)
    for name in FrameName
]


@pytest.mark.parametrize("frame", FRAMES)
def test_no_words_lie_on_each_other(on: Watched, server: Server, frame: str) -> None:
    page = opened(on, server, f"plot?frame={frame}")
    crossed = []
    for number, steps in enumerate(ZOOMS):
        run(page, ZOOM, steps)
        page.wait_for_timeout(SETTLED_MS)
        found = run(page, BOXES)
        assert len(found) > 4
        # the furniture is placed by hand; a word that is no furniture may touch nothing
        words = [box for box in found if "mp-label" in box[0] or "mp-grat" in box[0]]
        other = [box for box in found if box not in words]
        crossed += [
            (number, words[i][1], (words + other)[k][1][:30]) for i, k in _crossing(words, other)
        ]
    assert crossed == []


LEGEND = """() => { const e = musterplot.legend, frame = e.getBoundingClientRect();
  const shown = [...e.querySelectorAll("span")].filter(s => s.getBoundingClientRect().width);
  return { all: e.querySelectorAll("span").length, shown: shown.map(s => s.textContent),
    cut: shown.filter(s => s.getBoundingClientRect().right > frame.right).length,
    more: e.querySelector("button").textContent }; }"""
PLACED = """() => [...document.querySelectorAll(".mp-label")].map(e => e.textContent + " "
  + e.style.transform + (e.classList.contains("hidden") ? " left out" : ""))"""


def test_the_legend_cuts_no_name_and_opening_it_moves_no_label(on: Watched, server: Server) -> None:
    page = opened(on, server)
    shut, placed = run(page, LEGEND), run(page, PLACED)
    assert shut["cut"] == 0
    assert len(set(shut["shown"])) == len(shut["shown"])  # a thing is named once
    # what does not fit in the line is counted, and a press shows it
    left = shut["all"] - len(shut["shown"])
    assert left > 0
    assert shut["more"] == f"{left} more"
    chart(page).locator(".mp-legend button").click()
    whole = run(page, LEGEND)
    assert len(whole["shown"]) == whole["all"]
    assert whole["cut"] == 0
    run(page, "() => void musterplot.declutter()")
    assert run(page, PLACED) == placed


def _crossing(words: list[Any], other: list[Any]) -> list[tuple[int, int]]:
    """Return which words touch a later word, or another box, by more than half a pixel."""
    left, top, right, bottom = (
        np.array([box[side] for box in words + other], dtype=float) for side in range(2, 6)
    )
    n = len(words)
    touch = (
        (left[:n, None] < right - HALF_A_PIXEL)
        & (right[:n, None] > left + HALF_A_PIXEL)
        & (top[:n, None] < bottom - HALF_A_PIXEL)
        & (bottom[:n, None] > top + HALF_A_PIXEL)
    )
    return [(int(i), int(k)) for i, k in np.argwhere(touch) if k > i]


def test_the_dissub_has_one_label_while_her_marks_are_one_place(
    on: Watched, server: Server
) -> None:
    page = opened(on, server)
    run(page, ZOOM, 0)
    page.wait_for_timeout(800)
    great = [b[1] for b in run(page, BOXES) if "r0" in b[0] and "inset" not in b[0]]
    assert great == ["DISSUB"]


EDGES = """() => [...document.querySelectorAll(".mp-edge")].map(e => [e.textContent,
  parseFloat(e.style.left), parseFloat(e.style.top)])"""
PEOPLE = """() => musterplot.marks.filter(m => m.p.y === "people").map(m => {
  const map = musterplot.map, s = map.getSize();
  const q = map.latLngToContainerPoint(m.layer.getLatLng());
  return [q.x, q.y, s.x, s.y]; })"""


def test_people_adrift_are_in_the_first_view_or_named_at_its_edge(
    on: Watched, server: Server
) -> None:
    page = opened(on, server)
    ((x, y, width, height),) = run(page, PEOPLE)
    assert 0 < x < width
    assert 0 < y < height
    assert not [edge for edge in run(page, EDGES) if "escapees" in edge[0]]
    run(page, ZOOM, 4)
    page.wait_for_timeout(500)
    named = [edge for edge in run(page, EDGES) if "escapees" in edge[0]]
    assert len(named) == 1
    ((x, y, width, height),) = run(page, PEOPLE)
    # the arrowhead lies on the way from the middle to where they are
    words, left, top = named[0]
    assert (left - width / 2) * (y - height / 2) == pytest.approx(
        (top - height / 2) * (x - width / 2), rel=0.15
    )
    assert "°T" in words
    assert "nmi" in words


HULL = """() => { const m = musterplot.marks, hull = m.find(k => k.p.k && k.p.f);
  const her = m.find(k => k.p.y === "her").layer.getElement().querySelector("svg");
  const at = hull.layer.getElement().getBoundingClientRect();
  return { shown: hull.layer.getElement().style.display !== "none",
    symbol: getComputedStyle(her).visibility !== "hidden",
    long: Math.hypot(at.width, at.height) * musterplot.metresAPixel }; }"""


def test_near_her_the_hull_to_scale_takes_the_place_of_her_mark(
    on: Watched, server: Server
) -> None:
    page = opened(on, server)
    far = run(page, HULL)
    assert (far["shown"], far["symbol"]) == (False, True)
    run(page, "() => void musterplot.map.setView(musterplot.marks.find(m => m.p.y === 'her')"
        ".layer.getLatLng(), 1.5, { animate: false })")  # fmt: skip
    page.wait_for_timeout(500)
    near = run(page, HULL)
    assert (near["shown"], near["symbol"]) == (True, False)
    # 68 m as told, the box about a line on 200°: its diagonal is hers but for her beam
    assert near["long"] == pytest.approx(68.0, rel=0.12)


NAMES = """() => [...map_div.getContainer().querySelectorAll(".mp-label")]
  .filter(e => !e.closest(".mp-inset") && e.offsetParent && !e.closest(".mp-edge"))
  .map(e => e.textContent).sort()"""


def test_a_name_that_gave_way_is_back_when_there_is_room_again(on: Watched, server: Server) -> None:
    page = opened(on, server)
    page.wait_for_timeout(SETTLED_MS)
    before = run(page, NAMES)
    run(page, ZOOM, -3)  # all lies on one place
    page.wait_for_timeout(SETTLED_MS)
    assert set(before) - set(run(page, NAMES))
    run(page, ZOOM, 3)
    page.wait_for_timeout(SETTLED_MS)
    assert run(page, NAMES) == before


def test_the_support_ship_is_named_before_what_lies_on_the_seabed(
    on: Watched, server: Server
) -> None:
    page = opened(on, server)
    page.wait_for_timeout(SETTLED_MS)
    named = " ".join(run(page, NAMES))
    assert "NORTHERN LANTERN" in named
    assert "escapees" in named
    assert "TP1" not in named  # the inset names them
    inset = [box[1] for box in run(page, BOXES) if box[0].startswith("inset mp-label")]
    # the seats with their depths, whatever else lies there
    assert [name for name in inset if name.startswith("forward ")]
    assert [name for name in inset if name.startswith("after ")]


LEFT_OUT = """() => [document.querySelector(".mp-left-out").textContent,
  [...map_div.getContainer().querySelectorAll(".mp-label.hidden")].filter(e => {
    const q = e.parentNode.getBoundingClientRect();
    const b = map_div.getContainer().getBoundingClientRect();
    const her = [...document.querySelectorAll(".mp-label.r0")].find(k => !k.closest(".mp-inset"));
    const h = her.parentNode.getBoundingClientRect();
    const under = /r[4-7]/.test(e.className) && Math.hypot(q.left - h.left, q.top - h.top) < 12;
    return !e.closest(".mp-inset") && !/r8/.test(e.className) && !under
      && e.parentNode.offsetParent && q.left > b.left && q.left < b.right && q.top > b.top
      && q.top < b.bottom; }).map(e => e.textContent)]"""


def test_names_that_found_no_room_are_counted(on: Watched, server: Server) -> None:
    page = opened(on, server)
    run(page, ZOOM, -3)
    page.wait_for_timeout(SETTLED_MS)
    said, hidden = run(page, LEFT_OUT)
    assert hidden
    assert said == f"{len(hidden)} name{'s' if len(hidden) > 1 else ''} left out"


INSET = """() => { const m = musterplot, q = m.insetMap.latLngToContainerPoint(
  m.marks.find(k => k.p.y === "her").layer.getLatLng()), s = m.insetMap._container;
  return [q.x / s.clientWidth, q.y / s.clientHeight]; }"""


def test_the_inset_keeps_her_in_its_middle_when_the_window_changes(
    on: Watched, server: Server
) -> None:
    page = opened(on, server)
    for width, height in ((1366, 768), (1920, 1080), (1200, 620)):
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(3 * SETTLED_MS)
        assert run(page, INSET) == pytest.approx([0.5, 0.5], abs=0.02), (width, height)
