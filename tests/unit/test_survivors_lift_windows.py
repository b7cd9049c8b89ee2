"""When the sea forbids a part of a sortie: crossings, the next fit, beyond the forecast."""

from __future__ import annotations

import numpy as np
import pytest

from layers.forward_port.chain import gates
from layers.survivors.lifts.run.draws import Uniforms, seconds, tries
from layers.survivors.lifts.run.windows import (
    NEVER,
    OPEN,
    Spans,
    closed_spans,
    extended,
    sea_spans,
    wave_draws,
)
from layers.survivors.lifts.vehicle import ThreePoint
from tests.unit.lift_cases import NOW, NOW_US, limits, sea_series

AT = np.array([0, 3600, 7200, 10800, 14400])


def spans(values: list[float], limit: float = 2.0) -> list[tuple[int, int]]:
    found = closed_spans(np.array([values]), limit, AT)
    pairs = zip(found.starts[0].tolist(), found.ends[0].tolist(), strict=True)
    return [(start, end) for start, end in pairs if start < NEVER]


def test_the_crossing_is_where_the_straight_line_meets_the_limit() -> None:
    # COMPUTED by hand: 1 to 3 m in an hour meets 2 m half way; 4 to 0 m as well
    assert spans([1.0, 3.0, 4.0, 0.0, 0.0]) == [(1800, 9000)]


def test_a_sea_at_the_limit_is_open_and_one_above_it_closed() -> None:
    assert spans([2.0] * 5) == []
    assert spans([2.1] * 5) == [(-NEVER, NEVER)]


def test_two_blows_are_two_spans() -> None:
    assert spans([3.0, 1.0, 3.0, 1.0, 1.0]) == [(-NEVER, 1800), (5400, 9000)]


def test_a_part_is_put_off_to_the_end_of_the_span_it_meets() -> None:
    closed = Spans(np.array([[1000, NEVER]]), np.array([[2000, NEVER]]))
    rows = np.zeros(4, dtype=np.int64)
    begin = np.array([0, 500, 900, 2000])
    moved = closed.push(rows, begin, np.full(4, 100), np.full(4, 300))
    np.testing.assert_array_equal(moved, [0, 500, 1900, 2000])


def test_a_part_that_ends_as_the_span_opens_is_not_moved() -> None:
    closed = Spans(np.array([[1000, NEVER]]), np.array([[2000, NEVER]]))
    one = np.zeros(1, dtype=np.int64)
    begin = np.array([700])
    assert closed.push(one, begin, np.array([0]), np.array([300]))[0] == 700
    assert closed.push(one, begin, np.array([0]), np.array([301]))[0] == 2000
    assert OPEN.push(one, begin, np.array([0]), np.array([10**6]))[0] == 700


def test_wave_draws_have_the_mean_the_sigma_and_the_memory_they_are_given() -> None:
    series = sea_series(hours=48, sigma_m=0.2)
    waves = wave_draws(series, Uniforms(20_000, 3))
    # 2,000 seas: four standard errors of the mean
    np.testing.assert_allclose(waves.mean(axis=0), series.hs_m, atol=0.018)
    np.testing.assert_allclose(waves.std(axis=0), 0.2, atol=0.013)
    off = waves - series.hs_m
    # COMPUTED from the formula: correlation exp(-6/12) six hours apart
    assert np.corrcoef(off[:, 10], off[:, 16])[0, 1] == pytest.approx(np.exp(-0.5), abs=0.06)


def test_a_gale_that_delays_the_ship_closes_the_site_in_the_same_draw() -> None:
    """The chain's gate and the lifts' sea, worked out by two layers, are one sea draw by draw."""
    series = sea_series(hours=96, sigma_m=0.6)
    limit = gates.Limits(hs_max_m=2.4)
    chain = gates.gate(series, NOW, limit)
    assert chain is not None
    for n_draws, seed in ((500, 1), (3_000, 9)):
        waves = wave_draws(series, Uniforms(n_draws, seed))
        open_to_lifts = waves <= 2.4
        same = chain.open[np.arange(n_draws) % len(chain.open)]
        assert (open_to_lifts == same).mean() > 0.9999  # but for rounding at the limit
        assert 0.05 < 1.0 - same.mean() < 0.95
    longer = extended(series, int(series.at_us[-1]) + 48 * 3_600_000_000)
    np.testing.assert_allclose(
        wave_draws(longer, Uniforms(50, 1))[:, :96], wave_draws(series, Uniforms(50, 1)), atol=1e-6
    )


