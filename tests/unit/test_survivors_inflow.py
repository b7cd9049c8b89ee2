"""Water that comes in or not, never out: against draws from which what flows out is thrown away."""

import numpy as np
import pytest

from layers.survivors.air.learning.inflow import only_in
from layers.survivors.air.state import Air

SHARES = (0.05, 0.25, 0.5, 0.75, 0.95)


def boat(water: np.ndarray, leak: np.ndarray, breath: np.ndarray) -> Air:
    ones = np.ones(water.shape)
    return Air(
        o2=2_000.0 * ones, co2=300.0 * ones, inert=9_000.0 * ones, volume_m3=260.0 * ones,
        oxygen_left=0.0 * ones, absorbs_left=0.0 * ones, breath=breath, rq=0.87 * ones,
        water_m3_h=water, leak_mol_h=leak, hold_o2_kpa=0.0 * ones, hold_co2_kpa=np.inf * ones,
        kelvin=280.0 * ones,
    )  # fmt: skip


def tied(mean: float, draws: int, seed: int) -> Air:
    """Water about a mean with a spread of 1, gas and breathing tied to it as readings tie them."""
    rng = np.random.default_rng(seed)
    water, other, own = rng.standard_normal((3, 1, draws))
    return boat(
        mean + water, 5.0 - 3.0 * water + 2.0 * other, np.exp(0.1 + 0.04 * water + 0.1 * own)
    )


@pytest.mark.parametrize("mean", [-2.0, 0.0, 1.0, 4.0])
def test_it_is_what_is_left_when_draws_that_flow_out_are_thrown_away(mean: float) -> None:
    found = only_in(tied(mean, 40_000, 1))
    other = tied(mean, 400_000, 2)
    kept = other.water_m3_h > 0.0
    for name in ("water_m3_h", "leak_mol_h", "breath"):
        ours = np.quantile(getattr(found, name), SHARES)
        theirs = np.quantile(getattr(other, name)[kept], SHARES)
        assert ours == pytest.approx(theirs, abs=0.05 * getattr(other, name).std()), name
    assert np.corrcoef(found.water_m3_h, found.leak_mol_h)[0, 1] == pytest.approx(
        np.corrcoef(other.water_m3_h[kept], other.leak_mol_h[kept])[0, 1], abs=0.02
    )


def test_before_anything_is_read_no_draw_is_dry_and_each_keeps_its_rank() -> None:
    air = tied(0.0, 4_000, 3)
    found = only_in(air)
    assert (found.water_m3_h > 0.0).all()
    assert (np.argsort(found.water_m3_h[0]) == np.argsort(air.water_m3_h[0])).all()


@pytest.mark.parametrize("mean", [-300.0, -9.0, 60.0])
def test_far_from_none_nothing_breaks_and_what_surely_comes_in_stays(mean: float) -> None:
    air = tied(mean, 4_000, 4)
    found = only_in(air)
    for name in ("water_m3_h", "leak_mol_h", "breath", "o2"):
        assert np.isfinite(getattr(found, name)).all()
    assert (found.water_m3_h >= 0.0).all()
    if mean > 0.0:
        assert found.water_m3_h == pytest.approx(air.water_m3_h)
    else:
        assert found.water_m3_h.mean() < 0.2


def test_water_that_is_known_exactly_is_left_and_none_at_the_least() -> None:
    ones = np.ones((2, 5))
    water = np.array([[0.4], [-0.4]]) * ones
    found = only_in(boat(water, 3.0 * ones, 1.1 * ones))
    assert found.water_m3_h[0] == pytest.approx(0.4)
    assert (found.water_m3_h[1] == 0.0).all()
    assert (found.leak_mol_h == 3.0).all()
