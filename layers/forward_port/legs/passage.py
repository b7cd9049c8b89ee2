"""A passage: along a route at the speed that the sea and the current leave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np

from layers.earth import geodesy, rhumb
from layers.earth.arrays import Floats, Ints
from layers.earth.chart.marks import Path
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI, M_S_PER_KN, S_PER_H
from layers.earth.values import ConditionsField
from layers.forward_port.legs.sea_speed import FITTED_TO, kept_speed_kn, sea_number
from layers.forward_port.model import CandidateShip

_PIECE_M = 10.0 * M_PER_NMI
_PASSES = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """A passage worked out: where she is when.

    Arrays have shape (n,): the points of the route made dense, and hours after the start.
    """

    latitudes_deg: Floats
    longitudes_deg: Floats
    at_h: Floats
    distance_nmi: float
    hours: float
    calm_hours: float
    weather_used: float  # share of the way for which the sea was known
    remarks: tuple[str, ...] = ()  # what the sea was not counted for, or beyond its formula


def passage(
    points: Sequence[Position],
    start: datetime,
    speed_kn: float | None,
    ship: CandidateShip | None,
    field: ConditionsField | None,
    where: str,
    path: Path = Path.RHUMB,
) -> Passage:
    """Return the passage along a route, its speed lowered by sea and changed by current.

    Raises
    ------
    InputError
        A ship with no speed, or a route of one point.
    """
    if speed_kn is None or not speed_kn > 0:
        raise InputError("no speed", where=where, accepted="a speed in knots, more than 0")
    if len(points) < 2:
        raise InputError("a route of one point", where=where, accepted="two points or more")
    lat, lon = geodesy.densify(
        [p.latitude_deg for p in points], [p.longitude_deg for p in points], path, _PIECE_M
    )
    line = rhumb.inverse(lat[:-1], lon[:-1], lat[1:], lon[1:])
    length, course = line.distance_m, np.nan_to_num(line.bearing_true_deg)
    calm = length / (speed_kn * M_S_PER_KN)
    taken, share, remarks = calm, 0.0, set[str]()
    if field is not None and len(length):
        # The sea met depends on when she is there, and that on the sea: a few passes settle it.
        for _ in range(_PASSES):
            at_s = np.concatenate(([0.0], np.cumsum(taken)))
            middle_us = to_us(start) + ((at_s[:-1] + at_s[1:]) / 2 * 1e6).astype(np.int64)
            remarks.clear()
            made_good, share = _made_good(
                lat, lon, course, middle_us, speed_kn, ship, field, remarks
            )
            taken = length / (made_good * M_S_PER_KN)
    hours = np.concatenate(([0.0], np.cumsum(taken))) / S_PER_H
    return Passage(
        latitudes_deg=lat,
        longitudes_deg=lon,
        at_h=hours,
        distance_nmi=float(length.sum()) / M_PER_NMI,
        hours=float(hours[-1]),
        calm_hours=float(calm.sum()) / S_PER_H,
        weather_used=share,
        remarks=tuple(sorted(remarks)),
    )


def _made_good(
    lat: Floats,
    lon: Floats,
    course: Floats,
    at_us: Ints,
    speed_kn: float,
    ship: CandidateShip | None,
    field: ConditionsField,
    remarks: set[str],
) -> tuple[Floats, float]:
    """Return speed made good along each piece (kn) and the share with a known sea."""
    met = field.conditions((lat[:-1] + lat[1:]) / 2, (lon[:-1] + lon[1:]) / 2, at_us)
    wind = np.hypot(met.wind_east_m_s, met.wind_north_m_s)
    wind_from = np.degrees(np.arctan2(-met.wind_east_m_s, -met.wind_north_m_s))
    off_bow = np.abs((wind_from - course + 180.0) % 360.0 - 180.0)
    known = np.isfinite(wind)
    through = np.full(len(course), speed_kn)
    number, _ = sea_number(wind, met.hs_m)
    if ship is None or ship.displacement_t is None or ship.waterline_m is None:
        if known.any():
            remarks.add("loss in the sea not worked out: her displacement and waterline not told")
    elif (beyond := known & (number > FITTED_TO)).any():
        share = 100.0 * float(beyond.mean())
        remarks.add(
            f"Beaufort {float(number[beyond].max()):.0f} on {share:.0f} % of the way, beyond the "
            f"formula's {FITTED_TO:.0f}: she may heave to"
        )
    if ship is not None and ship.displacement_t is not None and ship.waterline_m is not None:
        kept = kept_speed_kn(
            speed_kn,
            np.nan_to_num(wind),
            np.nan_to_num(off_bow),
            met.hs_m,
            displacement_t=ship.displacement_t,
            block_coefficient=ship.block_coefficient,
            waterline_m=ship.waterline_m,
        )
        through = np.where(known, kept, speed_kn)
    turned = np.radians(course)
    east, north = np.nan_to_num(met.current_east_m_s), np.nan_to_num(met.current_north_m_s)
    along = (east * np.sin(turned) + north * np.cos(turned)) / M_S_PER_KN
    across = (east * np.cos(turned) - north * np.sin(turned)) / M_S_PER_KN
    stemmed = np.sqrt(np.maximum(through**2 - across**2, 0.0))
    return np.maximum(stemmed + along, 0.1 * speed_kn), float(known.mean())


def ahead_of(fix: Position, points: Sequence[Position]) -> tuple[Position, ...]:
    """Return the rest of a route from a fix: to the end of the piece nearest to it, and on."""
    nearest, best = len(points) - 1, float("inf")
    for number, (a, b) in enumerate(pairwise(points)):
        distance = _off_piece_m(fix, a, b)
        if distance < best - 1.0:
            nearest, best = number + 1, distance
    return (fix, *points[nearest:])


def _off_piece_m(place: Position, a: Position, b: Position) -> float:
    """Return the distance from a place to a piece of route, on a plane at its start."""
    length, bearing, _ = geodesy.between(a, b)
    distance, towards, _ = geodesy.between(a, place)
    if length < 1.0 or distance < 1.0:
        return distance
    angle = np.radians(towards - bearing)
    along = float(np.clip(distance * np.cos(angle), 0.0, length))
    return float(np.hypot(distance * np.cos(angle) - along, distance * np.sin(angle)))


def over_network(start: Position, goal: Position) -> tuple[tuple[Position, ...], float]:
    """Return (route, nmi added at its ends) over a general marine network.

    The network snaps both ends by up to tens of miles and leaves that out of its length: here
    both end legs are part of the route.
    """
    from searoute import searoute

    found = searoute(
        [start.longitude_deg, start.latitude_deg], [goal.longitude_deg, goal.latitude_deg]
    )
    middle = [
        Position(float(lat), (float(lon) + 180.0) % 360.0 - 180.0)
        for lon, lat in found["geometry"]["coordinates"]
    ]
    ends_m = 0.0
    if middle:
        ends_m = geodesy.between(start, middle[0])[0] + geodesy.between(middle[-1], goal)[0]
    return (start, *middle, goal), ends_m / M_PER_NMI
