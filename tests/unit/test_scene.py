"""Projecting marks once: what is placed, what is left out, what is said on it."""

from __future__ import annotations

import numpy as np
import pytest

from layers.earth.chart.frames import ChartFrame, FrameName
from layers.earth.chart.marks import (
    AreaMark,
    Freshness,
    GridMark,
    LineMark,
    Path,
    PointMark,
    Style,
    Symbol,
)
from layers.earth.geodesy import forward, ring
from layers.earth.position import Position
from layers.scene.scene import PlacedGrid, PlacedPath, PlacedPoint, label, scene, tooltip
from layers.scene.symbols import barb, turned

CENTRE = Position(49.8333, -8.5)


def point(**changes: object) -> PointMark:
    given = {
        "key": "p",
        "style": Style.DATUM,
        "tooltip": "Most probable position",
        "source": "",
        "position": CENTRE,
    }
    return PointMark(**(given | changes))  # type: ignore[arg-type]  # built from parts for the tests


def placed_point(mark: PointMark, frame: ChartFrame) -> PlacedPoint:
    (found,) = scene([("datum", mark)], frame).placed
    assert isinstance(found, PlacedPoint)
    return found


def test_the_centre_of_a_frame_is_its_origin() -> None:
    for name in (FrameName.RANGE_TRUE, FrameName.MERCATOR, FrameName.UTM):
        found = placed_point(point(), ChartFrame(name, CENTRE))
        assert (found.x_m, found.y_m) == pytest.approx((0.0, 0.0), abs=1e-6)


def test_a_heading_is_turned_by_the_convergence_of_the_frame() -> None:
    east = Position(49.8333, -6.0)
    frame = ChartFrame(FrameName.UTM, CENTRE)
    found = placed_point(point(position=east, heading_true_deg=0.0), frame)
    ahead = forward(east.latitude_deg, east.longitude_deg, 0.0, 100.0)
    x, y = frame.project(ahead.latitude_deg, ahead.longitude_deg)
    drawn = np.degrees(np.arctan2(float(x) - found.x_m, float(y) - found.y_m)) % 360.0
    assert found.heading_grid_deg == pytest.approx(drawn, abs=0.01)
    assert abs((found.heading_grid_deg + 180) % 360 - 180) > 1.0  # it is not nothing here


def test_a_ring_of_range_is_a_circle_in_the_range_true_frame() -> None:
    latitudes, longitudes = ring(CENTRE, 9_260.0)
    mark = AreaMark(
        key="r",
        style=Style.DATUM,
        tooltip="5 nmi",
        source="",
        latitudes_deg=latitudes,
        longitudes_deg=longitudes,
    )
    (found,) = scene([("datum", mark)], ChartFrame(FrameName.RANGE_TRUE, CENTRE)).placed
    assert isinstance(found, PlacedPath)
    assert np.hypot(*found.parts[0].T) == pytest.approx(9_260.0, abs=0.01)


def test_a_line_over_the_date_line_is_not_drawn_round_the_world() -> None:
    mark = LineMark(
        key="l",
        style=Style.ROUTE,
        tooltip="leg",
        source="",
        latitudes_deg=np.array([10.0, 12.0]),
        longitudes_deg=np.array([179.0, -179.0]),
    )
    frame = ChartFrame(FrameName.MERCATOR, Position(11.0, 180.0))
    (found,) = scene([("tracks", mark)], frame).placed
    assert isinstance(found, PlacedPath)
    assert np.ptp(found.parts[0][:, 0]) < 300_000.0
    # centred on the other side of the earth the line is cut where the sheet is cut
    far = scene([("tracks", mark)], ChartFrame(FrameName.MERCATOR, Position(11.0, 0.0))).placed
    assert isinstance(far[0], PlacedPath)
    assert len(far[0].parts) == 2 or np.ptp(far[0].parts[0][:, 0]) < 300_000.0


def test_a_nan_breaks_a_line_in_two() -> None:
    mark = LineMark(
        key="l",
        style=Style.SHIP,
        tooltip="track",
        source="",
        path=Path.AS_GIVEN,
        latitudes_deg=np.array([49.8, 49.9, np.nan, 50.0, 50.1]),
        longitudes_deg=np.array([-8.5, -8.4, np.nan, -8.3, -8.2]),
    )
    (found,) = scene([("tracks", mark)], ChartFrame(FrameName.RANGE_TRUE, CENTRE)).placed
    assert isinstance(found, PlacedPath)
    assert [len(part) for part in found.parts] == [2, 2]


def test_grids_lie_below_areas_below_lines_below_points() -> None:
    latitudes, longitudes = np.meshgrid([49.8, 49.9], [-8.5, -8.4], indexing="ij")
    grid = GridMark(
        key="g",
        style=Style.PROBABILITY,
        tooltip="p",
        source="",
        latitudes_deg=latitudes,
        longitudes_deg=longitudes,
        values=np.array([[1.0]]),
        unit="per nmi²",
    )
    found = scene([("a", point()), ("b", grid)], ChartFrame(FrameName.RANGE_TRUE, CENTRE))
    assert [type(item) for item in found.placed] == [PlacedGrid, PlacedPoint]
    assert found.styles() == (Style.DATUM, Style.PROBABILITY)


def test_a_mark_says_when_it_is_stale_expected_or_disputed() -> None:
    frame = ChartFrame(FrameName.RANGE_TRUE, CENTRE)
    stale = placed_point(point(freshness=Freshness.STALE, disputed=True, label="62A 3 h"), frame)
    assert tooltip(stale).splitlines()[1:] == ["stale", "disputed"]
    assert label(stale) == "62A 3 h ?"
    expected = placed_point(point(freshness=Freshness.EXPECTED, source="a" * 32), frame)
    assert tooltip(expected).splitlines()[1:] == ["expected, not observed"]
    # the record by its number in the log, never by an id
    cited = tooltip(expected, {"a" * 32: 17}).splitlines()[2:]
    assert cited == ["from record 17"]


def test_a_place_the_frame_cannot_hold_is_left_out() -> None:
    far = point(position=Position(0.0, 81.5), symbol=Symbol.FIX)
    assert scene([("a", far)], ChartFrame(FrameName.UTM, CENTRE)).placed == ()


@pytest.mark.parametrize(
    ("speed_kn", "pennants", "full", "half"),
    [
        # WMO-No. 485 station plot: half barb 5 kn, barb 10 kn, pennant 50 kn; common practice
        (0.0, 0, 0, 0),
        (5.0, 0, 0, 1),
        (10.0, 0, 1, 0),
        (35.0, 0, 3, 1),
        (52.0, 1, 0, 0),
        (65.0, 1, 1, 1),
        (98.0, 2, 0, 0),
    ],
)
def test_a_wind_barb_has_its_pennants_and_barbs(
    speed_kn: float, pennants: int, full: int, half: int
) -> None:
    found = barb(speed_kn)
    if speed_kn < 2.5:
        assert len(found.strokes) == 1  # the calm circle
        return
    drawn = found.strokes[1:]
    assert len(found.filled) - 1 == pennants
    assert sum(stroke[1][0] > 1.0 for stroke in drawn) == full
    assert sum(stroke[1][0] < 1.0 for stroke in drawn) == half


def test_a_symbol_turned_to_ninety_points_right() -> None:
    ((x, y),) = turned(((0.0, 1.0),), 90.0, 10.0)
    assert (x, y) == pytest.approx((10.0, 0.0), abs=1e-9)
