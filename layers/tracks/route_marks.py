"""What is drawn of the routes: each leg by its own sailing, the waypoints with their names."""

from __future__ import annotations

from itertools import groupby

import numpy as np

from layers.earth.chart.marks import AnyMark, Freshness, LineMark, Path, PointMark, Style, Symbol
from layers.earth.clock import dtg
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.tracks.model import DrawnArea, PlannedRoute

ROUTES_DRAWN = 40  # the newest; the table has them all
WAYPOINTS_DRAWN = 60  # of a longer route only both ends are marked


def marks(routes: tuple[PlannedRoute, ...]) -> list[AnyMark]:
    """Return lines and waypoints of the newest routes; a route is a plan, so it is dashed."""
    found: list[AnyMark] = []
    for route in routes[:ROUTES_DRAWN]:
        found += _lines(route)
        found += _waypoints(route)
    return found


def area_marks(areas: tuple[DrawnArea, ...]) -> list[AnyMark]:
    """Return the edge of each of the newest areas, named."""
    return [
        LineMark(
            key=f"area {area.record_id}",
            style=Style.ROUTE,
            latitudes_deg=area.latitudes_deg,
            longitudes_deg=area.longitudes_deg,
            path=Path.AS_GIVEN,
            width=1,
            dotted=True,
            disputed=area.disputed,
            label=area.name[:40],
            source=area.record_id,
            tooltip=f"Area {area.name}, {area.from_format}, recorded {dtg(area.at)}",
        )
        for area in areas[:ROUTES_DRAWN]
    ]


def length_words(route: PlannedRoute) -> str:
    """Return a route's length as it is said: ``32.6 nmi (60.4 km) in 3 legs``."""
    metres = float(route.leg_m.sum())
    legs = f"{len(route.leg_m)} legs" if len(route.leg_m) > 1 else "1 leg"
    return f"{metres / M_PER_NMI:.1f} nmi ({metres / 1000.0:.1f} km) in {legs}"


def sailing_words(route: PlannedRoute) -> str:
    """Return how its legs run."""
    if route.great_circle.all():
        return "great circle"
    return "great circle and rhumb line" if route.great_circle.any() else "rhumb line"


def _about(route: PlannedRoute) -> str:
    return (
        f"Route {route.name}: {length_words(route)}, {sailing_words(route)}; "
        f"{route.from_format}, recorded {dtg(route.at)}. For planning, not for navigation"
    )


def _lines(route: PlannedRoute) -> list[LineMark]:
    """Return one line for each run of legs of one sailing, the name at the longest."""
    runs = [
        (great, [number for number, _ in members])
        for great, members in groupby(enumerate(route.great_circle), key=lambda pair: pair[1])
    ]
    longest = max(range(len(runs)), key=lambda k: float(route.leg_m[runs[k][1]].sum()))
    return [
        LineMark(
            key=f"route {route.record_id} {number}",
            style=Style.ROUTE,
            latitudes_deg=route.latitudes_deg[legs[0] : legs[-1] + 2],
            longitudes_deg=route.longitudes_deg[legs[0] : legs[-1] + 2],
            path=Path.GEODESIC if great else Path.RHUMB,
            width=2,
            freshness=Freshness.EXPECTED,
            disputed=route.disputed,
            label=route.name[:40] if number == longest else "",
            rank=4,
            tooltip=_about(route),
            source=route.record_id,
            at=route.at,
        )
        for number, (great, legs) in enumerate(runs)
    ]


def _waypoints(route: PlannedRoute) -> list[PointMark]:
    count = len(route.names)
    shown = range(count) if count <= WAYPOINTS_DRAWN else (0, count - 1)
    run_m = np.concatenate([[0.0], np.cumsum(route.leg_m)])
    return [_waypoint(route, number, float(run_m[number])) for number in shown]


def _waypoint(route: PlannedRoute, number: int, run_m: float) -> PointMark:
    place = Position(float(route.latitudes_deg[number]), float(route.longitudes_deg[number]))
    name = route.names[number]
    called = f"waypoint {number + 1}" + (f" {name}" if name else "")
    return PointMark(
        key=f"route {route.record_id} waypoint {number + 1}",
        style=Style.ROUTE,
        position=place,
        symbol=Symbol.TRIANGLE,
        freshness=Freshness.EXPECTED,
        disputed=route.disputed,
        label=name[:24] or str(number + 1),
        rank=6,
        tooltip=f"{route.name}, {called} of {len(route.names)}: {place}, "
        f"{run_m / M_PER_NMI:.1f} nmi from the start",
        source=route.record_id,
        at=route.at,
    )
