"""Heat, cold and carbon monoxide as read: a straight line through the readings, no more.

How people cool or warm in a refuge is not modelled: it depends on clothing, wet bulkheads and
exhaustion that nobody reports. What is shown is the trend and when it would cross a level.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.clock import to_us
from layers.survivors.air.known import RefugeKnown
from layers.survivors.air.model import AirReading, Level
from layers.survivors.chambers.pressure import bar_abs

RECENT_H = 24.0
STANDARD_BAR = 1.01325
LEAST_SLOPE = 1e-6  # below it a straight line goes nowhere within any horizon


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """A quantity as last read, and its slope over the last day's readings.

    ``slope_per_h`` and ``slope_sigma`` are None with fewer than two, or three, readings;
    ``crosses`` are (level, hours) by the straight line, infinity where it does not go there.
    """

    quantity: str
    unit: str
    last: float
    read_at: datetime
    readings: int
    slope_per_h: float | None
    slope_sigma: float | None
    crosses: tuple[tuple[str, float], ...]


def trends(
    one: RefugeKnown, levels: tuple[tuple[Level, str], ...], at: datetime
) -> tuple[Trend, ...]:
    """Return the trends of what was read."""
    found = []
    for quantity, unit, value in (
        ("low temperature", "°C", _temperature),
        ("carbon monoxide", "ppm surface equivalent", _carbon_monoxide),
    ):
        points = [
            (entry.record.valid_at, read)
            for entry in one.readings
            if (read := value(entry.value)) is not None
        ]
        if points:
            limits = [
                (level.name, level.limit) for level, _ in levels if level.quantity == quantity
            ]
            found.append(_trend(quantity, unit, points, limits, at))
    return tuple(found)


def _temperature(reading: AirReading) -> float | None:
    return reading.temperature_c


def _carbon_monoxide(reading: AirReading) -> float | None:
    """Return ppm as they would act at the surface: by volume times atmospheres."""
    if reading.carbon_monoxide_ppm is None:
        return None
    return reading.carbon_monoxide_ppm * bar_abs(reading.pressure) / STANDARD_BAR


def _trend(
    quantity: str,
    unit: str,
    points: list[tuple[datetime, float]],
    limits: list[tuple[str, float]],
    at: datetime,
) -> Trend:
    last_us = to_us(points[-1][0])
    recent = [((to_us(t) - last_us) / 3.6e9, v) for t, v in points]
    recent = [(h, v) for h, v in recent if h >= -RECENT_H]
    slope, sigma = _slope(recent)
    rising = quantity == "carbon monoxide"
    now = points[-1][1] + (slope or 0.0) * (to_us(at) - last_us) / 3.6e9
    return Trend(
        quantity="temperature" if quantity == "low temperature" else quantity,
        unit=unit,
        last=points[-1][1],
        read_at=points[-1][0],
        readings=len(recent),
        slope_per_h=slope,
        slope_sigma=sigma,
        crosses=tuple((name, _hours_to(now, limit, slope, rising)) for name, limit in limits),
    )


def _slope(points: list[tuple[float, float]]) -> tuple[float | None, float | None]:
    """Return the least-squares slope an hour and its standard error."""
    if len(points) < 2:
        return None, None
    hours, values = np.array(points).T
    off = hours - hours.mean()
    square = float(off @ off)
    if square == 0.0:
        return None, None
    slope = float(off @ values) / square
    if len(points) < 3:
        return slope, None
    rest = values - values.mean() - slope * off
    return slope, math.sqrt(float(rest @ rest) / (len(points) - 2) / square)


def _hours_to(now: float, limit: float, slope: float | None, rising: bool) -> float:
    past = now >= limit if rising else now <= limit
    if past:
        return 0.0
    if slope is None or abs(slope) < LEAST_SLOPE or (slope > 0.0) != rising:
        return math.inf
    return (limit - now) / slope
