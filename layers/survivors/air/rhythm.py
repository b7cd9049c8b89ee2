"""What people breathe at a time against the mean of their day: sleep, work, and what swings.

Nobody tells when people sleep in a refuge, yet a night's readings must not be taken for a low
rate that lasts: each draw has a swing through the day of its own, which readings may learn, and
a part that wanders. An activity that was told counts from its time on and never before it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from layers.earth.arrays import Floats
from layers.survivors.air.drawn import normals
from layers.survivors.air.learning.events import AirPrior
from layers.survivors.air.state import Air, AirChange

# Metabolic rate, met, ASHRAE Standard 55 typical tasks (verified by pythermalcomfort 4.8.1):
# sleeping 0.7, reclining 0.8, seated quiet 1.0, standing relaxed 1.2, walking about 1.7; the mean
# of a resting day (8 h asleep, 14 h seated, 2 h light at 2.0) is 0.983.
DAY_MET = (8 * 0.7 + 14 * 1.0 + 2 * 2.0) / 24.0
MET = {"asleep": 0.7, "resting": 0.8, "awake": 1.0, "tapping": 1.2, "working": 1.7}
MET_SOURCE = "ASHRAE Standard 55 typical tasks against a resting day of 0.98 met"
ASLEEP_AT_MOST_H = 8.0  # our choice: a rate that lengthens a time is not held for ever
LEAST_PACE = 0.3
PACE_H = 3.0
DAY_RAD = 2.0 * math.pi / 24.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Exertion:
    """What a share of the people do between two times, against the mean of their day."""

    from_h: float
    until_h: float
    factor: float
    share: float = 1.0


def begun(air: Air, prior: AirPrior, seed: int, name: str) -> None:
    """Give draws their swing and what wanders beside it."""
    for field, share in (
        ("swing_cos", prior.swing_share),
        ("swing_sin", prior.swing_share),
        ("wander", prior.wander_share),
    ):
        setattr(air, field, share * normals(seed, air.shape[1], name, field)[None, :])


def grid(from_h: float, until_h: float, activities: Sequence[Exertion]) -> list[float]:
    """Return times from one to another: three hours apart at first, and where activity changes."""
    times = {from_h, until_h}
    at, step = from_h, PACE_H
    while at < until_h:
        times.add(at)
        if at - from_h >= 48.0:
            step = 12.0  # a whole swing is half of it each way: finer changes nothing by then
        at += step
    for one in activities:
        times |= {h for h in (one.from_h, one.until_h) if from_h < h < until_h}
    return sorted(times)


def paces(
    air: Air,
    prior: AirPrior,
    activities: Sequence[Exertion],
    span_h: tuple[float, float],
    *,
    seed: int,
    name: str,
    compartment: int = 0,
) -> tuple[list[AirChange], Floats]:
    """Return how breathing changes between two times, and what wanders at the end.

    Parameters
    ----------
    air : Air
        One compartment's draws, with their swing and wander at the first time.
    span_h : (float, float)
        Hours since the first reading; changes count from the first of them.
    """
    from_h, until_h = span_h
    wander, found = air.wander[0], []
    for start, end in pairwise(grid(from_h, until_h, activities)):
        keeps = math.exp(-(end - start) / prior.wander_h)
        # the mean over the step of what wanders, its variance for a first-order process
        steps = (end - start) / prior.wander_h
        lasting = (1.0 - keeps) / steps
        rest = max(2.0 * (steps - 1.0 + keeps) / steps**2 - lasting**2, 0.0)
        normal = [
            normals(seed, len(wander), name, part, round(start, 3)) for part in ("mean", "wander")
        ]
        mean = wander * lasting + prior.wander_share * math.sqrt(rest) * normal[0]
        pace = 1.0 + _swing(air, start, end) + mean
        for one in activities:
            if one.from_h <= start and one.until_h >= end:
                pace = one.share * one.factor * (1.0 + mean) + (1.0 - one.share) * pace
        found.append(
            AirChange(
                compartment=compartment,
                after_h=np.full(len(wander), start - from_h),
                pace=np.maximum(pace, LEAST_PACE),
            )
        )
        wander = keeps * wander + prior.wander_share * math.sqrt(1.0 - keeps**2) * normal[1]
    return found, wander


def _swing(air: Air, start: float, end: float) -> Floats:
    """Return the mean of the day's swing between two times."""
    width = DAY_RAD * (end - start)
    cos = (math.sin(DAY_RAD * end) - math.sin(DAY_RAD * start)) / width
    sin = (math.cos(DAY_RAD * start) - math.cos(DAY_RAD * end)) / width
    return np.asarray(air.swing_cos[0] * cos + air.swing_sin[0] * sin)
