"""Closest approach and times of arrival.

Closest approach is worked on the ellipsoid: both hold their courses as rhumb lines, and the
range between them is the geodesic.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

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
SAMPLES, CLOSER = 181, 41  # of the whole span, then of the two steps about the least range
ZOOMS = 4


def closest_approaches(
    first: Sequence[Moving], second: Sequence[Moving]
) -> tuple[Floats, Floats, Floats]:
    """Return the CPA of each pair in nmi, the hours to it, and its range now in nmi.

    The hours are 0 where they are already opening, or where nothing moves.

    Notes
    -----
    The range is looked at over the time in which both could have run the distance that parts
    them, and more closely about its least, four times over: to a metre or so. The first close
    approach counts, not one half round the earth later.
    """
    ones, others = _Runs(first), _Runs(second)
    now_m = geodesy.inverse(
        ones.latitude_deg, ones.longitude_deg, others.latitude_deg, others.longitude_deg
    ).distance_m[:, 0]
    cpa_m, at_h = now_m.copy(), np.zeros(len(now_m))
    cpa_m[now_m < geodesy.SAME_PLACE_M] = 0.0
    fastest = (ones.speed_kn + others.speed_kn)[:, 0]
    slowest = np.abs(ones.speed_kn - others.speed_kn)[:, 0]
    part = np.flatnonzero((now_m >= geodesy.SAME_PLACE_M) & (fastest >= 1e-6))
    if not len(part):
        return cpa_m / M_PER_NMI, at_h, now_m / M_PER_NMI
    ones, others = ones.of(part), others.of(part)
    span_h = now_m[part] / M_PER_NMI / np.maximum(slowest[part], 0.1 * fastest[part]) * 1.5
    low, high = np.zeros(len(part)), np.minimum(HORIZON_H, span_h)
    row = np.arange(len(part))
    for samples in (SAMPLES, *[CLOSER] * ZOOMS):
        hours = np.linspace(low, high, samples, axis=1)
        ranges = _ranges_m(ones, others, hours)
        k = np.argmin(ranges, axis=1)
        low, high = hours[row, np.maximum(k - 1, 0)], hours[row, np.minimum(k + 1, samples - 1)]
    cpa_m[part], at_h[part] = ranges[row, k], hours[row, k]
    return cpa_m / M_PER_NMI, at_h, now_m / M_PER_NMI


class _Runs:
    """Where many are and how they move, as columns."""

    def __init__(self, moving: Sequence[Moving] | Floats) -> None:
        self.columns = (
            moving
            if isinstance(moving, np.ndarray)
            else np.array(
                [
                    (m.position.latitude_deg, m.position.longitude_deg, m.course_true_deg,
                     m.speed_kn)
                    for m in moving
                ]
            ).reshape(-1, 4)
        )  # fmt: skip
        self.latitude_deg, self.longitude_deg, self.course_true_deg, self.speed_kn = (
            self.columns[:, k : k + 1] for k in range(4)
        )

    def of(self, rows: npt.NDArray[np.intp]) -> _Runs:
        """Return some of them."""
        return _Runs(self.columns[rows])

    def after(self, hours: Floats) -> tuple[Floats, Floats]:
        """Return (latitude_deg, longitude_deg) after these hours, one row each."""
        return rhumb.forward(
            self.latitude_deg, self.longitude_deg, self.course_true_deg,
            self.speed_kn * M_PER_NMI * hours,
        )  # fmt: skip


def _ranges_m(ones: _Runs, others: _Runs, hours: Floats) -> Floats:
    (lat_1, lon_1), (lat_2, lon_2) = ones.after(hours), others.after(hours)
    known = np.isfinite(lat_1) & np.isfinite(lat_2)  # a rhumb line ends at the pole
    found = np.full(hours.shape, np.inf)
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
