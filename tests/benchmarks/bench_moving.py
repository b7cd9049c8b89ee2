"""Figures of the moving search: best effort against all plans tried, SciPy, and its own bound."""

from __future__ import annotations

from itertools import product

import numpy as np
from scipy.optimize import LinearConstraint, minimize

from layers.datum.search.moving import best_effort
from layers.earth.arrays import Floats, Ints
from tests.benchmarks.figure import Figure, seconds

SEARCHERS = (14.0 * 1_800.0, 12.0 * 1_800.0, 10.0 * 900.0, 120.0 * 900.0)  # kn times metres


def figures() -> list[Figure]:
    """Return the figures of the moving-target plan."""
    return [_exhaustive(), _faster(), _large()]


def walk(seed: int, side: int, periods: int, paths: int, spread: float) -> tuple[Ints, Floats, int]:
    """Return weighted paths that wander over a square of cells from a heap in its middle."""
    rng = np.random.default_rng(seed)
    place = side / 2.0 + spread * side * rng.standard_normal((paths, 2))
    drift = 0.02 * side * rng.standard_normal(2) + 0.01 * side * rng.standard_normal((paths, 2))
    cells = np.empty((periods, paths), dtype=np.int64)
    for period in range(periods):
        here = np.floor(place + period * drift).astype(np.int64)
        inside = np.all((here >= 0) & (here < side), axis=1)
        cells[period] = np.where(inside, here[:, 0] * side + here[:, 1], -1)
    weight = rng.random(paths)
    return cells, weight / weight.sum(), side * side


def _found(cells: Ints, weight: Floats, effort: Floats) -> float:
    """Return the chance of finding it by an effort, shape (periods, cells), cells of area 1."""
    spent = sum(np.where(row >= 0, effort[t][row], 0.0) for t, row in enumerate(cells))
    return float((weight * -np.expm1(-np.asarray(spent))).sum())


def exhausted(cells: Ints, weight: Floats, spend: float, steps: int) -> float:
    """Return the best of every way to part the effort of each period between two cells."""
    shares = np.linspace(0.0, spend, steps + 1)
    best = 0.0
    for taken in product(shares, repeat=len(cells)):
        effort = np.array([[one, spend - one] for one in taken])
        best = max(best, _found(cells, weight, effort))
    return best


def two_cells(seed: int) -> tuple[Ints, Floats]:
    """Return every path of three periods over two cells, with a chance for each."""
    rng = np.random.default_rng(seed)
    cells = np.array(list(product((0, 1), repeat=3))).T.astype(np.int64)
    weight = rng.random(cells.shape[1]) ** 2
    return cells, weight / weight.sum()


def _exhaustive() -> Figure:
    worst = 1.0
    for seed in range(8):
        cells, weight = two_cells(seed)
        found = best_effort(cells, weight, 2, 1.0, [1.0] * 3)
        worst = min(worst, found.probability_seen / exhausted(cells, weight, 1.0, 25))
    return Figure(
        issue=19,
        name="moving-target plan on small cases",
        ratio=worst,
        target=0.99,
        direction="at least",
        reference="the best of all plans tried, in steps of a 25th (the worst of 8 cases)",
    )


def _faster() -> Figure:
    cells, weight, count = walk(3, 7, 4, 300, 0.15)
    periods, spend = len(cells), 5.0
    known = cells >= 0
    place = np.where(known, cells, 0)

    def missed(flat: Floats) -> Floats:
        effort = flat.reshape(periods, count)
        spent = sum(np.where(known[t], effort[t][place[t]], 0.0) for t in range(periods))
        return np.asarray(np.exp(-np.asarray(spent)))

    def slope(flat: Floats) -> Floats:
        gone, out = missed(flat), np.zeros((periods, count))
        for t in range(periods):
            np.add.at(out[t], place[t], np.where(known[t], -weight * gone, 0.0))
        return out.ravel()

    def general() -> object:
        return minimize(
            lambda flat: float(weight @ missed(flat)),
            np.full(periods * count, spend / count),
            jac=slope,
            bounds=[(0.0, None)] * (periods * count),
            constraints=[LinearConstraint(np.kron(np.eye(periods), np.ones(count)), spend, spend)],
            method="SLSQP",
            options={"maxiter": 200, "ftol": 1e-8},
        )

    solved = general()
    found = best_effort(cells, weight, count, 1.0, [spend] * periods)
    ours = seconds(lambda: best_effort(cells, weight, count, 1.0, [spend] * periods), 5)
    return Figure(
        issue=19,
        name="speed of the moving-target plan, 4 periods over 49 cells",
        ratio=seconds(general, 1) / ours,
        target=10.0,
        direction="at least",
        reference="SciPy's constrained solver (SLSQP)",
        note=f"finds {found.probability_seen:.4f}, the solver {1.0 - solved.fun:.4f}",
    )


def _large() -> Figure:
    cells, weight, count = walk(5, 100, 12, 40_000, 0.12)
    # metres swept in an hour over cells of 2 km
    hourly = sum(SEARCHERS) * 1_852.0 / 2_000.0**2
    found = best_effort(cells, weight, count, 1.0, [hourly] * len(cells))
    took = seconds(lambda: best_effort(cells, weight, count, 1.0, [hourly] * len(cells)), 1)
    return Figure(
        issue=19,
        name="moving-target plan, 4 searchers, 12 h, 10,000 cells: at most this much better",
        ratio=gap(cells, weight, count, found.swept_m2, hourly) / found.probability_seen,
        target=0.01,
        direction="at most",
        reference="what it finds (a concave bound of the form of Washburn 1981, from memory)",
        note=f"finds {found.probability_seen:.3f} in {took:.1f} s",
    )


def gap(cells: Ints, weight: Floats, count: int, effort: Floats, spend: float) -> float:
    """Return what any plan can find more: by period, the best cell's gain less the plan's own."""
    place = np.where(cells >= 0, cells, count)
    wide = np.hstack([effort, np.zeros((len(cells), 1))])
    missed = np.exp(-sum(wide[t][place[t]] for t in range(len(cells))))
    more = 0.0
    for t in range(len(cells)):
        gain = np.bincount(place[t], weight * missed, minlength=count + 1)[:count]
        more += spend * float(gain.max()) - float(effort[t] @ gain)
    return more
