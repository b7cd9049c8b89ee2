"""Boxing in against a simulated track with known truth, and what cannot be boxed in."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from layers.earth.errors import InputError
from layers.transponders.net.boxin import CUT, Replies, other_side, residuals, solve
from layers.transponders.sound.travel import direct_rays, travel_table

Z = np.array([0.0, 30.0, 50.0, 160.0])
C = np.array([1492.0, 1491.5, 1489.0, 1490.5])
TRUE = np.array([[250.0, 240.0, 141.0], [240.0, -250.0, 143.0], [-260.0, -240.0, 142.0],
                 [-250.0, 255.0, 140.5]])  # fmt: skip


@lru_cache(maxsize=1)
def table():
    return travel_table(Z, C, 5.0, 142.0, 2000.0)


def ring_track(n, rng, radius_m=450.0):
    turn = np.linspace(0.0, 2.0 * np.pi, n, endpoint=False)
    return radius_m * np.sin(turn) + rng.normal(0, 20, n), radius_m * np.cos(turn) + rng.normal(
        0, 20, n
    )


def line_track(n, rng):
    return np.linspace(-600.0, 600.0, n), 30.0 + 0.0 * rng.normal(0, 1, n)


def simulated(rng, n=60, track=ring_track, scale=1.0, sigma_m=1.0, wild=0.0):
    """Return replies through the bent rays of a profile `scale` times as fast, and start places."""
    east, north, time, which, tables = [], [], [], [], []
    for k, place in enumerate(TRUE):
        e, n_ = track(n, rng)
        rays = direct_rays(Z, C * scale, 5.0, place[2], 150)
        level = np.hypot(place[0] - e, place[1] - n_)
        t = np.sqrt(np.interp(level**2, rays.range_m**2, rays.time_s**2))
        t += rng.normal(0, sigma_m / 1490.0, n)
        t[rng.random(n) < wild] += rng.uniform(0.02, 0.2)
        east.append(e), north.append(n_), time.append(t), which.append(np.full(n, k))
        tables.append(table())
    replies = Replies(
        which=np.concatenate(which), east_m=np.concatenate(east), north_m=np.concatenate(north),
        depth_m=np.full(4 * n, 5.0), one_way_s=np.concatenate(time), tables=tuple(tables),
    )  # fmt: skip
    start = TRUE + np.array([60.0, -60.0, 0.0])
    start[:, 2] = 142.0
    return replies, start


def test_without_noise_the_truth_comes_back():
    replies, start = simulated(np.random.default_rng(1), sigma_m=0.0)
    solved = solve(replies, start)
    assert np.max(np.abs(solved.place_m - TRUE)) < 0.05
    assert solved.scale == pytest.approx(1.0, abs=2e-5)


def test_a_profile_that_is_wrong_by_a_scale_is_found_out():
    replies, start = simulated(np.random.default_rng(2), scale=1.002, sigma_m=0.2, n=400)
    solved = solve(replies, start)
    assert solved.scale == pytest.approx(1.002, abs=3 * solved.scale_sigma)
    assert np.max(np.abs(solved.place_m[:, :2] - TRUE[:, :2])) < 0.5


def test_wild_replies_are_found_and_left_out():
    replies, start = simulated(np.random.default_rng(3), wild=0.08)
    clean, _ = simulated(np.random.default_rng(3), wild=0.0)
    solved = solve(replies, start)
    wild = replies.one_way_s - clean.one_way_s > 0.01
    # The generators part after the first wild draw, so only the first transponder compares.
    first = replies.which == 0
    assert np.sum(wild[first]) > 0
    assert not np.any(solved.used[first & wild])
    assert np.hypot(*(solved.place_m - TRUE)[0, :2]) < 1.5
    assert np.all(np.abs(solved.residual_m[solved.used]) <= CUT * 2.0)


def test_the_residuals_are_slant_less_measured():
    replies, _ = simulated(np.random.default_rng(4), sigma_m=0.0)
    exact = residuals(np.append(TRUE.ravel(), 1.0), replies)
    assert np.max(np.abs(exact)) < 0.05
    longer = residuals(np.append((TRUE + np.array([0.0, 0.0, 5.0])).ravel(), 1.0), replies)
    assert np.all(longer > 0.5)


def calibration(trials: int) -> tuple[int, int]:
    inside = 0
    for trial in range(trials):
        rng = np.random.default_rng(10_000 + trial)
        replies, start = simulated(rng, n=24, scale=1.0 + rng.normal(0, 0.0015), wild=0.02)
        solved = solve(replies, start)
        k = trial % 4
        gap = (solved.place_m[k] - TRUE[k])[:2]
        from scipy import stats

        limit = 2.0 * stats.f.ppf(0.95, 2, solved.freedom)
        inside += gap @ np.linalg.solve(solved.covariance[k, :2, :2], gap) <= limit
    return inside, trials


def test_the_95_percent_ellipse_holds_the_truth_93_to_97_times_in_100():
    # 400 simulated box-ins with noise, wild replies and a wrong sound speed.
    inside, trials = calibration(400)
    assert 0.93 <= inside / trials <= 0.97, f"{inside} of {trials}"


def test_a_straight_track_leaves_two_sides_and_says_so():
    replies, start = simulated(np.random.default_rng(5), track=line_track, n=80)
    solved = solve(replies, start)
    mirror = other_side(replies, solved, 0)
    assert mirror == pytest.approx([TRUE[0, 0], 60.0 - TRUE[0, 1]], abs=8.0)
    around, start = simulated(np.random.default_rng(5))
    assert other_side(around, solve(around, start), 0) is None


def test_too_few_replies_are_refused():
    replies, start = simulated(np.random.default_rng(6), n=4)
    with pytest.raises(InputError, match="4 replies from one transponder"):
        solve(replies, start)


def test_replies_from_one_place_fix_nothing():
    def still(n, rng):
        return np.zeros(n), np.zeros(n)

    replies, start = simulated(np.random.default_rng(7), track=still, n=20)
    with pytest.raises(InputError, match=r"does not fix the place|replies agree"):
        solve(replies, start)
