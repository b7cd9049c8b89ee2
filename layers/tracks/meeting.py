"""Closest approach and times of arrival.

Closest approach is worked on the ellipsoid: both hold their courses as rhumb lines, and the
range between them is the geodesic.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from layers.earth import geodesy, rhumb
from layers.earth.arrays import Floats
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.tracks.model import Arrival


@dataclass(frozen=True, slots=True)
class Moving:
    """A position with a course and speed held from it."""

    position: Position
    course_true_deg: float
    speed_kn: float


HORIZON_H = 720.0  # beyond a month it is no forecast
SAMPLES = 181
ZOOMS = 4


def closest_approach(first: Moving, second: Moving) -> tuple[float, float]:
    """Return (CPA in nmi, time to it in hours; 0 when they are already opening).

    Notes
    -----
    The range is looked at over the time in which both could have run the distance that parts
    them, and more closely about its least, four times over: to a metre or so. The first close
    approach counts, not one half round the earth later.
    """
    distance_m, _, _ = geodesy.between(first.position, second.position)
    if distance_m < geodesy.SAME_PLACE_M:
        return 0.0, 0.0
    fastest = first.speed_kn + second.speed_kn
    slowest = abs(first.speed_kn - second.speed_kn)
    if fastest < 1e-6:
        return distance_m / M_PER_NMI, 0.0
    span = distance_m / M_PER_NMI / max(slowest, 0.1 * fastest) * 1.5
    low, high = 0.0, min(HORIZON_H, span)
    for _ in range(ZOOMS):
        hours = np.linspace(low, high, SAMPLES)
        ranges = _ranges_m(first, second, hours)
        k = int(np.nanargmin(ranges))
        low, high = hours[max(k - 1, 0)], hours[min(k + 1, SAMPLES - 1)]
    return float(ranges[k]) / M_PER_NMI, float(hours[k])


def _ranges_m(first: Moving, second: Moving, hours: Floats) -> Floats:
    ends = []
    for one in (first, second):
        run_m = one.speed_kn * M_PER_NMI * hours
        start = one.position
        ends.append(
            rhumb.forward(start.latitude_deg, start.longitude_deg, one.course_true_deg, run_m)
        )
    (lat_1, lon_1), (lat_2, lon_2) = ends
    known = np.isfinite(lat_1) & np.isfinite(lat_2)  # a rhumb line ends at the pole
    found = np.full(len(hours), np.inf)
    found[known] = geodesy.inverse(
        lat_1[known], lon_1[known], lat_2[known], lon_2[known]
    ).distance_m
    return found


MOVING_KN = 1.0
BOUND_DEG = 45.0  # a ship whose course lies so near the bearing of the datum is bound for it


def eta(
    expected: Position | None,
    datum: Position | None,
    now: datetime,
    speed_kn: float | None,
    course_true_deg: float | None,
    best_kn: float | None,
) -> Arrival | None:
    """Return when a ship can be at the datum, from where she is reckoned now.

    None where she cannot be reckoned or no speed of hers is known.
    """
    if datum is None or expected is None:
        return None
    if speed_kn is not None and speed_kn > MOVING_KN:
        found = arrival(expected, now, datum, speed_kn, "her speed at the fix")
        off = (found.great_circle_bearing_true_deg - (course_true_deg or 0.0) + 180.0) % 360.0
        away = course_true_deg is not None and abs(off - 180.0) > BOUND_DEG
        return replace(found, turns=away and found.great_circle_nmi > 1.0)
    if best_kn is not None:
        found = arrival(expected, now, datum, best_kn, "her best speed as entered")
        return replace(found, under_way=False)
    return None


def arrival(
    start: Position, left_at: datetime, goal: Position, speed_kn: float, speed_from: str
) -> Arrival:
    """Return when a ship that is at ``start`` at ``left_at`` reaches ``goal`` at this speed."""
    great_m, great_bearing, _ = geodesy.between(start, goal)
    line = rhumb.inverse(
        start.latitude_deg, start.longitude_deg, goal.latitude_deg, goal.longitude_deg
    )
    rhumb_m, rhumb_bearing = float(line.distance_m), float(line.bearing_true_deg)
    return Arrival(
        speed_kn=speed_kn,
        speed_from=speed_from,
        great_circle_nmi=great_m / M_PER_NMI,
        great_circle_bearing_true_deg=great_bearing,
        rhumb_nmi=rhumb_m / M_PER_NMI,
        rhumb_bearing_true_deg=rhumb_bearing,
        by_great_circle=left_at + timedelta(hours=great_m / M_PER_NMI / speed_kn),
        by_rhumb=left_at + timedelta(hours=rhumb_m / M_PER_NMI / speed_kn),
    )
