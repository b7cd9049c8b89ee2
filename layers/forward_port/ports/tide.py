"""The water under a ship alongside: the lowest of her stay."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import to_us
from layers.forward_port.model import Tide
from layers.forward_port.ports.water_level import Tabled, WaterLevel, tabled

STEP = timedelta(minutes=10)


def level_of(curve: Tide | WaterLevel) -> WaterLevel:
    """Return a tide as heights at any time."""
    return tabled(curve) if isinstance(curve, Tide) else curve


def heights_m(curve: Tide | WaterLevel, at_us: Ints) -> Floats:
    """Return heights above chart datum at UTC microseconds, shape (n,); NaN where not known."""
    return level_of(curve).heights_m(at_us)


def least_height_m(curve: Tide | WaterLevel, start: datetime, stay: timedelta) -> float | None:
    """Return the lowest height during a stay, None when it is not known for all of it."""
    level = level_of(curve)
    steps = max(2, int(stay / STEP) + 1)
    at = np.linspace(to_us(start), to_us(start + stay), steps).astype(np.int64)
    if isinstance(level, Tabled):
        lows = [t.at_us for t in level.turns if at[0] <= t.at_us <= at[-1]]
        at = np.concatenate((at, np.array(lows, dtype=np.int64)))
    heights = level.heights_m(at)
    return None if np.isnan(heights).any() else float(heights.min())
