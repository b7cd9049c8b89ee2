"""The margin: endurance against the last one out, and whether its bands hold the truth."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from layers.survivors.air.endurance import NOT_REACHED_US, Endurance, RefugePeople
from layers.survivors.lifts.run.aboard import persons_of
from layers.survivors.lifts.run.ground import Case
from layers.survivors.lifts.run.outcome import evaluate, leaving_of, level_s, limits_s
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.spread import margin_h, margin_words, quantile, spread3
from tests.unit.lift_air import PlainAir
from tests.unit.lift_cases import NOW_US, eight_lifts, sea_series
from tests.unit.lift_ground import PEOPLE, ground
from tests.unit.test_survivors_lift_simulate import BEGUN


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (-7.2, "8 h short"),
        (-0.001, "1 min short"),
        (20.99, "20 h to spare"),
        (16.4, "16 h to spare"),
        (-0.5, "30 min short"),
        (0.0, "0 min to spare"),
    ],
)
def test_a_margin_says_its_sense_in_words(hours: float, said: str) -> None:
    assert margin_words(hours) == said


def test_margin_is_level_less_last_out_and_infinite_where_either_is_never() -> None:
    last = np.array([3600, 3600, NEVER, NEVER])
    level = np.array([7200, NEVER, 7200, NEVER])
    np.testing.assert_array_equal(margin_h(last, level), [1.0, math.inf, -math.inf, -math.inf])


def test_a_quantile_of_draws_with_infinities_is_one_of_the_draws() -> None:
    values = np.array([-math.inf] * 2 + [1.0] * 6 + [math.inf] * 2)
    assert [quantile(values, s) for s in (0.1, 0.5, 0.95)] == [-math.inf, 1.0, math.inf]


def test_quantiles_of_a_normal_sample_are_those_of_the_table() -> None:
    # standard normal P10, P90 = -/+1.2816: handbook table, from memory, not checked to a page
    draws = np.random.default_rng(1).standard_normal(200_000)
    band = spread3(draws)
    assert band.p10 == pytest.approx(-1.2816, abs=0.02)
    assert band.p50 == pytest.approx(0.0, abs=0.02)
    assert band.p90 == pytest.approx(1.2816, abs=0.02)


def test_nobody_is_counted_twice_and_nobody_without_a_lift_is_counted_out() -> None:
    few = (replace(PEOPLE[0], persons=20), PEOPLE[1])
    assert persons_of(eight_lifts(), few)[[0, 1, 4, 5]].sum() == 20
    more = ground(200, people=(replace(PEOPLE[0], persons=60), PEOPLE[1]))
    outcome = evaluate(eight_lifts(), more)
    assert (outcome.last_left_s["after"] == NEVER).all()
    assert (outcome.worst_margin_h == -math.inf).all()
    assert outcome.out_in_time.max() <= 112


def test_people_whose_hatch_is_shut_are_not_lifted_again() -> None:
    setting = eight_lifts(facts=BEGUN)
    assert persons_of(setting, PEOPLE)[0] == 0  # back on deck
    assert persons_of(setting, PEOPLE)[1] == 14  # still searching for the seat


def test_those_who_leave_make_the_air_of_the_rest_last_longer() -> None:
    base = ground(500)
    outcome = evaluate(eight_lifts(), base)
    leaving = leaving_of(outcome.setting, outcome.runs, outcome.persons)
    alone = limits_s(base.air(n_draws=500, pods=False, leaving=()), PEOPLE, NOW_US, 500)
    assert leaving
    assert (outcome.limit_s["after"] >= alone["after"]).all()
    assert (outcome.limit_s["after"] > alone["after"]).any()


def test_the_first_level_reached_counts() -> None:
    hour = 3_600_000_000
    two = [
        Endurance(refuge="after", level=name, source="t", runs_out_us=NOW_US + np.array(h) * hour)
        for name, h in (("a", [5, 9]), ("b", [7, 3]))
    ]
    never = Endurance(refuge="after", level="c", source="t", runs_out_us=np.full(2, NOT_REACHED_US))
    limit = limits_s([*two, never], PEOPLE, NOW_US, 2)
    np.testing.assert_array_equal(limit["after"] / 3600, [5, 3])
    assert "forward" not in limit  # nothing is known of it: no time, not never


def test_flooding_worse_shortens_what_is_left_by_its_share() -> None:
    one = Endurance(
        refuge="after", level="a", source="t", runs_out_us=np.array([NOW_US + 8 * 3_600_000_000])
    )
    assert level_s(one, NOW_US, 1, sooner=0.25)[0] == 6 * 3600


def test_a_rougher_sea_never_gets_more_people_out() -> None:
    base = ground(800)
    calm, rough = (evaluate(eight_lifts(), base, Case(title="", higher_m=m)) for m in (0.0, 0.6))
    assert rough.out_in_time.mean() < calm.out_in_time.mean()


def test_95_percent_bands_hold_synthetic_truth_93_to_97_times_in_100() -> None:
    """Truths are drawn from another seed; the bands of last out and margin come from ours."""
    setting = eight_lifts()
    bands, truth = evaluate(setting, ground(6_000)), evaluate(setting, ground(4_000, seed=77))
    truth_air = evaluate(
        setting,
        ground(
            4_000,
            seed=77,
            air=PlainAir({"after": 60.0, "forward": 90.0}, {"after": 56, "forward": 56}, seed=78),
        ),
    )
    for refuge in ("after", "forward"):
        held = _inside(bands.last_left_s[refuge], truth.last_left_s[refuge])
        assert 0.93 <= held <= 0.97, refuge
    assert 0.93 <= _inside(bands.worst_margin_h, truth_air.worst_margin_h) <= 0.97


def _inside(draws: np.ndarray, truths: np.ndarray) -> float:
    low, high = (quantile(draws.astype(np.float64), s) for s in (0.025, 0.975))
    return float(((truths >= low) & (truths <= high)).mean())


def test_an_empty_refuge_has_no_margin() -> None:
    empty = RefugePeople(
        refuge="forward", persons=0, stretcher=0, pressure_bar_abs=1.1, seat="clear"
    )
    outcome = evaluate(eight_lifts(), ground(100, people=(PEOPLE[0], empty)))
    assert set(outcome.last_left_s) == {"after"}


def test_no_forecast_forbids_nothing() -> None:
    blind = replace(ground(300), series=None, waves=None)
    sea = evaluate(eight_lifts(), ground(300, series=sea_series()))
    free = evaluate(eight_lifts(), blind)
    assert (free.last_left_s["after"] <= sea.last_left_s["after"]).mean() > 0.95
