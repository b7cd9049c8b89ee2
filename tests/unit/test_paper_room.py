"""A sheet of paper does not pile: symbols and names give way by rank, and nobody adrift does.

From the finding: at 15 nmi transponders, weather, vehicle and support ship lay in one heap on her,
the support ship had no name, and the length of a base line stood at a transponder as its name.
"""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest

from layers.contract import Shown
from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.chart.graticule import Extent
from layers.earth.chart.marks import LineMark, PointMark, Style, Symbol
from layers.earth.geodesy import going
from layers.earth.position import Position
from layers.journal.known import Known
from layers.picture import Picture
from layers.scene.ink import DAY
from layers.scene.paper.marks import Strokes, add_glyph
from layers.scene.paper.room import OF_A_STATION, Room, half_size, laid_out
from layers.scene.scene import Scene, scene
from layers.scene.snapshot import datum_of

HER = Position(49.8333, -8.5)
POINTS = 606.0  # of the chart's width on A4


def point(key: str, off_m: float = 0.0, bearing: float = 0.0, **more: object) -> PointMark:
    told: dict[str, object] = {
        "style": Style.SHIP, "tooltip": key, "source": "", "label": key, "rank": 5,
    }  # fmt: skip
    return PointMark(key=key, position=going(HER, bearing, off_m), **(told | more))  # type: ignore[arg-type]  # fields by their names


DISSUB = point("DISSUB", style=Style.DISSUB, symbol=Symbol.FIX, rank=0)
SUPPORT = point("LANTERN", 370.0, 340.0, symbol=Symbol.SUPPORT_SHIP, heading_true_deg=320.0, rank=1)
NET = [point(f"TP{n}", 300.0, 90.0 * n, style=Style.TRANSPONDER, symbol=Symbol.DIAMOND, rank=2)
       for n in range(4)]  # fmt: skip


def room(*marks: PointMark | LineMark, nmi: float = 15.0) -> Room:
    frame = frame_for(HER, FrameName.RANGE_TRUE, nmi * 1852.0)
    return of(scene([("a", mark) for mark in marks], frame))


def of(drawn: Scene) -> Room:
    half = drawn.frame.half_width_m
    extent = Extent(x_min=-half, y_min=-0.8 * half, x_max=half, y_max=0.8 * half)
    return laid_out(drawn, extent, 2.0 * half / POINTS)


def test_what_would_lie_on_her_gives_way_and_is_counted() -> None:
    far = room(DISSUB, SUPPORT, *NET)
    assert [item.mark.key for item in far.symbols] == ["DISSUB"]
    assert far.gave_way == 5
    near = room(DISSUB, SUPPORT, *NET, nmi=0.4)
    assert len(near.symbols) == 6
    assert near.gave_way == 0


def test_the_support_ship_is_named_though_she_lies_at_the_dissub() -> None:
    named = {name.text for name in room(DISSUB, SUPPORT, *NET).names}
    assert {"DISSUB", "LANTERN"} <= named


def test_people_adrift_never_give_way() -> None:
    people = point("two", style=Style.PEOPLE, symbol=Symbol.PEOPLE, number=2, rank=5)
    assert "two" in [item.mark.key for item in room(DISSUB, people).symbols]


def test_who_is_beyond_the_edge_is_told_there_with_bearing_and_distance() -> None:
    people = point("two escapees", 22.0 * 1852.0, 42.0, style=Style.PEOPLE, symbol=Symbol.PEOPLE,
                   number=2, rank=1)  # fmt: skip
    found = room(DISSUB, people)
    assert [name.text for name in found.names] == ["2 adrift 042°T 22.0 nmi", "DISSUB"]
    (edge,) = found.beyond
    # straight up the sheet is 0: the arrow points to where they are
    assert math.degrees(math.atan2(edge.x, edge.y)) == pytest.approx(42.0, abs=0.5)
    assert edge.turn_deg == pytest.approx(42.0, abs=0.5)


def test_the_name_of_a_line_stands_at_its_middle_and_not_at_one_of_its_ends() -> None:
    ends = [going(HER, 270.0, 2_000.0), going(HER, 90.0, 6_000.0)]
    base = LineMark(
        key="base", style=Style.TRANSPONDER, tooltip="", source="", label="8,000",
        latitudes_deg=np.array([p.latitude_deg for p in ends]),
        longitudes_deg=np.array([p.longitude_deg for p in ends]),
    )  # fmt: skip
    (name,) = room(base).names
    metres_a_point = 2.0 * 15.0 * 1852.0 / POINTS
    assert name.x * metres_a_point == pytest.approx(2_000.0, abs=600.0)


def test_her_disc_is_her_own_colour_in_an_outline() -> None:
    strokes = Strokes(1.0)
    add_glyph(strokes, DISSUB, (0.0, 0.0), 0.0, 5.0, DAY)
    assert set(strokes.edges) == {DAY.ink}
    assert DAY.plate in strokes.faces  # by day yellow is a fill, never a line


@pytest.mark.parametrize("nmi", [0.2, 0.4, 1.0, 2.0, 5.0, 15.0, 60.0, 300.0])
@pytest.mark.parametrize("name", [FrameName.RANGE_TRUE, FrameName.MERCATOR, FrameName.UTM])
def test_nothing_lies_on_anything_at_eight_scales(
    demo: tuple[Picture, Known], name: FrameName, nmi: float
) -> None:
    marks = [
        (key, mark) for key, shown in demo[0].layers.items()
        if isinstance(shown, Shown) for mark in shown.marks
    ]  # fmt: skip
    assert len(marks) > 20
    found = of(scene(marks, frame_for(datum_of(demo[0]), name, nmi * 1852.0)))
    for one, other in combinations([said.box for said in found.names], 2):
        across = min(one[2], other[2]) - max(one[0], other[0])
        assert across <= 0 or min(one[3], other[3]) - max(one[1], other[1]) <= 0
    per = 2.0 * nmi * 1852.0 / POINTS
    for a, b in combinations(found.symbols, 2):
        off = math.hypot(a.x_m - b.x_m, a.y_m - b.y_m) / per
        apart = off >= 0.79 * (half_size(a) + half_size(b))
        always = Symbol.PEOPLE in (a.mark.symbol, b.mark.symbol)
        station = a.mark.symbol in OF_A_STATION and b.mark.symbol in OF_A_STATION
        assert apart or always or (station and off < 0.5), (a.mark.key, b.mark.key)
