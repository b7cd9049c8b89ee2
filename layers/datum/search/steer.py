"""A pattern laid on something that drifts: corners with times, and what it would find.

A ship can only steer over the ground. So each leg of the shape is carried along with the mean
drift while it is steered: the ship heads for where the corner will be when she gets there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from layers.datum.adrift.looked import LookedLeg, missed, swept
from layers.datum.result import Ahead
from layers.datum.search.patterns import Code, Pattern, PatternTurn
from layers.earth.arrays import Floats
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.plane import Plane
from layers.earth.units import M_S_PER_KN


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How a shape is steered: from when, how fast, over what ground, carried by what drift.

    ``home_m`` is where he must be when the hours end, at ``transit_kn``; None: nowhere.
    """

    plane: Plane
    start: datetime
    hours: float
    speed_kn: float
    drift_m_s: tuple[float, float]
    home_m: tuple[float, float] | None = None
    transit_kn: float = 1.0

    def back_s(self, place_m: Floats) -> float:
        """Return the seconds from a place of the plane to where he must be in the end."""
        if self.home_m is None:
            return 0.0
        away = np.hypot(place_m[0] - self.home_m[0], place_m[1] - self.home_m[1])
        return float(away) / (self.transit_kn * M_S_PER_KN)

    def part_in_time(self, begin_s: float, place_m: Floats, leg_m: Floats, took_s: float) -> float:
        """Return how much of a leg leaves time for the way home, 0 to 1."""

        def late(part: float) -> bool:
            back = self.back_s(place_m + part * leg_m)
            return begin_s + part * took_s + back > self.hours * 3_600.0

        low, high = 0.0, 1.0
        if not late(high):
            return high
        if late(low):
            return low
        while high - low > 1e-6:
            middle = 0.5 * (low + high)
            low, high = (low, middle) if late(middle) else (middle, high)
        return low


def steered_pattern(
    code: Code,
    shape_m: Floats,
    searching: Sequence[bool],
    way: Way,
    searcher: str,
    spacing_m: float,
) -> Pattern | None:
    """Return a shape steered from its first corner while there is time; None if none is steered.

    Parameters
    ----------
    shape_m : ndarray, shape (n, 2)
        East and north of the corners on the plane as they lie at the start.

    Raises
    ------
    InputError
        The object drifts as fast as the searcher is.
    """
    speed = way.speed_kn * M_S_PER_KN
    drift = np.array(way.drift_m_s)
    if np.hypot(*drift) >= 0.9 * speed:
        raise InputError(
            "it drifts nearly as fast as the searcher steers",
            where="pattern",
            accepted="a faster searcher",
        )
    corners, times, flags = [shape_m[0].copy()], [0.0], []
    for number in range(1, len(shape_m)):
        step = shape_m[number] - shape_m[number - 1]
        # |step + drift t| = speed t
        a, b, c = speed**2 - drift @ drift, -2.0 * step @ drift, -(step @ step)
        took = float((-b + np.sqrt(b * b - 4.0 * a * c)) / (2.0 * a))
        leg = step + drift * took
        part = way.part_in_time(times[-1], corners[-1], leg, took)
        if part <= 0.0:
            break
        corners.append(corners[-1] + part * leg)
        times.append(times[-1] + part * took)
        flags.append(bool(searching[number - 1]))
        if part < 1.0:
            break
    if len(corners) < 2:
        return None
    turns = tuple(
        PatternTurn(
            name=str(number),
            position=way.plane.position(float(x), float(y)),
            at=way.start + timedelta(seconds=t),
        )
        for number, ((x, y), t) in enumerate(zip(corners, times, strict=True), start=1)
    )
    return Pattern(
        code=code,
        searcher=searcher,
        turns=turns,
        searching=tuple(flags),
        spacing_m=spacing_m,
        speed_kn=way.speed_kn,
    )


def missed_by(pattern: Pattern, plane: Plane, ahead: Ahead, sweep_width_m: float) -> Floats:
    """Return the chance that a pattern misses each particle, at the time it is passed.

    Inverse cube law along the legs that search; the same law that judges a search when it is done.
    """
    places = [plane.point(t.position.latitude_deg, t.position.longitude_deg) for t in pattern.turns]
    exponents = np.zeros(ahead.x_m.shape[1])
    for number, counts in enumerate(pattern.searching):
        if not counts:
            continue
        begin, end = (to_us(pattern.turns[k].at) for k in (number, number + 1))
        leg = LookedLeg(from_m=places[number], to_m=places[number + 1], begin_us=begin, end_us=end)
        if leg.from_m == leg.to_m:
            continue
        exponents += swept(leg, ahead.places(begin), ahead.places(end), sweep_width_m)
    return missed(exponents)
