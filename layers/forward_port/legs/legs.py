"""Legs worked out: distance, time, from which fix, at which speed, and where it is when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from layers.earth import geodesy
from layers.earth.arrays import Floats
from layers.earth.chart.marks import Path
from layers.earth.clock import dtg, duration_words
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.earth.values import ConditionsField, ShipState
from layers.forward_port import model
from layers.forward_port.facts import Facts
from layers.forward_port.legs import coast, sea_route, ways_from
from layers.forward_port.legs.flight import flight_h
from layers.forward_port.legs.passage import ahead_of, over_network, passage
from layers.journal.known import Entry

KM_PER_NMI = 1.852
STALE_AFTER = timedelta(minutes=30)  # as the tracks layer has it
_FLIGHT_PIECE_M = 100.0 * M_PER_NMI


@dataclass(frozen=True, slots=True, kw_only=True)
class LegTime:
    """A leg worked out.

    Arrays have shape (n,): its points, and the hours after its start at each. ``remaining_from``
    is the time of the fix that the rest of the leg is reckoned from, when it is.
    """

    key: str
    mode: str
    distance_nmi: float
    hours: float
    latitudes_deg: Floats
    longitudes_deg: Floats
    at_h: Floats
    said: str
    fix_at: datetime | None = None
    on_land: str = ""
    unclear: str = ""  # the planner found no way clear of land; the sea may well have one
    coast_tested: bool = False
    record_id: str = ""

    def where(self, hours: float) -> Position:
        """Return where it is so many hours after the start, held at both ends."""
        lon = np.unwrap(self.longitudes_deg, period=360.0)
        latitude = float(np.interp(hours, self.at_h, self.latitudes_deg))
        longitude = float(np.interp(hours, self.at_h, lon))
        return Position(latitude, (longitude + 180.0) % 360.0 - 180.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What legs need beside their own record."""

    facts: Facts
    field: ConditionsField | None
    ships: tuple[ShipState, ...]
    routes: dict[str, tuple[tuple[Position, ...], Path]]
    now: datetime
    datum: Position | None = None


def leg_time(leg: model.RoadLeg, start: datetime, around: Surroundings, under_way: bool) -> LegTime:
    """Return a leg worked out for a start.

    Parameters
    ----------
    leg : Leg
        As recorded.
    start : datetime
        When it is expected to begin, or did.
    around : Surroundings
        Facts, sea, ships, routes.
    under_way : bool
        The leg has begun and is not over: a passage is then reckoned from her last fix.

    Raises
    ------
    InputError
        No speed, no points, half a wind; it names the leg.
    """
    where = f"leg {leg.key}"
    if leg.mode == "flight":
        return _flight(leg, around, where)
    if leg.mode == "road":
        return _road(leg, around, where)
    return _sea(leg, start, around, under_way, where)


def _flight(leg: model.RoadLeg, around: Surroundings, where: str) -> LegTime:
    points = _points(leg, around, where)
    speed = leg.speed_kn
    if speed is None:
        raise InputError("no speed", where=where, accepted="a true airspeed in knots")
    nmi, air_h = flight_h(points, speed, leg.wind_from_true_deg, leg.wind_kn, where)
    lat, lon = geodesy.densify(
        [p.latitude_deg for p in points],
        [p.longitude_deg for p in points],
        Path.GEODESIC,
        _FLIGHT_PIECE_M,
    )
    hours = air_h + leg.stop_h
    wind = (
        f"wind {leg.wind_from_true_deg:03.0f}°T at {leg.wind_kn:g} kn"
        if leg.wind_kn is not None
        else "no wind given"
    )
    stops = f", {leg.stop_h:g} h on the ground" if leg.stop_h else ""
    return LegTime(
        key=leg.key,
        mode=leg.mode,
        distance_nmi=nmi,
        hours=hours,
        latitudes_deg=lat,
        longitudes_deg=lon,
        at_h=_spread(lat, lon, hours),
        said=f"{nmi:.0f} nmi by great circle at {speed:g} kn true airspeed, {wind}{stops}",
        record_id=around.facts.source(leg),
    )


def _road(leg: model.RoadLeg, around: Surroundings, where: str) -> LegTime:
    road = around.facts.last("road", leg.road)
    if road is None:
        raise InputError(f"no road {leg.road!r} is entered", where=where)
    if road.speed_km_h is None:
        raise InputError("no speed", where=f"road {road.name}", accepted="km/h, more than 0")
    hours = road.length_km / road.speed_km_h
    points = road.points or tuple((p.latitude_deg, p.longitude_deg) for p in leg.points)
    lat = np.array([p[0] for p in points], dtype=np.float64)
    lon = np.array([p[1] for p in points], dtype=np.float64)
    return LegTime(
        key=leg.key,
        mode=leg.mode,
        distance_nmi=road.length_km / KM_PER_NMI,
        hours=hours,
        latitudes_deg=lat,
        longitudes_deg=lon,
        at_h=_spread(lat, lon, hours),
        said=f"{road.length_km:g} km by {road.name} at {road.speed_km_h:g} km/h",
        record_id=around.facts.source(leg),
    )


