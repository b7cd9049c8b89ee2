"""The best effort against something that moves, and what any plan could reach at most.

For detection ``1 - exp(-sum of effort over cell area)`` along its path, effort is best when, in
every period, it is best against what the *other* periods leave, before and after (Brown 1980,
Optimal search for a moving target in discrete time and space, Operations Research 28; from
memory, checked against a general constrained solver). Each period is then the resting problem,
solved exactly by `allocate`; going round the periods raises the chance until nothing gains.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layers.datum.search.allocation import allocate
from layers.earth.arrays import Floats, Ints

ROUNDS, GAIN = 60, 1e-5


@dataclass(frozen=True, slots=True, kw_only=True)
class MovingEffort:
    """Swept area by period and cell, shape (periods, cells), and the chance that it finds."""

    swept_m2: Floats
    probability_seen: float


def best_effort(
    cells: Ints, weight: Floats, count: int, area_m2: Floats | float, swept_m2: Sequence[float]
) -> MovingEffort:
    """Return the best effort against weighted paths.

    Parameters
    ----------
    cells : ndarray, shape (periods, paths)
        The cell of each path in each period, 0 to ``count - 1``; -1 outside of all.
    weight : ndarray, shape (paths,)
        Probability of each path.
    area_m2 : float or ndarray, shape (count,)
        Of a cell; where it is harder to see there, as much larger.
    swept_m2 : sequence of float
        Sweep width times track length to spend in each period.
    """
    periods = len(cells)
    area = np.append(np.broadcast_to(np.asarray(area_m2, dtype=np.float64), count), 1.0)
    sizes: Floats | float = area_m2 if np.ndim(area_m2) == 0 else area[:count]
    inside = cells >= 0
    place = np.where(inside, cells, count)
    effort = np.zeros((periods, count + 1))
    passed = np.zeros(cells.shape)  # exponent of each path in each period
    seen = 0.0
    for _ in range(ROUNDS):
        for period in range(periods):
            others = passed.sum(axis=0) - passed[period]
            sums = np.bincount(place[period], weight * np.exp(-others), minlength=count + 1)
            reach: Floats = np.asarray(sums, dtype=np.float64)
            if reach[:count].sum() <= 0.0 or swept_m2[period] <= 0.0:
                continue
            found = allocate(reach[:count], sizes, swept_m2[period])
            effort[period, :count] = found.swept_m2
            passed[period] = (effort[period] / area)[place[period]]
        now = float((weight * -np.expm1(-passed.sum(axis=0))).sum())
        if now - seen <= GAIN * max(now, 1e-12):
            seen = now
            break
        seen = now
    return MovingEffort(swept_m2=effort[:, :count], probability_seen=seen)
