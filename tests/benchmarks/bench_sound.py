"""Rays against stepping them, and the box-in against the bare solver, in one run."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import least_squares

from layers.transponders.net.boxin import Replies, residuals, solve
from layers.transponders.net.priors import Priors
from layers.transponders.sound.rays import fan, paths
from layers.transponders.sound.terrain import STEP_M, hits
from layers.transponders.sound.travel import direct_rays, travel_table
from tests.benchmarks.figure import Figure, seconds

# The largest step with which stepping comes within 1 m of the closed form.
CLOSE = {"rtol": 1e-7, "atol": 1e-3, "max_step": 25.0}
RAYS, LAYERS, RANGE_M, SOURCE_M = 1000, 200, 20_000.0, 1000.0


def figures() -> list[Figure]:
    """Return the figures of sound and box-in."""
    return [*_rays(), _sloping(), *_box_in()]


def best(work: Callable[[], object], runs: int) -> float:
    """Return the shortest wall-clock seconds of some runs, after one warm-up.

    A few milliseconds are told apart from a busy machine by their best, not by their median.
    """
    work()
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def _profile() -> tuple[np.ndarray, np.ndarray]:
    z = np.linspace(0.0, 5000.0, LAYERS + 1)
    scaled = 2.0 * (z - 1300.0) / 1300.0  # Munk 1974
    return z, 1500.0 * (1.0 + 0.00737 * (scaled - 1.0 + np.exp(-scaled)))


def _rays() -> list[Figure]:
    z, c = _profile()
    angles = np.linspace(-14.0, 14.0, RAYS)
    gradient = np.diff(c) / np.diff(z)
    step = z[1]

    def slope(_x: float, state: np.ndarray) -> np.ndarray:
        depth, angle, _ = state.reshape(3, -1)
        at = np.clip((depth / step).astype(int), 0, LAYERS - 1)
        speed = c[at] + gradient[at] * (depth - z[at])
        return np.concatenate((np.tan(angle), -gradient[at] / speed, 1.0 / (speed * np.cos(angle))))

    def stepped() -> np.ndarray:
        start = np.concatenate((np.full(RAYS, SOURCE_M), np.radians(angles), np.zeros(RAYS)))
        # All rays as one system, and a step no longer than it takes to come within 1 m.
        made = solve_ivp(slope, (0.0, RANGE_M), start, **CLOSE)
        return made.y[:RAYS, -1]

    def ours() -> np.ndarray:
        return paths(fan(z, c, SOURCE_M, angles), np.array([RANGE_M])).depth_m[:, 0]

    gap = float(np.max(np.abs(ours() - stepped())))
    fast, slow = best(ours, 15), best(stepped, 3)
    few = angles[::100]

    def one_by_one() -> None:
        for angle in few:
            start = np.array([SOURCE_M, np.radians(angle), 0.0])
            solve_ivp(slope, (0.0, RANGE_M), start, **CLOSE)

    each = best(one_by_one, 3) * (RAYS / len(few))
    shared = {"issue": 5, "target": 50.0, "direction": "at least"}
    return [
        Figure(
            name="1,000 rays to 20 km, times as fast as one ray after another",
            ratio=each / fast, reference="solve_ivp ray by ray (10 of them, times 100)",
            note=f"ours {fast * 1e3:.0f} ms", **shared,
        ),
        Figure(
            name="1,000 rays to 20 km, times as fast as all stepped together",
            ratio=slow / fast, reference="solve_ivp on all rays as one system",
            note=f"greatest gap in depth {gap:.2f} m", **shared,
        ),
        Figure(
            issue=5, name="1,000 rays to 20 km, greatest gap in depth", ratio=gap, target=1.0,
            direction="at most", reference="solve_ivp", unit="m",
        ),
    ]  # fmt: skip


def _sloping() -> Figure:
    """The bottom rises by 150 m a kilometre: where each ray first meets it, in steps of 75 m."""
    z, c = _profile()
    rays = fan(z, c, SOURCE_M, np.linspace(-14.0, 14.0, RAYS))
    ranges = np.arange(0.0, RANGE_M + STEP_M, STEP_M)
    bed = z[-1] - 0.15 * ranges
    taken = []
    for _ in range(9):  # seconds of the processor: others on a busy machine count for neither
        begun = time.process_time()
        paths(rays, ranges)
        between = time.process_time()
        hits(paths(rays, ranges).depth_m, bed)
        taken.append((between - begun, time.process_time() - between))
    flat, over = (min(column) for column in zip(*taken, strict=True))
    return Figure(
        issue=20, name="1,000 rays over a sloping bottom", ratio=over / flat, target=3.0,
        direction="at most", reference="the same rays over a flat one",
        note=f"sloping {over * 1e3:.0f} ms, flat {flat * 1e3:.0f} ms",
    )  # fmt: skip


def _box_in() -> list[Figure]:
    rng = np.random.default_rng(5)
    z, c = np.array([0.0, 30.0, 50.0, 160.0]), np.array([1492.0, 1491.5, 1489.0, 1490.5])
    true = np.array([[250.0, 240, 141], [240, -250, 143], [-260, -240, 142], [-250, 255, 140.5]])
    turn = np.linspace(0.0, 20.0 * np.pi, 2000)
    east, north = 450.0 * np.sin(turn), 450.0 * np.cos(turn)
    times = []
    for place in true:
        rays = direct_rays(z, c, 5.0, place[2])
        level = np.hypot(place[0] - east, place[1] - north)
        exact = np.sqrt(np.interp(level**2, rays.range_m**2, rays.time_s**2))
        wild = np.where(rng.random(2000) < 0.02, 0.1, 0.0)
        times.append(exact + rng.normal(0.0, 1.0 / 1490.0, 2000) + wild)
    replies = Replies(
        which=np.repeat(np.arange(4), 2000), east_m=np.tile(east, 4), north_m=np.tile(north, 4),
        depth_m=np.full(8000, 5.0), one_way_s=np.concatenate(times),
        tables=(travel_table(z, c, 5.0, 142.0, 2000.0),) * 4,
    )  # fmt: skip
    start = true + np.array([60.0, -60.0, 0.0])
    # the places, then scale, her position, arm and lateness, then the delays; see `residuals`
    bare_start = np.concatenate((start.ravel(), [1.0], np.zeros(5 + 4)))
    scale = np.concatenate((np.full(12, 100.0), [0.01], np.ones(5), np.full(4, 0.01)))

    # What is known beforehand counts as observed for both: without it her own common error and
    # the places are the same thing, and there is no one solution to find.
    priors = Priors()
    shared = [priors.scale, priors.ship_m, priors.ship_m, priors.lever_m, priors.lever_m]
    sigma = np.concatenate(
        (np.tile([1e6, 1e6, 5.0], 4), shared, [priors.late_s], np.full(4, priors.delay_s))
    )

    def held(unknown: np.ndarray) -> np.ndarray:
        return np.concatenate((residuals(unknown, replies), (unknown - bare_start) / sigma))

    def bare() -> object:
        return least_squares(held, bare_start, x_scale=scale)

    ours, theirs = seconds(lambda: solve(replies, start)), seconds(bare)
    return [
        Figure(
            issue=5, name="box-in of 4 transponders from 2,000 ranges each", ratio=ours / theirs,
            target=3.0, direction="at most",
            reference="scipy.optimize.least_squares with the same residuals and priors",
            note=f"ours {ours * 1e3:.0f} ms with outliers found, bare {theirs * 1e3:.0f} ms",
        )
    ]  # fmt: skip
