"""The best use of the hours at hand: which cells to search, and how much in each.

For detection ``1 - exp(-z W / A)`` in every cell the optimum is exact: search the densest first,
down to one common level (Koopman; de Guenin 1961, both from memory; checked against a general
constrained solver). Several searchers are taken one after another, by what the ones before left;
that is exact in total when they search alike and near it otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from layers.datum.probability.containment import Grid
from layers.datum.search.model import Searcher
from layers.earth.arrays import Floats
from layers.earth.errors import InputError
from layers.earth.plane import WGS84, Plane
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI, M_S_PER_KN, S_PER_H


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What one searcher does: when, where, how much, and what it is worth.

    ``box`` is the rectangle on the plane that its patterns can cover: middle east and north,
    length, width (metres) and the bearing of the length.
    """

    searcher: Searcher
    arrives_at: datetime
    leaves_at: datetime
    hours: float
    track_m: float
    coverage: float
    box: tuple[float, float, float, float, float]
    probability_seen: float
    allocation: Allocation


def share_out(
    grid: Grid, plane: Plane, searchers: Sequence[Searcher], datum: Position
) -> tuple[tuple[Share, ...], Floats]:
    """Return each searcher's share of the search, and the probability left by cell.

    Raises
    ------
    InputError
        No searcher, or one that uses up its endurance on the way.
    """
    if not searchers:
        raise InputError(
            "nobody to search with",
            where="search effort",
            accepted="a searcher with its position, speeds, sweep width and endurance",
        )
    left = grid.held.copy()
    shares = []
    area = grid.cell_m**2
    for searcher in sorted(searchers, key=lambda s: -s.sweep_width_m * s.search_speed_kn):
        arrives, hours = time_on_scene(searcher, datum)
        track_m = hours * S_PER_H * searcher.search_speed_kn * M_S_PER_KN
        found = allocate(left, area, track_m * searcher.sweep_width_m)
        box = box_round(grid, found.swept_m2)
        shares.append(
            Share(
                searcher=searcher,
                arrives_at=arrives,
                leaves_at=arrives + timedelta(hours=hours),
                hours=hours,
                track_m=track_m,
                coverage=searcher.sweep_width_m * track_m / max(box[2] * box[3], 1.0),
                box=box,
                probability_seen=found.probability_seen,
                allocation=found,
            )
        )
        left = left * np.exp(-found.swept_m2 / area)
    return tuple(shares), left


def time_on_scene(searcher: Searcher, datum: Position) -> tuple[datetime, float]:
    """Return when a searcher arrives, and the hours it can search before it must go home.

    Half of the way there counts twice: it must come back to where it started.
    """
    metres = WGS84.inv(
        searcher.longitude_deg, searcher.latitude_deg, datum.longitude_deg, datum.latitude_deg
    )[2]
    transit_h = float(metres) / M_PER_NMI / searcher.transit_speed_kn
    hours = searcher.endurance_h - 2.0 * transit_h
    if hours <= 0.0:
        raise InputError(
            f"{searcher.name} needs {2.0 * transit_h:.1f} h to go there and back and has "
            f"{searcher.endurance_h:.1f} h",
            where="search effort",
            accepted="an endurance longer than both ways",
        )
    return searcher.ready_at + timedelta(hours=transit_h), hours


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
