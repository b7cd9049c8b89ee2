"""The stand-alone map: opened from a file with every network shut, it asks for nothing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from layers.__main__ import main
from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.position import Position
from layers.scene.browser import SCRIPTS, ChartBase, feature_collection
from layers.scene.geojson import geojson
from layers.scene.ink import DAY
from layers.scene.kml import gpx, kml
from layers.scene.page import page as whole_page
from layers.scene.paper.sheet import draw
from layers.scene.paper.words import Sheet
from layers.scene.scene import scene
from tests.unit.test_exports import STAMP, marks

pytestmark = pytest.mark.browser

SHUT = "() => window.hurt === undefined && document.title !== 'hurt'"
RUNS = "<script>window.hurt=1</script><img src=x onerror='window.hurt=1'>"


def test_it_opens_without_a_network_and_runs_nothing_of_a_label(
    browser: Browser, tmp_path: Path
) -> None:
    frame = frame_for(Position(49.8, -8.5), FrameName.RANGE_TRUE, 25_000.0)
    placed = [(name, replace(mark, label=RUNS, tooltip=RUNS + "L" * 10_000))
              for name, mark in marks()]  # fmt: skip
    base = ChartBase(frame=frame, ink=DAY, land_address="", attribution=RUNS)
    scripts = tuple((SCRIPTS / name).read_text() for name in ("projections.js", "chart.js"))
    text = whole_page(base.spec(), feature_collection(scene(placed, frame), DAY), scripts,
                      replace(STAMP, title=RUNS, marking=RUNS))  # fmt: skip
    file = tmp_path / "map.html"
    file.write_text(text)
    context = browser.new_context(offline=True)
    page = context.new_page()
    asked: list[str] = []
    dialogs: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("dialog", lambda dialog: (dialogs.append(dialog.message), dialog.dismiss()))
    page.goto(file.as_uri())
    expect(page.locator("#map_div[data-marks]")).to_be_visible(timeout=60_000)
    page.locator(".mp-mark svg").first.hover(force=True)
    page.wait_for_timeout(500)
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert asked.count(file.as_uri()) == 1
    assert page.evaluate("() => window.hurt === undefined")
    assert dialogs == []
    assert page.locator("img[src=x]").count() == 0
    context.close()


def test_the_exercise_s_map_has_its_small_chart_and_its_marking_on_a_ground(
    browser: Browser, tmp_path: Path
) -> None:
    """What goes to people outside shows the seabed as the room sees it, and its marking reads."""
    file = tmp_path / "map.html"
    words = ["snapshot", "--demo", "--marking", "RESCUE STAFF ONLY", str(file)]
    assert main(words) == 0
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    page.goto(file.as_uri())
    small = page.locator(".mp-inset")
    expect(small).to_be_visible(timeout=60_000)
    for name in ("DISSUB", "TP1", "TP4"):
        expect(small.locator(".mp-label", has_text=name).first).to_be_visible(timeout=60_000)
    head = page.locator("#head")
    expect(head).to_contain_text("RESCUE STAFF ONLY")
    ground = head.evaluate("(e) => getComputedStyle(e).backgroundColor")
    assert ground.startswith("rgb(")  # not see-through
    # who is adrift is beyond the edge: named there, and not under the words on top
    label = page.locator(".mp-edge .mp-label", has_text="escapees")
    expect(label).to_be_visible()
    name, over = label.bounding_box(), head.bounding_box()
    assert name is not None
    assert over is not None
    assert name["y"] >= over["y"] + over["height"] - 1
    for words in ("nmi across", "N"):  # the width and the north are not under it either
        box = page.locator(".leaflet-top .mp-box", has_text=words).first.bounding_box()
        assert box is not None
        assert box["y"] >= over["y"] + over["height"] - 1, words
    page.close()


@pytest.mark.parametrize("form", ["svg", "kml", "gpx", "json"])
def test_an_export_opened_in_a_browser_runs_nothing_of_a_label(
    browser: Browser, tmp_path: Path, form: str
) -> None:
    placed = [(name, replace(mark, label=RUNS, tooltip=RUNS)) for name, mark in marks()]
    stamp = replace(STAMP, title=RUNS, marking=RUNS)
    frame = frame_for(Position(49.8, -8.5), FrameName.RANGE_TRUE, 25_000.0)
    data = {
        "svg": lambda: draw(scene(placed, frame), Sheet(stamp=stamp), DAY, None, "svg"),
        "kml": lambda: kml(placed, stamp, DAY).encode(),
        "gpx": lambda: gpx(placed, stamp).encode(),
        "json": lambda: geojson(placed, stamp).encode(),
    }[form]()
    # as XML, which a browser opens and would run; a KML or GPX name it would only save
    file = tmp_path / f"export.{'xml' if form in ('kml', 'gpx') else form}"
    file.write_bytes(data)
    context = browser.new_context(offline=True)
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(file.as_uri())
    page.wait_for_timeout(500)
    assert page.evaluate(SHUT)
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    hurtful = "script, foreignObject, image[href^=http], [onerror], [onload]"
    assert page.evaluate(f"() => document.querySelectorAll('{hurtful}').length") == 0
    context.close()
