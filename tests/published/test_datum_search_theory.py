"""Search theory against published formulas, integration and a general solver."""

import numpy as np
import pytest
from scipy.optimize import LinearConstraint, minimize

from layers.datum.evidence.searched import NotSeenTerm
from layers.datum.search.allocation import allocate
from layers.datum.search.detection import (
    hours_to_cover,
    pod,
)
from layers.earth.errors import InputError

# Koopman, Search and Screening, OEG Report 56 (1946): VERIFIED by integration (scipy quad of the
# inverse-cube lateral range curve over parallel tracks); the report itself not seen.
POD_ROWS = [
    (0.50, 0.39347, 0.46912),
    (1.00, 0.63212, 0.78991),
    (1.25, 0.71350, 0.88280),
    (1.50, 0.77687, 0.93989),
    (2.00, 0.86466, 0.98781),
]


@pytest.mark.parametrize(("coverage", "random", "cube"), POD_ROWS)
def test_chance_of_detection_at_a_coverage(coverage, random, cube):
    assert pod(coverage, "random") == pytest.approx(random, abs=1e-5)
    assert pod(coverage, "inverse cube") == pytest.approx(cube, abs=1e-5)


def test_definite_range_is_capped_at_one():
    # COMPUTED: POD = C, capped at 1 (Koopman 1946)
    assert pod(0.7, "definite range") == 0.7
    assert pod(1.7, "definite range") == 1.0


def test_two_searches_are_worth_less_than_one_of_twice_the_coverage():
    # COMPUTED: 0.71816 for two at C = 0.5, inverse cube; 0.77687 for random C = 1 and 0.5
    assert 1.0 - (1.0 - pod(0.5)) ** 2 == pytest.approx(0.71816, abs=1e-5)
    both = 1.0 - (1.0 - pod(1.0, "random")) * (1.0 - pod(0.5, "random"))
    assert both == pytest.approx(0.77687, abs=1e-5)


def test_many_parallel_tracks_give_the_inverse_cube_formula():
    # tracks 1,000 m apart with W = 1,000 m: coverage 1, POD 0.78991 between the middle tracks
    offs = (np.arange(-60, 61) + 0.5) * 1_000.0
    x, y = [], []
    for number, off in enumerate(offs):
        ends = (-200_000.0, 200_000.0) if number % 2 == 0 else (200_000.0, -200_000.0)
        x += [off, off]
        y += list(ends)
    term = NotSeenTerm(
        x_m=np.array(x), y_m=np.array(y), sweep_width_m=1_000.0, curve="inverse cube", reliable=1.0
    )
    places = np.linspace(-500.0, 500.0, 401)
    seen = term.detected(places, np.zeros_like(places)).mean()
    assert seen == pytest.approx(0.78991, abs=2e-3)


def test_a_leg_cut_short_proves_less_beyond_its_end():
    whole = NotSeenTerm(
        x_m=np.array([0.0, 0.0]),
        y_m=np.array([-9e4, 9e4]),
        sweep_width_m=2_000.0,
        curve="inverse cube",
        reliable=1.0,
    )
    short = NotSeenTerm(
        x_m=np.array([0.0, 0.0]),
        y_m=np.array([-9e4, 0.0]),
        sweep_width_m=2_000.0,
        curve="inverse cube",
        reliable=1.0,
    )
    x, y = np.array([500.0]), np.array([0.0])
    # abeam of the very end exactly half of the exponent is gained
    left = np.log(1.0 - short.detected(x, y)) / np.log(1.0 - whole.detected(x, y))
    assert left[0] == pytest.approx(0.5, abs=1e-3)
    assert short.detected(x, y + 6_000.0)[0] < 0.02


def test_localisation_at_1_5_kn_over_a_6_nmi_circle_takes_what_arithmetic_gives():
    # Common practice, no source: the rescue vehicle searches at 1 to 2 kn. By hand: the circle
    # holds pi * 3^2 = 28.27 nmi2; at a spacing of 0.5 nmi 56.5 nmi of track; at 1.5 kn 37.7 h;
    # 11 changes of track of 0.5 nmi add 3.67 h: 41.4 h.
    hours = hours_to_cover(6.0 * 1852.0, 0.5 * 1852.0, 1.5)
    assert hours == pytest.approx(28.2743 / 0.5 / 1.5 + 11 * 0.5 / 1.5, rel=1e-4)


def heap(cells, seed=5):
    rng = np.random.default_rng(seed)
    side = int(np.sqrt(cells))
    y, x = np.mgrid[0:side, 0:side] / side - 0.5
    held = np.exp(-((x / 0.2) ** 2) - (y / 0.12) ** 2) + 0.3 * np.exp(
        -((x - 0.3) ** 2 + (y + 0.2) ** 2) / 0.01
    )
    held *= 1.0 + 0.2 * rng.random(held.shape)
    return held / held.sum()


def test_optimum_agrees_with_a_general_constrained_solver():
    held = heap(100).ravel()
    effort = 20.0
    found = allocate(held, 1.0, effort)
    general = minimize(
        lambda u: -np.sum(held * (1.0 - np.exp(-u))),
        np.full(held.size, effort / held.size),
        jac=lambda u: -held * np.exp(-u),
        bounds=[(0.0, None)] * held.size,
        constraints=[LinearConstraint(np.ones((1, held.size)), effort, effort)],
        method="SLSQP",
        options={"maxiter": 500, "ftol": 1e-12},
    )
    assert general.success
    assert found.probability_seen == pytest.approx(-general.fun, rel=1e-3)
    assert found.probability_seen >= -general.fun - 1e-9
    assert found.swept_m2.sum() == pytest.approx(effort, rel=1e-9)


def test_every_searched_cell_is_left_at_one_level():
    held = heap(400)
    found = allocate(held, 2.5, 300.0)
    left = held / 2.5 * np.exp(-found.swept_m2 / 2.5)
    searched = found.swept_m2 > 0.0
    assert np.ptp(left[searched]) < 1e-12
    assert left[~searched].max() <= left[searched].max() + 1e-12


def test_cells_of_unequal_size_are_left_at_one_density():
    rng = np.random.default_rng(2)
    held = heap(400).ravel()
    area = rng.uniform(0.5, 3.0, held.size)
    found = allocate(held, area, 150.0)
    left = held / area * np.exp(-found.swept_m2 / area)
    searched = found.swept_m2 > 0.0
    assert np.ptp(left[searched]) < 1e-12
    assert found.swept_m2.sum() == pytest.approx(150.0, rel=1e-9)


def test_no_effort_finds_nothing_and_negative_effort_is_refused():
    assert allocate(heap(100), 1.0, 0.0).probability_seen == pytest.approx(0.0, abs=1e-12)
    with pytest.raises(InputError):
        allocate(heap(100), 1.0, -1.0)
