"""Heat, cold, carbon monoxide and other gases as read: a straight line with its error, no more.

How people cool or warm in a refuge is not modelled: it depends on clothing, wet bulkheads and
exhaustion that nobody reports. What is said is the trend and, with its error, when it crosses a
level. One reading has no trend: then the time is not known unless the level is reached.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from scipy.special import ndtr, ndtri

from layers.earth.arrays import Floats
from layers.earth.clock import dtg, to_us
from layers.survivors.air.drawn import EDGE, normals
from layers.survivors.air.known import RefugeKnown
from layers.survivors.air.learning.far_off import (
    BIAS,
    BIAS_PPM_SHARE,
    SIGMA,
    SIGMA_PPM,
    SIGMA_PPM_SHARE,
    Sifted,
    TrendRead,
    sift,
)
from layers.survivors.air.model import AirReading, Level
from layers.survivors.chambers.pressure import bar_abs

RECENT_H = 48.0
CELSIUS, PPM = "°C", "ppm surface equivalent"
STANDARD_BAR = 1.01325
LEAST_SLOPE = 1e-6  # below it a straight line goes nowhere within any horizon
SLOPE_SHARE = 0.06  # how much of a slope may change; our assumption
# How slowly a refuge cools towards the sea, hours (median, and the spread of its logarithm): our
# assumption. What cools, cools ever more slowly (Newton's law of cooling); a line that went on
# evenly told the cold too soon: of 300 boats the truth then lay at 0.57 to 0.67 of the draws in the
# mean, so at 0.47 to 0.49.
SLOW_H, SLOW_SHARE = 150.0, 0.45
# No refuge gets colder than the sea round it, and sea water freezes at -1.9 °C (35 g/kg; Fofonoff
# and Millard 1983, UNESCO technical papers in marine science 44, from memory). So one that cools
# fast is near its end: without that the earliest of the draws were of seas that there are not, and
# of 300 boats the cold came sooner than P10 in 0.053 after 3 readings, at 0.54 of the draws in the
# mean. Six degrees below that are left for what cools otherwise than by Newton's law, water that
# comes in or heat that fails: our assumption (0.067 and 0.52 of the same boats; with none left
# 0.090 and 0.48).
ENDS_AT_LEAST_C = -8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """A quantity as last read, and its slope over the last two days' readings.

    ``slope_per_h`` and ``slope_sigma`` are None with fewer than two readings; ``crosses`` are
    (level, hours) by the straight line, infinity where it does not go there.
    """

    quantity: str
    unit: str
    last: float
    read_at: datetime
    readings: int
    slope_per_h: float | None
    slope_sigma: float | None
    crosses: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Line:
    """The straight line: in the middle of the readings, so many hours ago, and its slope.

    ``read_h`` is how long ago the last of them was read.
    """

    middle: float
    age_h: float
    slope: float | None
    sigma: float
    slope_sigma: float
    read_h: float

    @property
    def now(self) -> float:
        """The line's value at the moment."""
        return self.middle + (self.slope or 0.0) * self.age_h


TRENDED = ("low temperature", "high temperature", "carbon monoxide", "other gas")
Points = Sequence[TrendRead]


def quantity_of(level: Level) -> str:
    """Return what is read for a level that goes by its trend."""
    if level.quantity == "other gas":
        return level.gas_name or ""
    return "temperature" if level.quantity.endswith("temperature") else level.quantity


def points_of(one: RefugeKnown, quantity: str) -> Sifted:
    """Return the readings of a quantity with their times, the one in doubt apart."""
    told = ((entry, value_of(entry.value, quantity)) for entry in one.readings)
    return sift(
        quantity,
        [TrendRead(e.record.valid_at, value, e.adopted) for e, value in told if value is not None],
    )


def value_of(reading: AirReading, quantity: str) -> float | None:
    """Return what a reading says of a quantity that goes by its trend, None where nothing."""
    if quantity == "temperature":
        return reading.temperature_c
    if quantity == "carbon monoxide":
        return _surface(reading.carbon_monoxide_ppm, reading)
    return _other(reading, quantity)


def _other(reading: AirReading, gas: str) -> float | None:
    told = (one.ppm for one in reading.other_gases if one.gas.casefold() == gas.casefold())
    return _surface(next(told, None), reading)


def _surface(ppm: float | None, reading: AirReading) -> float | None:
    """Return ppm as they would act at the surface: by volume times atmospheres."""
    return None if ppm is None else ppm * bar_abs(reading.pressure) / STANDARD_BAR


def trends(
    one: RefugeKnown, levels: tuple[tuple[Level, str], ...], at: datetime
) -> tuple[Trend, ...]:
    """Return the trends of what was read."""
    found = []
    for quantity, unit in _quantities(one):
        points = points_of(one, quantity).used
        if not points:
            continue
        line = _line(quantity, points, at)
        mine = [
            level
            for level, _ in levels
            if level.quantity in TRENDED
            and quantity_of(level).casefold() == quantity.casefold()
            and level.holds_for(one.refuge)
        ]
        sigma = None if line.slope is None else line.slope_sigma
        found.append(
            Trend(
                quantity=quantity,
                unit=unit,
                last=points[-1].value,
                read_at=points[-1].at,
                readings=len(_recent(points)),
                slope_per_h=line.slope,
                slope_sigma=sigma,
                crosses=tuple((level.name, _straight(line, level)) for level in mine),
            )
        )
    return tuple(found)


def sooner_if_right(
    one: RefugeKnown, level: Level, at: datetime, n_draws: int, seed: int
) -> Floats | None:
    """Return `hours_to` if a doubtful reading is right, None where none waits."""
    sifted = points_of(one, quantity_of(level))
    if sifted.doubtful is None:
        return None
    found = hours_to(one, level, at, n_draws, seed, sifted.if_right)
    return None if isinstance(found, tuple) else found


