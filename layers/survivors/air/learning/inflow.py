"""Water comes into a refuge and does not flow out by itself: what that makes of the draws.

While readings are taken in, water is carried as a normal spread about what was told of it, on
both sides of none: readings move such a spread well. What is looked ahead with is the same spread
with the part below none taken away, and with it all that readings tied to it. Cutting that part
off at none instead would leave half of all draws dry before anything is known, and a pressure
that rises would be told too late.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import scipy

from layers.earth.arrays import Floats
from layers.survivors.air.state import Air

IN_LOGARITHM = ("o2", "co2", "inert", "volume_m3", "breath", "rq")
AS_THEY_ARE = ("leak_mol_h", "swing_cos", "swing_sin", "wander")


def only_in(air: Air) -> Air:
    """Return the air with water that comes in or not, never out; for looking ahead, once.

    What leaks in and what leaks out stay as learnt: cutting one of them off would leave a gain
    of oxygen that nobody has seen.

    Notes
    -----
    For a normal spread of several things, one of which is known to be positive: that one keeps
    its rank in what is left of its own spread, and the others follow it by their regression on it,
    for beside that line a normal spread is tied to nothing of it.
    """
    water = air.water_m3_h
    off = water - water.mean(axis=1, keepdims=True)
    spread = off.std(axis=1, keepdims=True)
    comes_in = _above_none(water, spread)
    moved = np.where(spread > 0.0, comes_in - water, 0.0)
    per_square = np.maximum(spread**2, np.finfo(float).tiny)
    changed: dict[str, Floats] = {"water_m3_h": comes_in}
    for name in IN_LOGARITHM:
        rows = np.log(np.maximum(getattr(air, name), 1e-6))
        changed[name] = np.exp(rows + _slope(rows, off, per_square) * moved)
    for name in AS_THEY_ARE:
        rows = getattr(air, name)
        changed[name] = rows + _slope(rows, off, per_square) * moved
    return replace(air, **changed)


def _above_none(water: Floats, spread: Floats) -> Floats:
    """Return each draw at its rank in the part of its normal spread that lies above none."""
    sure = np.maximum(spread, np.finfo(float).tiny)
    middle = water.mean(axis=1, keepdims=True)
    # counted from above, where the smallest numbers are exact, should all be far below none
    above = scipy.special.ndtr(middle / sure) * scipy.special.ndtr((middle - water) / sure)
    drawn = middle - sure * scipy.special.ndtri(np.maximum(above, np.finfo(float).tiny))
    return np.where(spread > 0.0, np.maximum(drawn, 0.0), np.maximum(water, 0.0))


def _slope(rows: Floats, off: Floats, per_square: Floats) -> Floats:
    """Return how much of something goes with a unit of water, compartment by compartment."""
    tied = ((rows - rows.mean(axis=1, keepdims=True)) * off).mean(axis=1, keepdims=True)
    return np.asarray(tied / per_square)
