"""A vehicle's way from its fixes, against ways made by another model than the filter's own."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from scipy.linalg import block_diag

from layers.earth.plane import Plane
from layers.earth.position import Position
from layers.transponders.net.track import HOLDS_S, SPEED_M_S, PlacedFix, told, way

START = datetime(2027, 3, 16, 4, 0, tzinfo=UTC)
SIGMA_M = 4.0


def lawnmower(times_s):
    """Return the place of a vehicle that goes lanes of 240 m at 0.6 m/s, 20 m apart."""
    along = 0.6 * np.asarray(times_s)
    lane, off = np.divmod(along, 260.0)
    run = np.minimum(off, 240.0)
    side = 20.0 * lane + np.maximum(off - 240.0, 0.0)
    return np.column_stack((np.where(lane % 2 == 0, run, 240.0 - run), side))


def fixes_of(rng, every_s=60.0, count=30):
    times = every_s * np.arange(count) + rng.uniform(0, 10.0, count)
    truth = lawnmower(times)
    seen = truth + rng.normal(0.0, SIGMA_M, truth.shape)
    made = [
        PlacedFix(at_s=float(t), place_m=p, covariance=np.eye(2) * SIGMA_M**2)
        for t, p in zip(times, seen, strict=True)
    ]
    return times, truth, made


def test_the_smoothed_way_is_nearer_and_its_95_percent_holds():
    rng = np.random.default_rng(7)
    inside, ours, raw, total = 0, 0.0, 0.0, 0
    for _ in range(40):
        _, truth, made = fixes_of(rng)
        found = way(made)
        off = found.state[:, :2] - truth[list(found.fits)]
        sure = np.linalg.inv(found.covariance[:, :2, :2])
        inside += int(np.sum(np.einsum("ni,nij,nj->n", off, sure, off) < 5.991))
        total += len(off)
        ours += float(np.sum(off**2))
        raw += float(np.sum([(f.place_m - t) ** 2 for f, t in zip(made, truth, strict=True)]))
    assert 0.93 <= inside / total <= 0.985  # lanes straighter than believed: more is allowed above
    assert ours < 0.9 * raw


def test_a_fix_300_m_off_is_set_aside_and_moves_nothing():
    rng = np.random.default_rng(8)
    _, _, made = fixes_of(rng)
    clean = way([*made[:12], *made[13:]])
    wrong = PlacedFix(
        at_s=made[12].at_s,
        place_m=made[12].place_m + np.array([300.0, 0.0]),
        covariance=made[12].covariance,
    )
    found = way([*made[:12], wrong, *made[13:]])
    assert [n for n, fits in enumerate(found.fits) if not fits] == [12]
    assert np.allclose(found.state, clean.state)
    assert found.gap_m[12] == pytest.approx(300.0, abs=60.0)


def test_two_fixes_that_agree_elsewhere_begin_the_way_anew():
    near = np.eye(2) * SIGMA_M**2
    here = [PlacedFix(at_s=60.0 * n, place_m=np.array([0.6 * 60 * n, 0.0]), covariance=near)
            for n in range(6)]  # fmt: skip
    there = [PlacedFix(at_s=360.0 + 60.0 * n, place_m=np.array([900.0, 900.0]), covariance=near)
             for n in range(3)]  # fmt: skip
    found = way([*here, *there])
    assert found.fits == (*(True,) * 6, False, True, True)
    assert np.allclose(found.state[-1, :2], [900.0, 900.0], atol=5.0)
    assert np.allclose(found.state[0, :2], [0.0, 0.0], atol=5.0)


def test_where_it_is_now_grows_as_a_walk_whose_speed_is_forgotten():
    fix = PlacedFix(at_s=0.0, place_m=np.zeros(2), covariance=np.eye(2) * SIGMA_M**2)
    _, soon = way([fix]).ahead(60.0)
    _, late = way([fix]).ahead(7200.0)
    # after long the variance of an integrated Gauss-Markov velocity is 2 v² T t (Taylor 1921)
    assert late[0, 0] == pytest.approx(2 * SPEED_M_S**2 * HOLDS_S * 7200.0, rel=0.06)
    assert soon[0, 0] == pytest.approx(SIGMA_M**2 + (SPEED_M_S * 60.0) ** 2, rel=0.1)


def test_smoothing_equals_the_whole_least_squares_at_once():
    """The joint normal of all states, solved in one piece, is what filter and smoother give."""
    rng = np.random.default_rng(9)
    _, _, made = fixes_of(rng, count=6)
    found = way(made)
    a = np.exp(-np.diff([f.at_s for f in made]) / HOLDS_S)
    lapse = np.diff([f.at_s for f in made])
    moves, noises = [], []
    for b, t in zip(a, lapse, strict=True):
        one = np.array([[1.0, HOLDS_S * (1 - b)], [0.0, b]])
        fine = np.linspace(0.0, t, 4001)  # the noise by summing small steps, not by the integral
        left = np.exp(-(t - fine) / HOLDS_S)
        kernel = np.column_stack((HOLDS_S * (1 - left), left)) * np.sqrt(2 * SPEED_M_S**2 / HOLDS_S)
        moves.append(one)
        noises.append(np.trapezoid(kernel[:, :, None] * kernel[:, None, :], fine, axis=0))
    for axis in (0, 1):
        n = len(made)
        rows = np.zeros((2 * n, 2 * n))
        rows[:2, :2] = np.eye(2)
        for k in range(n - 1):
            rows[2 * k + 2 : 2 * k + 4, 2 * k : 2 * k + 2] = -moves[k]
            rows[2 * k + 2 : 2 * k + 4, 2 * k + 2 : 2 * k + 4] = np.eye(2)
        weight = np.linalg.inv(block_diag(np.diag([1e9, SPEED_M_S**2]), *noises))
        normal = rows.T @ weight @ rows
        pull = np.zeros(2 * n)
        for k, fix in enumerate(made):
            normal[2 * k, 2 * k] += 1 / SIGMA_M**2
            pull[2 * k] = fix.place_m[axis] / SIGMA_M**2
        assert np.allclose(np.linalg.solve(normal, pull)[::2], found.state[:, axis], atol=0.02)


def test_what_is_told_says_course_speed_and_strays():
    rng = np.random.default_rng(10)
    plane = Plane.about(Position(49.8, -8.5))
    at = [START + timedelta(seconds=20 * n) for n in range(8)]
    places = [plane.position(0.6 * 20 * n + rng.normal(0, 0.5), 0.0) for n in range(8)]
    places[5] = plane.position(0.6 * 20 * 5, 400.0)
    track = told(at, places, [np.eye(2) * 0.25] * 8, at[-1] + timedelta(seconds=10))
    assert track.course_true_deg == pytest.approx(90.0, abs=10.0)
    assert track.speed_m_s == pytest.approx(0.6, abs=0.1)
    assert [when for when, _ in track.strays] == [at[5]]
    still = told(at, [plane.position(0.0, 0.0)] * 8, [np.eye(2)] * 8, at[-1])
    assert still.course_true_deg is None
