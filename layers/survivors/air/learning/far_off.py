"""Readings of heat, cold and trace gases that chance does not explain: told at once, not used.

The gas balance has its own test (`branch`); what goes by its trend is tested here, against the
line of the readings before it. A reading far off waits: a later one that agrees with it, or a
person who adopts it, lets it stand; one that agrees with the line settles it the other way. Until
then it may only shorten what is said.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.clock import to_us
from layers.survivors.air.learning.events import shared_error

# One standard deviation of a reading that is new each time, of what an instrument keeps, and how
# fast what is read may begin to change; our assumptions.
SIGMA, BIAS, DRIFT_H = 0.25, 0.3, 0.2  # °C, °C, °C an hour
SIGMA_PPM, SIGMA_PPM_SHARE, BIAS_PPM_SHARE = 1.0, 0.05, 0.1
DRIFT_PPM_H, DRIFT_PPM_SHARE_H = 2.0, 0.1
FAR_OFF = 3.5  # standard deviations, as for the gases
RECENT = 6  # readings that the line is laid through


@dataclass(frozen=True, slots=True)
class TrendRead:
    """One reading of a quantity; ``sure`` that a person has said it stands, however far off."""

    at: datetime
    value: float
    sure: bool = False

    def retells(self, other: TrendRead) -> bool:
        """Return whether it is the same word again: the same value, within minutes."""
        apart_h = (self.at - other.at).total_seconds() / 3600.0
        return self.value == other.value and shared_error(apart_h) > 0.5


@dataclass(frozen=True, slots=True)
class Sifted:
    """The readings that are used, and the one that waits with what was expected of it.

    ``slips`` are those that a later reading, or a person, has settled to be wrong.
    """

    used: tuple[TrendRead, ...]
    doubtful: TrendRead | None = None
    expected: tuple[float, float] = (0.0, 0.0)
    slips: tuple[TrendRead, ...] = ()

    @property
    def if_right(self) -> tuple[TrendRead, ...]:
        """The readings if the doubtful one is right."""
        return self.used if self.doubtful is None else (*self.used, self.doubtful)


def sift(quantity: str, readings: Iterable[TrendRead]) -> Sifted:
    """Return which readings of a quantity are used and which waits, in order of their times."""
    used: list[TrendRead] = []
    slips: list[TrendRead] = []
    waits: TrendRead | None = None
    for one in readings:
        if not one.sure and any(
            each is not None and one.retells(each) for each in (*used[-1:], waits)
        ):
            continue
        far = bool(used) and _far(quantity, used, one)
        if far and waits is not None and not one.sure and not _far(quantity, [waits], one):
            used, waits = [waits, one], None  # two readings agree against the line
        elif far and one.sure:
            used, waits = [one], None
        elif far:
            waits = one
        else:
            used.append(one)
            slips += [] if waits is None else [waits]
            waits = None  # read again, and as before
    if waits is None:
        return Sifted(tuple(used), slips=tuple(slips))
    middle, sigma = _expected(quantity, used, waits)
    span = (middle - FAR_OFF * sigma, middle + FAR_OFF * sigma)
    return Sifted(tuple(used), waits, span, tuple(slips))


def _far(quantity: str, used: list[TrendRead], one: TrendRead) -> bool:
    middle, sigma = _expected(quantity, used, one)
    return abs(one.value - middle) > FAR_OFF * sigma


def _expected(quantity: str, used: list[TrendRead], one: TrendRead) -> tuple[float, float]:
    """Return what the line of the readings before expects of one, and its standard deviation."""
    recent = used[-RECENT:]
    hours = np.array([(to_us(each.at) - to_us(one.at)) / 3.6e9 for each in recent])
    values = np.array([each.value for each in recent])
    least, kept, drift = _errors(quantity, max(float(values[-1]), 0.0))
    middle, spread = float(values[-1]), least
    if len(recent) > 1 and float(np.ptp(hours)) > 0.0:
        off = hours - hours.mean()
        square = float(off @ off)
        slope = float(off @ values) / square
        middle = float(values.mean()) - slope * float(hours.mean())
        spread = least * math.sqrt(1.0 / len(hours) + float(hours.mean()) ** 2 / square)
    return middle, math.hypot(least, spread, kept, drift * abs(float(hours[-1])))


def _errors(quantity: str, last: float) -> tuple[float, float, float]:
    if quantity == "temperature":
        return SIGMA, BIAS, DRIFT_H
    least = math.hypot(SIGMA_PPM, SIGMA_PPM_SHARE * last)
    return least, BIAS_PPM_SHARE * last, max(DRIFT_PPM_H, DRIFT_PPM_SHARE_H * last)
