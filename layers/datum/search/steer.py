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
    """How a shape is steered: from when, how fast, over what ground, carried by what drift."""

    plane: Plane
    start: datetime
    hours: float
    speed_kn: float
    drift_m_s: tuple[float, float]


def steered_pattern(
    code: Code,
    shape_m: Floats,
    searching: Sequence[bool],
    way: Way,
    searcher: str,
    spacing_m: float,
) -> Pattern | None:
    """Return a shape steered from its first corner until the hours end; None if none is steered.

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
    left_s = way.hours * 3_600.0
    corners, times, flags = [shape_m[0].copy()], [0.0], []
    for number in range(1, len(shape_m)):
        step = shape_m[number] - shape_m[number - 1]
        # |step + drift t| = speed t
        a, b, c = speed**2 - drift @ drift, -2.0 * step @ drift, -(step @ step)
        took = float((-b + np.sqrt(b * b - 4.0 * a * c)) / (2.0 * a))
        part = min(1.0, (left_s - times[-1]) / max(took, 1e-9))
        if part <= 0.0:
            break
        corners.append(corners[-1] + part * (step + drift * took))
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
