"""The best use of the hours at hand: which cells to search, and how much in each.

For detection ``1 - exp(-z W / A)`` in every cell the optimum is exact: search the densest first,
down to one common level (Koopman; de Guenin 1961, both from memory; checked against a general
constrained solver).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layers.datum.probability.containment import Grid
from layers.earth.arrays import Floats
from layers.earth.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Allocation:
    """Effort by cell, as swept area, and what it is worth.

    Parameters
    ----------
    swept_m2 : ndarray, shape of the grid
        Sweep width times track length in each cell.
    probability_seen : float
        POS: the chance of finding her in all.
    level : float
        Probability left per square metre in every searched cell.
    """

    swept_m2: Floats
    probability_seen: float
    level: float


def allocate(probability: Floats, area_m2: Floats | float, swept_m2: float) -> Allocation:
    """Return the effort by cell that finds her most probably.

    Parameters
    ----------
    probability : ndarray
        In each cell; adds up to 1 or less.
    area_m2 : ndarray or float
        Of each cell.
    swept_m2 : float
        Sweep width times track length to spend.

    Notes
    -----
    With density ``d = p / A`` the gain ``p (1 - exp(-u / A))`` is largest for
    ``u = A max(ln(d / level), 0)``; the level is the one that spends all. Sorted by density,
    the sum over the first k cells gives the level in closed form, and one pass finds k.
    """
    if swept_m2 < 0.0 or not np.isfinite(swept_m2):
        raise InputError("the effort cannot be negative", where="search effort")
    flat = probability.ravel()
    area = area_m2 if np.ndim(area_m2) == 0 else np.asarray(area_m2).ravel()
    density = flat / area
    order = np.argsort(-density)
    if np.ndim(area) == 0:
        log_level = _level_even(density[order], float(area), swept_m2)
    else:
        log_level = _level_uneven(density[order], np.asarray(area)[order], swept_m2)
    with np.errstate(divide="ignore"):
        spent = area * np.maximum(np.log(density) - log_level, 0.0)
    level = float(np.exp(log_level))
    searched = spent > 0.0
    seen = float(np.sum(np.where(searched, flat - level * area, 0.0)))
    return Allocation(
        swept_m2=np.asarray(spent.reshape(probability.shape)),
        probability_seen=seen,
        level=level,
    )


def _level_even(density: Floats, area_m2: float, swept_m2: float) -> float:
    """Return the log of the common level; densities sorted downwards, cells of one size."""
    some = density[: int(np.count_nonzero(density > 0.0))]
    logs = np.log(some)
    counts = np.arange(1, len(some) + 1)
    levels = (np.cumsum(logs) - swept_m2 / area_m2) / counts
    return _first_held(logs, levels)


def _level_uneven(density: Floats, area_m2: Floats, swept_m2: float) -> float:
    count = int(np.count_nonzero(density > 0.0))
    logs, area = np.log(density[:count]), area_m2[:count]
    levels = (np.cumsum(area * logs) - swept_m2) / np.cumsum(area)
    return _first_held(logs, levels)


def _first_held(logs: Floats, levels: Floats) -> float:
    """Return the level of the largest set of densest cells that all lie above it."""
    if len(logs) == 0:
        raise InputError("no cell holds any probability", where="search effort")
    last = int(np.count_nonzero(logs >= levels)) - 1
    return float(levels[max(last, 0)])


def box_round(grid: Grid, swept_m2: Floats) -> tuple[float, float, float, float, float]:
    """Return the rectangle, along the axes of the effort, that holds all but 2 % of it a side."""
    x, y = (values.ravel() for values in grid.middles())
    weight = swept_m2.ravel() / max(float(swept_m2.sum()), 1e-12)
    mx, my = float(weight @ x), float(weight @ y)
    dx, dy = x - mx, y - my
    cross = float(weight @ (dx * dy))
    _, axes = np.linalg.eigh(
        [[float(weight @ (dx * dx)), cross], [cross, float(weight @ (dy * dy))]]
    )
    ends = []
    for axis in (axes[:, 1], axes[:, 0]):
        along = dx * axis[0] + dy * axis[1]
        some = weight > 0.0
        order = np.argsort(along[some])
        edges = np.cumsum(weight[some][order])
        low = along[some][order][int(np.searchsorted(edges, 0.02))]
        high = along[some][order][min(int(np.searchsorted(edges, 0.98)), some.sum() - 1)]
        ends.append((float(low) - grid.cell_m / 2.0, float(high) + grid.cell_m / 2.0))
    (a0, a1), (b0, b1) = ends
    long_axis, short_axis = axes[:, 1], axes[:, 0]
    middle = np.array([mx, my]) + 0.5 * (a0 + a1) * long_axis + 0.5 * (b0 + b1) * short_axis
    bearing = float(np.degrees(np.arctan2(long_axis[0], long_axis[1])) % 180.0)
    return float(middle[0]), float(middle[1]), a1 - a0, b1 - b0, bearing
