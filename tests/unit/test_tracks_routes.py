"""Routes drawn back: every leg by its own sailing, waypoints named, the length in the tooltip."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic

from layers.contract import Moment
from layers.earth.chart.frames import ChartFrame, FrameName
from layers.earth.chart.marks import Freshness, LineMark, Path, PointMark, Style
from layers.earth.position import Position
from layers.journal.known import Known, ListShelf
from layers.journal.record import Draft, as_record
from layers.scene.scene import scene
from layers.tracks import LAYER

NOW = datetime(2027, 3, 13, 12, 0, tzinfo=UTC)
KINDS = {kind.name: kind for kind in LAYER.kinds}


def waypoint(latitude: float, longitude: float, **more: Any) -> dict[str, Any]:
    return {"latitude_deg": latitude, "longitude_deg": longitude, **more}


def route(name: str, *waypoints: dict[str, Any], hours_ago: float = 1.0) -> Draft:
    at = NOW - timedelta(hours=hours_ago)
    return Draft(
        kind="tracks.route",
        payload={"name": name, "from_format": "measured", "waypoints": list(waypoints)},
        valid_at=at,
        heard_at=at,
        source="test",
        identity=name,
    )


def shown(*drafts: Draft, at: datetime = NOW) -> tuple[Any, list[LineMark], list[PointMark]]:
    records = [
        as_record(draft, seq=i + 1, recorded_at=NOW, author="test")
        for i, draft in enumerate(drafts)
    ]
    known = Known(ListShelf(records), KINDS, len(records), at)
    result = LAYER.compute(known, {}, Moment(at, at))
    marks = LAYER.marks(result)
    lines = [mark for mark in marks if isinstance(mark, LineMark)]
    return result, lines, [mark for mark in marks if isinstance(mark, PointMark)]


TO_THE_NORTH = route(
    "to the north", waypoint(49.8, -8.5, name="start"), waypoint(50.3, -8.5), waypoint(50.3, -8.0)
)


def test_a_measured_route_is_one_dashed_line_with_its_name_and_length() -> None:
    _, lines, points = shown(TO_THE_NORTH)
    (line,) = lines
    assert line.label == "to the north"
    assert (line.style, line.path, line.freshness) == (Style.ROUTE, Path.RHUMB, Freshness.EXPECTED)
    assert line.latitudes_deg.tolist() == [49.8, 50.3, 50.3]
    # along a meridian the rhumb line is the geodesic (GeographicLib); along the parallel
    # the arc is N cos(latitude) times the angle, WGS 84 in closed form
    up = Geodesic.WGS84.Inverse(49.8, -8.5, 50.3, -8.5)["s12"]
    along = 35_624.3  # COMPUTED: 6378137 cos 50.3° / sqrt(1 - e² sin² 50.3°) × 0.5° in radians
    nmi = (up + along) / 1852.0
    assert f"{nmi:.1f} nmi" in line.tooltip
    assert "in 2 legs, rhumb line" in line.tooltip
    assert "not for navigation" in line.tooltip
    assert [point.label for point in points] == ["start", "2", "3"]
    assert f"{nmi:.1f} nmi from the start" in points[-1].tooltip


def test_each_leg_runs_by_its_own_sailing() -> None:
    """Karney (2013): New York to London area legs differ by tens of miles between sailings."""
    ocean = route(
        "across",
        waypoint(40.6, -73.8),
        waypoint(51.6, -10.0, leg="great circle"),
        waypoint(51.6, -5.0),
    )
    result, lines, _ = shown(ocean)
    assert [line.path for line in lines] == [Path.GEODESIC, Path.RHUMB]
    assert [line.label for line in lines] == ["across", ""]  # the name stands at the longer run
    assert lines[0].longitudes_deg[-1] == lines[1].longitudes_deg[0] == -10.0
    great = Geodesic.WGS84.Inverse(40.6, -73.8, 51.6, -10.0)["s12"]
    assert result.routes[0].leg_m[0] == pytest.approx(great, abs=0.01)
    assert "great circle and rhumb line" in lines[0].tooltip


def test_a_route_alone_fills_the_layer_and_is_said() -> None:
    result, _, _ = shown(TO_THE_NORTH)
    assert "1 route recorded." in LAYER.sentence(result)
    rows = LAYER.tables(result)["Routes"].rows
    assert rows[0][0] == "to the north"
    assert rows[0][2:4] == (3, "rhumb line")


def test_a_route_is_not_drawn_before_it_was_recorded() -> None:
    older = route("first", waypoint(49.0, -8.0), waypoint(49.5, -8.0), hours_ago=5)
    _, lines, _ = shown(older, TO_THE_NORTH, at=NOW - timedelta(hours=2))
    assert [line.label for line in lines] == ["first"]
    result, lines, _ = shown(older, TO_THE_NORTH)
    assert [line.label for line in lines] == ["to the north", "first"]
    assert set(result.rests_on) == {line.source for line in lines}


def test_a_route_of_thousands_of_waypoints_marks_only_its_ends() -> None:
    many = route("long", *(waypoint(40.0 + k / 400, -20.0) for k in range(2_000)))
    _, lines, points = shown(many)
    assert len(lines) == 1
    assert [point.label for point in points] == ["1", "2000"]


def test_a_route_across_the_date_line_is_drawn_in_the_frame_whole() -> None:
    across = route("date line", waypoint(10.0, 179.5), waypoint(10.0, -179.5))
    result, lines, _ = shown(across)
    assert result.routes[0].leg_m[0] == pytest.approx(109_639, rel=1e-3)  # not round the world
    frame = ChartFrame(
        name=FrameName.MERCATOR, centre=Position(10.0, 180.0), half_width_m=100_000.0
    )
    (placed,) = scene([("tracks", lines[0])], frame).placed
    assert len(placed.parts) == 1
    assert abs(placed.parts[0][:, 0]).max() < 60_000.0
