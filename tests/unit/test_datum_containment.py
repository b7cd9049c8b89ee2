"""The grid, what it holds, and the smallest circle, against closed forms of the normal law."""

import numpy as np
import pytest

from layers.datum.probability.containment import ellipse_95, grid_of, smallest_circle
from layers.datum.probability.heaps import most_probable

COUNT = 200_000


@pytest.fixture(scope="module")
def cloud():
    rng = np.random.default_rng(7)
    x, y = (
        1_000.0 + 500.0 * rng.standard_normal(COUNT),
        -2_000.0 + 500.0 * rng.standard_normal(COUNT),
    )
    return x, y, np.full(COUNT, 1.0 / COUNT)


def test_smallest_circle_of_a_round_normal_cloud(cloud):
    # sqrt(chi2.ppf(0.95, 2)) = 2.44775 sigma; VERIFIED: scipy stats.chi2; tolerance 0.01 at n=2e5
    grid = grid_of(*cloud)
    centre, radius = smallest_circle(*cloud, grid)
    assert radius / 500.0 == pytest.approx(2.4477, abs=0.015)
    assert np.hypot(centre[0] - 1_000.0, centre[1] + 2_000.0) < 40.0


def test_ellipse_of_a_long_cloud_points_along_it():
    rng = np.random.default_rng(8)
    along, across = 900.0 * rng.standard_normal(COUNT), 300.0 * rng.standard_normal(COUNT)
    turn = np.radians(30.0)
    x = along * np.sin(turn) + across * np.cos(turn)
    y = along * np.cos(turn) - across * np.sin(turn)
    found = ellipse_95(x, y, np.full(COUNT, 1.0 / COUNT))
    assert found.bearing_true_deg == pytest.approx(30.0, abs=0.5)
    assert found.semi_major_m == pytest.approx(2.44775 * 900.0, rel=0.01)
    assert found.semi_minor_m == pytest.approx(2.44775 * 300.0, rel=0.01)


def test_the_grid_and_what_is_outside_add_up_to_one(cloud):
    grid = grid_of(*cloud)
    assert grid.held.sum() + grid.outside == pytest.approx(1.0, abs=1e-12)


def test_half_of_a_normal_cloud_lies_in_its_closed_form_area(cloud):
    # CEP 1.17741 sigma: area pi (1.17741 sigma)^2; VERIFIED: scipy stats.chi2
    grid = grid_of(*cloud)
    assert grid.area_m2(0.5) == pytest.approx(np.pi * (1.17741 * 500.0) ** 2, rel=0.04)


def test_most_probable_place_is_the_top_of_the_heap(cloud):
    x, y = most_probable(grid_of(*cloud))
    assert np.hypot(x - 1_000.0, y + 2_000.0) < 25.0