def test_beyond_the_forecast_a_blow_fades_and_the_tide_goes_on() -> None:
    series = sea_series(hours=27)  # ends at the height of the blow
    longer = extended(series, int(series.at_us[-1]) + 96 * 3_600_000_000)
    assert len(longer.at_us) == 27 + 96
    assert (np.diff(longer.at_us) == 3_600_000_000).all()
    mean = float(series.hs_m.mean())
    assert longer.hs_m[28] == pytest.approx(mean + (series.hs_m[-1] - mean) * np.exp(-2 / 18))
    assert longer.hs_m[-1] == pytest.approx(mean, abs=0.05)
    assert longer.hs_sigma_m[-1] > series.hs_sigma_m[-1]
    full = sea_series(hours=27 + 96)
    assert np.abs(longer.current_seat_kn - full.current_seat_kn).max() < 0.16
    np.testing.assert_array_equal(longer.daylight, full.daylight)


def test_a_forecast_long_enough_is_left_alone() -> None:
    series = sea_series()
    assert extended(series, NOW_US) is series


def test_a_gap_in_the_forecast_is_bridged_by_the_last_value() -> None:
    series = sea_series(hours=24, sigma_m=0.0)
    series.hs_m[3:6] = np.nan
    waves = wave_draws(series, Uniforms(2, 1))
    np.testing.assert_allclose(waves[0, 3:6], series.hs_m[2])


def test_daylight_counts_only_when_it_is_asked_for() -> None:
    series, uniforms = sea_series(), Uniforms(5, 1)
    waves = wave_draws(series, uniforms)
    assert sea_spans(series, waves, limits(), NOW_US).dark is OPEN
    dark = sea_spans(series, waves, limits(daylight_only=True), NOW_US).dark
    assert len(dark.starts[0]) > 5


def test_a_case_moves_the_sea_and_raises_it() -> None:
    series, uniforms = sea_series(sigma_m=0.0), Uniforms(1, 1)
    waves = wave_draws(series, uniforms)
    plain = sea_spans(series, waves, limits(), NOW_US).recovery
    late = sea_spans(series, waves, limits(), NOW_US, later_s=6 * 3600).recovery
    high = sea_spans(series, waves, limits(), NOW_US, higher_m=0.5).recovery
    assert late.starts[0, 0] - plain.starts[0, 0] == 6 * 3600
    assert high.starts[0, 0] < plain.starts[0, 0]
    assert high.ends[0, 0] > plain.ends[0, 0]


def test_times_follow_the_triangle_they_are_given() -> None:
    # the triangular distribution's mean (a+b+c)/3: handbook formula, from memory
    u = Uniforms(200_000, 2).take("x")
    drawn = seconds(u, ThreePoint(low=10, likely=20, high=60)) / 60.0
    assert drawn.mean() == pytest.approx(30.0, abs=0.1)
    assert drawn.min() >= 10.0
    assert drawn.max() <= 60.0
    # COMPUTED: a quarter of the time lies below the quantile of the closed form
    share = (20 - 10) / (60 - 10)
    assert (drawn <= 20).mean() == pytest.approx(share, abs=0.005)


def test_a_time_that_is_known_exactly_is_that_time() -> None:
    u = Uniforms(10, 1).take("x")
    assert (seconds(u, ThreePoint(low=7, likely=7, high=7)) == 420.0).all()


def test_matings_follow_the_geometric_law() -> None:
    # P(more than k attempts) = p^k: the geometric distribution, handbook, from memory
    found = tries(Uniforms(200_000, 4).take("m"), 0.3)
    assert found.min() == 1
    for k in (1, 2, 3):
        assert (found > k).mean() == pytest.approx(0.3**k, abs=0.004)


def test_half_the_luck_is_shared_by_the_lifts_of_a_vehicle() -> None:
    u = Uniforms(200_000, 5)
    one, other = u.alike("mate", "mate 1"), u.alike("mate", "mate 2")
    # COMPUTED: both follow the common draw with chance 1/4, else they are independent
    assert np.corrcoef(one, other)[0, 1] == pytest.approx(0.25, abs=0.01)
    assert one.mean() == pytest.approx(0.5, abs=0.005)


def test_a_name_gives_the_same_draws_whoever_asks_first() -> None:
    one, other = Uniforms(10, 1), Uniforms(10, 1)
    other.take("b")
    np.testing.assert_array_equal(one.take("a"), other.take("a"))
    assert (one.take("a") != one.take("b")).any()
