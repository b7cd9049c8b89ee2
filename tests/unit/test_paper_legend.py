"""The sheet of paper: symbols in its legend, depths quieter than tracks, positions as elsewhere."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.chart.marks import LineMark, PointMark, Style, Symbol
from layers.earth.position import Position
from layers.scene.ink import DAY
from layers.scene.paper.sheet import draw
from layers.scene.paper.words import Sheet
from layers.scene.scene import STYLE_WORDS, scene
from tests.unit.test_exports import STAMP

HER = Position(49.8, -8.5)


def point(style: str, symbol: Symbol, north_deg: float) -> PointMark:
    return PointMark(key=f"{style}", style=style, symbol=symbol, tooltip="", source="", rank=2,
                     position=Position(49.8 + north_deg, -8.5))  # fmt: skip


def line(style: str) -> LineMark:
    return LineMark(key=f"line {style}", style=style, tooltip="", source="", width=1,
                    latitudes_deg=np.array([49.7, 49.9]),
                    longitudes_deg=np.array([-8.6, -8.4]))  # fmt: skip


def sheet(*marks: PointMark | LineMark) -> str:
    frame = frame_for(HER, FrameName.RANGE_TRUE, 25_000.0)
    placed = scene([("tracks", mark) for mark in marks], frame)
    return draw(placed, Sheet(stamp=STAMP), DAY, None, "svg").decode()


def drawn(svg: str) -> int:
    """Count the strokes on a sheet."""
    return len(re.findall(r"<(?:use|path) ", svg))


def test_each_name_in_the_legend_stands_behind_its_own_symbol() -> None:
    ship, buoy = point(Style.SHIP, Symbol.FIX, 0.0), point(Style.STATION, Symbol.TRIANGLE, 0.1)
    one, both = sheet(ship), sheet(ship, buoy)
    assert STYLE_WORDS[Style.SHIP] in one
    assert STYLE_WORDS[Style.STATION] not in one
    assert STYLE_WORDS[Style.STATION] in both
    # the symbol is there twice: on the chart, and in the legend
    assert drawn(both) >= drawn(one) + 2
    away = replace(buoy, position=Position(51.5, -8.5))  # not on the sheet: not in the legend
    assert STYLE_WORDS[Style.STATION] not in sheet(ship, away)


def test_a_depth_line_is_never_drawn_as_a_track() -> None:
    depth, track = sheet(line(Style.SEABED)), sheet(line(Style.TRAFFIC))
    assert DAY.contour in depth
    assert f"stroke: {DAY.of(Style.SEABED)}; stroke-width: 0.7" not in depth
    widths = [
        float(w) for w in re.findall(rf"stroke: {DAY.contour}; stroke-width: ([\d.]+)", depth)
    ]
    tracks = re.findall(rf"stroke: {DAY.of(Style.TRAFFIC)}; stroke-width: ([\d.]+)", track)
    assert widths
    assert max(widths) < min(float(w) for w in tracks)


def test_longitudes_have_three_figures_as_on_the_screen() -> None:
    svg = sheet(point(Style.SHIP, Symbol.FIX, 0.0))
    assert "008°30′W" in svg
    assert not re.search(r">8°\d", svg)
