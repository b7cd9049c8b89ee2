"""Height of tide between high and low waters, and the water under a ship alongside.

Notes
-----
Between two turns the height follows half a cosine, of which the rule of twelfths is the
hourly form (common practice, no source). It does not know surge or air pressure.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import to_us
from layers.forward_port.model import Tide

STEP = timedelta(minutes=10)


def heights_m(tide: Tide, at_us: Ints) -> Floats:
    """Return heights above chart datum, NaN outside the first and last turn.

    Parameters
    ----------
    tide : Tide
        High and low waters in order.
    at_us : ndarray, shape (n,)
        UTC microseconds.
    """
    turns_us = np.array([to_us(turn.at) for turn in tide.turns], dtype=np.int64)
    levels = np.array([turn.height_m for turn in tide.turns])
    after = np.clip(np.searchsorted(turns_us, at_us, side="right"), 1, len(turns_us) - 1)
    before = after - 1
    share = (at_us - turns_us[before]) / (turns_us[after] - turns_us[before])
    height = levels[before] + (levels[after] - levels[before]) * (1 - np.cos(np.pi * share)) / 2
    outside = (at_us < turns_us[0]) | (at_us > turns_us[-1])
    return np.where(outside, np.nan, height)


def least_height_m(tide: Tide, start: datetime, stay: timedelta) -> float | None:
    """Return the lowest height during a stay, None when the turns do not cover it."""
    steps = max(2, int(stay / STEP) + 1)
    at = np.linspace(to_us(start), to_us(start + stay), steps).astype(np.int64)
    lows = [to_us(t.at) for t in tide.turns if start <= t.at <= start + stay]
    heights = heights_m(tide, np.concatenate((at, np.array(lows, dtype=np.int64))))
    return None if np.isnan(heights).any() else float(heights.min())
