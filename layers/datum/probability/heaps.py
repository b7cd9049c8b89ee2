"""Places where the probability lies in heaps: each with its share, never the empty middle.

Two ranges cross twice, and a mean of the two crossings is a place where she can hardly be. So
the grid is first parted into heaps, and the most probable position is one of the greatest heap.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from layers.datum.probability.containment import Grid
from layers.earth.arrays import Floats

# heaps are what the densest cells that hold such a part fall into, the widest part first, ...
PARTED_AT = (0.90, 0.80, 0.65, 0.50)
VALLEY = 0.5  # ... when the ground between them is lower than this part of either's top
LEAST_SHARE = 0.05  # a smaller patch is no place of its own
FILLED = 0.6  # a mean where the density is less than this part of the top is no likely place


@dataclass(frozen=True, slots=True, kw_only=True)
class Heap:
    """One heap: its share of the probability, its most probable place, the radius about it.

    Parameters
    ----------
    share : float
        Of all probability, 0 to 1; what the heaps leave is spread elsewhere.
    centre_m : tuple of float
        East and north on the plane.
    radius_95_m : float
        About the centre, holding 95 % of this heap.
    """

    share: float
    centre_m: tuple[float, float]
    radius_95_m: float


def heaps_of(grid: Grid) -> tuple[Heap, ...]:
    """Return the heaps of a grid, the greatest first."""
    from scipy.ndimage import distance_transform_edt, label  # imported here: slow to start

    for part in PARTED_AT:
        level = grid.level(part)
        patches, count = label(grid.held >= level, structure=np.ones((3, 3)))
        if count < 2:
            continue
        flat, held = patches.ravel(), grid.held.ravel()
        shares = np.bincount(flat, held, minlength=count + 1)[1:]
        tops = np.zeros(count + 1)
        np.maximum.at(tops, flat, held)
        stand = (shares >= LEAST_SHARE * held.sum()) & (VALLEY * tops[1:] >= level)
        kept = np.flatnonzero(stand) + 1
        if len(kept) < 2:
            continue
        chosen = np.where(np.isin(patches, kept), patches, 0)
        away, nearest = distance_transform_edt(chosen == 0, return_indices=True)
        owner = chosen[tuple(nearest)]
        found = []
        for patch in kept:
            reach = max(np.sqrt((chosen == patch).sum() / np.pi), 3.0)
            mine = (owner == patch) & (away <= reach)
            found.append(_heap(grid, np.where(mine, grid.held, 0.0)))
        return tuple(sorted(found, key=lambda heap: -heap.share))
    whole = _heap(grid, grid.held)
    return (replace(whole, share=1.0),)


def most_probable(grid: Grid) -> tuple[float, float]:
    """Return the most probable place of the greatest heap, on the plane."""
    return heaps_of(grid)[0].centre_m


def _heap(grid: Grid, held: Floats) -> Heap:
    x, y = grid.middles()
    total = float(held.sum())
    centre = _centre(grid, held, x, y)
    away = np.hypot(x - centre[0], y - centre[1]).ravel()
    order = np.argsort(away)
    inside = np.cumsum(held.ravel()[order])
    row = min(int(np.searchsorted(inside, 0.95 * total)), len(order) - 1)
    return Heap(share=total, centre_m=centre, radius_95_m=float(away[order[row]]))


def _centre(grid: Grid, held: Floats, x: Floats, y: Floats) -> tuple[float, float]:
    """Return the mean where the heap is full there, else that of its dense half, else a cell.

    The mean of a flat disc is its middle, where the mean of its densest half is the noise of the
    sampling; a heap bent round an empty middle gives the place on it nearest to all of it.
    """
    ordered = np.sort(held, axis=None)[::-1]
    total = float(held.sum())
    half = float(ordered[min(int(np.searchsorted(np.cumsum(ordered), 0.5 * total)),
                             len(ordered) - 1)])  # fmt: skip
    tenth = int(np.searchsorted(np.cumsum(ordered), 0.1 * total)) + 1
    top = float(ordered[:tenth].mean())
    for weight, full in ((held, 0.8), (np.where(held >= half, held, 0.0), FILLED)):
        mean = float((x * weight).sum() / weight.sum()), float((y * weight).sum() / weight.sum())
        if _at(grid, held, mean) >= full * top:
            return mean
    rows, columns = np.nonzero(held >= max(half, FILLED * top))
    step = max(len(rows) // 600, 1)
    rows, columns = rows[::step], columns[::step]
    px, py = x[rows, columns], y[rows, columns]
    weight = held[rows, columns]
    cost = [float((weight * np.hypot(px - a, py - b)).sum()) for a, b in zip(px, py, strict=True)]
    best = int(np.argmin(cost))
    return float(px[best]), float(py[best])


def _at(grid: Grid, held: Floats, place: tuple[float, float]) -> float:
    ny, nx = held.shape
    column = int(np.clip((place[0] - grid.x0_m) / grid.cell_m, 0, nx - 1))
    row = int(np.clip((place[1] - grid.y0_m) / grid.cell_m, 0, ny - 1))
    return float(held[row, column])
