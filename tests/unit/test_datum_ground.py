"""She cannot lie on land, and hardly in water of the wrong depth."""

from datetime import UTC, datetime
from types import SimpleNamespace

import numpy as np
import pytest

from layers.datum.before.ground import GroundedPrior, ground_of
from layers.datum.before.prior import DiscPrior
from layers.datum.model import DepthLimits
from layers.earth.plane import Plane

PLANE = Plane(49.83, -8.5)
PRIOR = DiscPrior(
    words="anywhere",
    start=datetime(2027, 3, 12, 22, 0, tzinfo=UTC),
    span_s=3_600.0,
    centre_x_m=0.0,
    centre_y_m=0.0,
    radius_m=20_000.0,
)
SEA = SimpleNamespace(ready=lambda: True, is_land=lambda lat, lon: np.zeros(len(lat), dtype=bool))
NORTH_IS_LAND = SimpleNamespace(ready=lambda: True, is_land=lambda lat, lon: lat > 49.83)
NO_COAST = SimpleNamespace(ready=lambda: False, is_land=lambda lat, lon: np.zeros(len(lat), bool))


def depths(shallow_m, deep_m):
    """A bottom that is shallow in the west and deep in the east."""
    return SimpleNamespace(
        source="test grid",
        cell_m=100.0,
        depth_m=lambda lat, lon: np.where(lon < -8.5, shallow_m, deep_m),
    )


def test_open_sea_changes_nothing():
    assert ground_of(PRIOR, PLANE, SEA, None, None) is None
    assert ground_of(PRIOR, PLANE, NO_COAST, None, None) is None


def test_nothing_is_drawn_on_land():
    ground = ground_of(PRIOR, PLANE, NORTH_IS_LAND, None, None)
    prior = GroundedPrior(prior=PRIOR, ground=ground)
    states = prior.draw(20_000, np.random.default_rng(2))
    assert (states.y_m > 400.0).mean() < 1e-4
    assert states.y_m.min() < -19_000.0
    assert "kept from land" in prior.words


def test_land_is_all_but_impossible_in_the_density():
    prior = GroundedPrior(prior=PRIOR, ground=ground_of(PRIOR, PLANE, NORTH_IS_LAND, None, None))
    states = PRIOR.draw(5_000, np.random.default_rng(3))
    gap = prior.log_density(states) - PRIOR.log_density(states)
    closed, still_open = gap[states.y_m > 500.0], gap[states.y_m < -500.0]
    assert still_open == pytest.approx(still_open[0])
    assert closed - still_open[0] == pytest.approx(np.log(1e-6))
    # half is land: what is left adds up to 1 again, at twice the density
    assert still_open[0] == pytest.approx(np.log(2.0), abs=0.03)


def test_water_of_the_wrong_depth_is_unlikely_not_impossible():
    limits = DepthLimits(shallowest_m=60.0, deepest_m=600.0)
    ground = ground_of(PRIOR, PLANE, SEA, depths(30.0, 140.0), limits)
    states = GroundedPrior(prior=PRIOR, ground=ground).draw(40_000, np.random.default_rng(4))
    west = (states.x_m < -400.0).mean()
    assert west == pytest.approx(0.02 / 1.02, abs=0.006)
    assert "test grid" in ground.words


def test_a_depth_grid_without_limits_only_keeps_her_off_land():
    assert ground_of(PRIOR, PLANE, SEA, depths(30.0, 140.0), None) is None
    assert ground_of(PRIOR, PLANE, SEA, depths(-5.0, 140.0), None) is not None


def test_where_the_grid_knows_nothing_she_may_lie():
    limits = DepthLimits(shallowest_m=60.0, deepest_m=600.0)
    assert ground_of(PRIOR, PLANE, SEA, depths(np.nan, 140.0), limits) is None