def _sea(
    leg: model.RoadLeg, start: datetime, around: Surroundings, under_way: bool, where: str
) -> LegTime:
    points, path, how = _route(leg, around, where)
    ship = around.facts.last("ship", leg.ship)
    fix = next((s for s in around.ships if s.name == leg.ship), None)
    speed, speed_from = leg.speed_kn, "planned"
    if speed is None and ship is not None:
        speed, speed_from = ship.speed_kn, "her speed as entered"
    begun, fix_at = start, None
    said_fix = f"from {points[0]}"
    if fix is not None and under_way:
        points, begun, fix_at = ahead_of(fix.position, points), fix.fixed_at, fix.fixed_at
        age = max(timedelta(0), around.now - fix.fixed_at)
        # Shown for a time ahead, every fix looks stale: what counts is its age now.
        stale = fix.stale and age > STALE_AFTER
        if fix.speed_kn is not None and fix.speed_kn > 1.0 and not stale:
            speed, speed_from = fix.speed_kn, "her speed at the fix"
        old = f"{duration_words(age)} old{', stale' * stale}"
        said_fix = f"from the fix of {dtg(fix.fixed_at)}, {old}"
    done = passage(points, begun, speed, ship, around.field, where, path)
    # a way of our own has been tested already, to two miles of either end
    tested = how.startswith(ROUND_LAND)
    on_land = None if tested else coast.first_on_land(done.latitudes_deg, done.longitudes_deg)
    sea = (
        f"{done.hours - done.calm_hours:+.1f} h for sea and current"
        if done.weather_used > 0
        else "sea not known, calm assumed"
    )
    unworked = any(remark.startswith("loss in the sea not") for remark in done.remarks)
    if unworked and done.weather_used > 0:
        sea = f"{done.hours - done.calm_hours:+.1f} h for current alone"
    sea = "; ".join((sea, *done.remarks))
    return LegTime(
        key=leg.key,
        mode=leg.mode,
        distance_nmi=done.distance_nmi,
        hours=done.hours,
        latitudes_deg=done.latitudes_deg,
        longitudes_deg=done.longitudes_deg,
        at_h=done.at_h,
        said=f"{done.distance_nmi:.0f} nmi {how}, {said_fix}, at {speed:.1f} kn "
        f"({speed_from}), {sea}",
        fix_at=fix_at,
        on_land=""
        if on_land is None or leg.network
        else f"comes on land at {on_land[0]}, {on_land[1]:.0f} nmi along",
        unclear=""
        if on_land is None or not leg.network
        else f"no way clear of land was found (the network's comes on land at {on_land[0]}): "
        "enter waypoints or a route; up a river or canal the coastline carried has no water",
        coast_tested=coast.tested(),
        record_id=around.facts.source(leg),
    )


def _route(
    leg: model.RoadLeg, around: Surroundings, where: str
) -> tuple[tuple[Position, ...], Path, str]:
    if leg.route:
        if leg.route not in around.routes:
            raise InputError(
                f"no route {leg.route!r} is known",
                where=where,
                accepted=", ".join(around.routes) or "a GPX or RTZ route, imported first",
            )
        points, path = around.routes[leg.route]
        return points, path, f"by route {leg.route}"
    points = _points(leg, around, where)
    if leg.network:
        own = _round_land(points[0], points[-1], to_datum=leg.to_datum)
        if own is not None:
            turns = len(own) - 2
            return own, Path.RHUMB, f"{ROUND_LAND}, {turns} turn{'s' * (turns != 1)}"
        found, ends = over_network(points[0], points[-1])
        if leg.to_datum and _length_m(found) > DETOUR * _length_m((points[0], points[-1])):
            # the network is coarse: over a short way it leads far round, with no land between
            return (points[0], points[-1]), Path.RHUMB, "straight, land on the way not tested yet"
        return found, Path.RHUMB, f"over a general marine network, {ends:.0f} nmi of it end legs"
    return points, Path.RHUMB, f"by {len(points)} waypoints"


ROUND_LAND = "by the shortest way found round land"
DETOUR = 1.25
FARTHEST_NMI = 1_500.0  # further the search over a grid takes too long for a picture


def _round_land(start: Position, goal: Position, *, to_datum: bool) -> tuple[Position, ...] | None:
    land = coast.land()
    if land is None:
        return None
    far = geodesy.between(start, goal)[0] > FARTHEST_NMI * M_PER_NMI
    if far:
        straight = (start, goal)
        return straight if sea_route.clear(land, straight, straight) else None
    if to_datum:  # it moves: the way is kept by the cell it lies in
        return ways_from.way_to(land, goal, start)
    return sea_route.round_land(land, start, goal)


def _length_m(points: Sequence[Position]) -> float:
    return sum(geodesy.between(one, other)[0] for one, other in pairwise(points))


def _points(leg: model.RoadLeg, around: Surroundings, where: str) -> tuple[Position, ...]:
    points = [Position(p.latitude_deg, p.longitude_deg) for p in leg.points]
    if leg.to_datum:
        if around.datum is None:
            raise InputError("the datum is not known", where=where,
                             accepted="a last known position, or a report of her")  # fmt: skip
        points.append(around.datum)
    if len(points) < 2:
        raise InputError("fewer than two points", where=where, accepted="two points or more")
    return tuple(points)


def _spread(lat: Floats, lon: Floats, hours: float) -> Floats:
    """Return hours at each point for an even speed."""
    if len(lat) < 2:
        return np.zeros(len(lat))
    step = geodesy.inverse(lat[:-1], lon[:-1], lat[1:], lon[1:]).distance_m
    run = np.concatenate(([0.0], np.cumsum(step)))
    return np.asarray(hours * run / run[-1] if run[-1] > 0 else run, dtype=np.float64)


def routes_of(entries: Sequence[Entry]) -> dict[str, tuple[tuple[Position, ...], Path]]:
    """Return imported routes by name, the last of a name; great circle if every leg is."""
    found = {}
    for entry in entries:
        value = entry.value
        points = tuple(Position(w.latitude_deg, w.longitude_deg) for w in value.waypoints)
        great = all(w.leg == "great circle" for w in value.waypoints[1:])
        found[str(value.name)] = (points, Path.GEODESIC if great else Path.RHUMB)
    return found