def trend_questions(one: RefugeKnown) -> tuple[str, ...]:
    """Return the question about each reading of a trend that is far off."""
    found = []
    for quantity, unit in _quantities(one):
        sifted = points_of(one, quantity)
        if sifted.doubtful is not None:
            low, high = sifted.expected
            found.append(
                f"Doubtful, not used until somebody says it stands: the {quantity} of "
                f"{dtg(sifted.doubtful.at)}, {sifted.doubtful.value:.1f} {unit} where "
                f"{max(low, 0.0) if unit != CELSIUS else low:.1f} to {high:.1f} was expected. Ask "
                "them to read it again; adopt it if it stands."
            )
    return tuple(found)


def _quantities(one: RefugeKnown) -> list[tuple[str, str]]:
    """Return what is read of a refuge beside pressure, oxygen and carbon dioxide, with units."""
    others = sorted({g.gas for entry in one.readings for g in entry.value.other_gases})
    return [("temperature", CELSIUS), *((name, PPM) for name in ("carbon monoxide", *others))]


def hours_to(
    one: RefugeKnown,
    level: Level,
    at: datetime,
    n_draws: int,
    seed: int,
    points: Points | None = None,
) -> Floats | tuple[str, ...]:
    """Return draws of the hours until a level is crossed, or what is missing to say it.

    Parameters
    ----------
    level : Level
        One of temperature, carbon monoxide or another gas.
    points : sequence of TrendRead, optional
        The readings to go by; those that are used without it.
    """
    quantity = quantity_of(level)
    points = points_of(one, quantity).used if points is None else points
    if not points:
        return (f"{quantity} in {one.refuge!r}",)
    line = _line(quantity, points, at)
    past = line.now <= level.limit if _falls(level) else line.now >= level.limit
    if line.slope is None and not past:
        return (f"a second reading of {quantity} in {one.refuge!r}",)
    if past:
        return np.zeros(n_draws)
    normal = [normals(seed, n_draws, one.refuge, "trend", quantity, n) for n in range(3)]
    middle = line.middle + line.sigma * normal[0]
    slope = (line.slope or 0.0) + line.slope_sigma * normal[1]
    sign = -1.0 if _falls(level) else 1.0
    room, speed = sign * (level.limit - middle), sign * slope
    with np.errstate(divide="ignore", invalid="ignore"):
        straight = np.where(speed > LEAST_SLOPE, room / speed, np.inf)
        if _falls(level):  # towards the sea, ever more slowly
            slow = _slow_h(middle, speed, normal[2])
            bent = np.where(straight < slow, -slow * np.log1p(-straight / slow), np.inf)
            straight = bent
    return np.asarray(np.maximum(np.where(room <= 0.0, 0.0, straight - line.age_h), 0.0))


def _slow_h(middle: Floats, speed: Floats, normal: Floats) -> Floats:
    """Return how slowly each draw cools, hours, such that it ends no colder than it may."""
    room = middle - ENDS_AT_LEAST_C
    bound = (speed > LEAST_SLOPE) & (room > 0.0)
    most = np.divide(room, speed, out=np.full_like(speed, np.inf), where=bound)
    share = ndtr(np.log(most / SLOW_H) / SLOW_SHARE)
    return np.asarray(SLOW_H * np.exp(SLOW_SHARE * ndtri(np.maximum(share * ndtr(normal), EDGE))))


def line_of(one: RefugeKnown, quantity: str, at: datetime) -> Line | None:
    """Return the straight line through what was read of a quantity, None where nothing was."""
    points = points_of(one, quantity).used
    return _line(quantity, points, at) if points else None


def _falls(level: Level) -> bool:
    return level.quantity == "low temperature"


def _straight(line: Line, level: Level) -> float:
    """Return the hours until the straight line crosses a level."""
    sign = -1.0 if _falls(level) else 1.0
    room, speed = sign * (level.limit - line.now), sign * (line.slope or 0.0)
    if room <= 0.0:
        return 0.0
    return room / speed if speed > LEAST_SLOPE else math.inf


def _recent(points: Points) -> Points:
    """Return the readings of the last two days, two at least where there are two."""
    last = to_us(points[-1].at)
    recent = [p for p in points if last - to_us(p.at) <= RECENT_H * 3.6e9]
    return recent if len(recent) > 1 else points[-2:]


def _line(quantity: str, points: Points, at: datetime) -> Line:
    """Return the least-squares line at the moment; the error of a reading is never below ours."""
    recent = _recent(points)
    hours = np.array([(to_us(p.at) - to_us(at)) / 3.6e9 for p in recent])
    values = np.array([p.value for p in recent])
    least, kept = SIGMA, BIAS
    if quantity != "temperature":
        least = max(SIGMA_PPM, SIGMA_PPM_SHARE * float(np.abs(values).max()))
        kept = BIAS_PPM_SHARE * float(np.abs(values[-1]))
    if len(recent) < 2 or float(np.ptp(hours)) == 0.0:
        age_h = -float(hours[-1])
        return Line(float(values[-1]), age_h, None, math.hypot(least, kept), 0.0, age_h)
    off = hours - hours.mean()
    square = float(off @ off)
    slope = float(off @ values) / square
    rest = values - values.mean() - slope * off
    each = max(least, math.sqrt(float(rest @ rest) / max(len(hours) - 2, 1)))
    return Line(
        float(values.mean()),
        -float(hours.mean()),
        slope,
        math.hypot(each / math.sqrt(len(hours)), kept),
        math.hypot(each / math.sqrt(square), SLOPE_SHARE * slope),
        -float(hours[-1]),
    )
