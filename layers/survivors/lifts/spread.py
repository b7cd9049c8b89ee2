"""P10, P50 and P90 of draws that may hold infinities, and a margin in words."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.uncertain import (
    Bounds,
    NotKnown,
    Number,
    Quantity,
    Withheld,
    chance_words,
    words,
)
from layers.survivors.lifts.run.windows import NEVER

SHARES = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread3:
    """P10, P50 and P90 of a quantity; infinite where that share of draws never gets there."""

    p10: float
    p50: float
    p90: float


def quantile(values: Floats, share: float) -> float:
    """Return the smallest value that at least this share of draws does not exceed.

    Works with infinities, which interpolation would turn into nothing.
    """
    place = min(max(math.ceil(share * len(values)) - 1, 0), len(values) - 1)
    return float(np.partition(values, place)[place])


def spread3(values: Floats) -> Spread3:
    """Return P10, P50 and P90."""
    floats = np.asarray(values, dtype=np.float64)
    low, middle, high = (quantile(floats, share) for share in SHARES)
    return Spread3(p10=low, p50=middle, p90=high)


def hours_spread(times_s: Ints) -> Spread3:
    """Return P10, P50 and P90 of times in seconds, as hours; infinite for never."""
    return spread3(np.where(times_s >= NEVER // 2, np.inf, times_s / 3600.0))


def margin_h(last_left_s: Ints, limit_s: Ints) -> Floats:
    """Return hours from the last one out to the level; infinite where either is never."""
    gap = np.where(limit_s >= NEVER, np.inf, (limit_s - last_left_s) / 3600.0)
    return np.where(last_left_s >= NEVER // 2, -np.inf, gap)


def margin_words(hours: float) -> str:
    """Return a margin in words with its sense, never by sign alone: ``7 h short``.

    Rounded to the bad side: what is to spare down, what is short up.
    """
    minutes = math.floor(hours * 60.0 + 1e-6)
    if minutes <= -120:
        return f"{math.ceil(-minutes / 60)} h short"
    if minutes < 0:
        return f"{-minutes} min short"
    return f"{minutes} min to spare" if minutes < 120 else f"{minutes // 60} h to spare"


def said_margin(found: Quantity) -> str:
    """Return a margin of any form in words."""
    if isinstance(found, Number):
        return margin_words(found.value)
    if isinstance(found, NotKnown | Withheld):
        return words(found)
    assert isinstance(found, Bounds)
    why = f" ({', '.join(found.missing)})" if found.missing else ""
    if found.at_least is not None and found.at_most is not None:
        least, most = margin_words(found.at_least), margin_words(found.at_most)
        return f"{least}{why}" if least == most else f"between {least} and {most}{why}"
    if found.at_most is not None:
        return f"at most {margin_words(found.at_most)}{why}"
    return f"at least {margin_words(found.at_least or 0.0)}{why}"


def said_chance(found: Quantity) -> str:
    """Return a chance of any form in words: ``between 0 and 64 of 100: …``."""
    if isinstance(found, Bounds) and not found.at_least and found.at_most is not None:
        most = chance_words(found.at_most)
        why = f": {', '.join(found.missing)}" if found.missing else ""
        return f"between 0 and {most.removeprefix('more than ')}{why}"
    return words(found, chance_words)
