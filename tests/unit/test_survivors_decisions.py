"""Decisions run on the same draws: their gains, what binds, latest starts, regret, readings."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from demo_data.scenario import z
from layers.earth.errors import InputError
from layers.survivors.decisions.bounds import latest_start, relax
from layers.survivors.decisions.choices import weigh
from layers.survivors.decisions.gain import compare, mean_change, quantile_change, rank
from layers.survivors.decisions.regret import readings, regret_table
from layers.survivors.lifts.choose import as_chosen, decide, fill_lifts
from layers.survivors.lifts.model import Priority
from layers.survivors.lifts.propose import propose
from layers.survivors.lifts.run.ground import fewer
from layers.survivors.lifts.run.outcome import evaluate
from layers.survivors.muster.escape_or_wait import consequences, depth_fsw, stated_risk
from tests.unit.lift_air import PlainAir
from tests.unit.lift_cases import eight_lifts, lift, limits, vehicle
from tests.unit.lift_ground import PEOPLE, ground, on_the_table, option


def test_eight_decisions_come_in_order_of_people_out_in_time() -> None:
    ranked = rank(on_the_table(), ground(600))
    persons = [gain.persons.value for gain in ranked.gains if gain.persons]
    assert len(persons) == 8
    assert persons == sorted(persons, reverse=True)


def test_a_decision_that_changes_nothing_gains_exactly_nothing() -> None:
    """Common random numbers: the difference of two equal plans is zero in every draw."""
    same = option("same", launch_hs_m=3.0)
    gain = rank(on_the_table(options=(same,), chosen=()), ground(300)).gains[0]
    assert gain.persons is not None
    assert (gain.persons.value, gain.persons.bar) == (0.0, 0.0)
    assert gain.p50_h is not None
    assert gain.p50_h.value == 0.0


def test_a_decision_already_taken_shows_what_it_gives_now() -> None:
    setting, base = on_the_table(), ground(500)
    gain = next(g for g in rank(setting, base).gains if g.key == "order")
    with_it = evaluate(as_chosen(setting), base)
    without = evaluate(as_chosen(replace(setting, chosen=())), base)
    assert gain.taken
    assert gain.persons is not None
    expected = with_it.out_in_time.mean() - without.out_in_time.mean()
    assert gain.persons.value == pytest.approx(expected)


def test_paired_draws_have_smaller_error_bars_than_independent_ones() -> None:
    setting = on_the_table()
    air = PlainAir({"after": 60.0, "forward": 90.0}, {"after": 56, "forward": 56}, seed=9)
    one = evaluate(setting, ground(1_000))
    other = evaluate(setting, ground(1_000, seed=9, air=air))
    sea = evaluate(decide(setting, (option("s", recovery_hs_m=2.7),)), ground(1_000))
    paired = mean_change(sea.out_in_time, one.out_in_time).bar
    apart = mean_change(sea.out_in_time, other.out_in_time).bar
    assert paired < apart


def test_the_error_bar_of_a_mean_is_that_of_the_textbook() -> None:
    # COMPUTED from the formula: half width = 1.96 s / sqrt(n); s of 0, 2 repeated is 1 (n large)
    after = np.tile([0.0, 2.0], 5_000)
    change = mean_change(after, np.zeros(10_000))
    assert change.value == 1.0
    assert change.bar == pytest.approx(1.96 / 100.0, rel=1e-3)


def test_error_bars_hold_the_change_of_a_long_run_about_95_times_in_100() -> None:
    setting = on_the_table()
    better = decide(setting, (option("s", recovery_hs_m=2.7),))
    hits, runs = 0, 60
    long = mean_change(
        evaluate(better, ground(8_000, seed=500)).out_in_time,
        evaluate(setting, ground(8_000, seed=500)).out_in_time,
    )
    for seed in range(runs):
        base = ground(200, seed=seed)
        change = mean_change(
            evaluate(better, base).out_in_time, evaluate(setting, base).out_in_time
        )
        hits += abs(change.value - long.value) <= math.hypot(change.bar, long.bar)
    assert hits / runs >= 0.88  # 95 % less three standard errors of 60 trials


def test_a_quantile_change_against_infinity_has_no_error_bar() -> None:
    change = quantile_change(np.ones(100), np.full(100, -np.inf), 0.5)
    assert change.value == math.inf
    assert math.isnan(change.bar)


def test_with_nobody_left_in_a_refuge_a_comparison_gains_nothing() -> None:
    """Read half a year after the exercise, the comparison broke on a single number."""
    outcome = evaluate(on_the_table(), ground(50))
    nobody = replace(outcome, last_left_s={})
    gain = compare(option("same", launch_hs_m=3.0), True, nobody, nobody)
    assert gain.sooner_h is not None
    assert gain.sooner_h.value == 0.0


def test_a_decision_that_cannot_be_run_says_why_and_the_others_stand() -> None:
    wrong = option("wrong", add_vehicle="NO SUCH")
    ranked = rank(on_the_table(options=(wrong, option("pods", pods=True))), ground(200))
    assert [gain.key for gain in ranked.gains] == ["pods", "wrong"]
    assert "NO SUCH" in ranked.gains[1].reason


def test_relaxing_one_limit_never_loses_people_on_average() -> None:
    base = ground(600)
    found = relax(evaluate(as_chosen(on_the_table()), base), base)
    assert [one.persons.value for one in found] == sorted(
        (one.persons.value for one in found), reverse=True
    )
    assert found[0].persons.value > 0
    by_what = {one.what: one for one in found}
    assert by_what["every level of the air 1 h later"].p50_h.value == pytest.approx(1.0)


def test_the_latest_start_keeps_the_chance_and_half_an_hour_later_does_not() -> None:
    base = ground(800)
    setting = on_the_table(limits=limits(chance_wanted=0.15), chosen=("after first",))
    outcome = evaluate(as_chosen(setting), base)
    found = latest_start("now", outcome, base)
    assert found.latest_us is not None
    assert not found.beyond
    assert found.chance_now >= 0.15


def test_a_branch_too_late_already_has_no_latest_start() -> None:
    base = ground(300)
    setting = on_the_table(limits=limits(chance_wanted=0.99), chosen=("fewer",))
    found = latest_start("now", evaluate(as_chosen(setting), base), base)
    assert found.latest_us is None
    assert found.chance_now < 0.99


def test_regret_is_zero_for_the_best_plan_of_each_case_and_never_negative() -> None:
    base = ground(300)
    ranked = rank(on_the_table(), base)
    plans = [("now", ranked.current), *((o.title, run) for o, run in ranked.variants)]
    table = regret_table(plans, base)
    regret = np.array([row.regret for row in table.rows])
    assert (regret >= 0).all()
    assert (regret.min(axis=0) == 0).all()
    worst = [row.worst_regret for row in table.rows]
    assert worst == sorted(worst)


def test_the_reading_that_decides_between_two_plans_is_found() -> None:
    """Two plans tie on average, but one wins when the air is short: its reading must show."""
    base = ground(2_400)
    current = evaluate(eight_lifts(), base)
    short = current.alone_s["after"] < np.median(current.alone_s["after"])
    one = replace(current, out_in_time=np.where(short, 90.0, 100.0))
    other = replace(current, out_in_time=np.where(short, 100.0, 90.0))
    found = readings([("one", one), ("other", other)], base)
    assert found[0].what == "after: CO2 level of the test"
    assert found[0].changes == pytest.approx(0.5, abs=0.1)
    assert found[0].persons == pytest.approx(5.0, abs=1.0)
    others = [one.changes for one in found if not one.what.startswith("after")]
    assert max(others) <= 0.1


def test_fewer_draws_are_the_first_of_the_same_draws() -> None:
    many, few = ground(1_000), fewer(ground(1_000), 200)
    setting = eight_lifts()
    air = many.air(n_draws=1_000, pods=False, leaving=())
    np.testing.assert_array_equal(
        evaluate(setting, many, endurance=air).runs.back_s[:, :200],
        evaluate(setting, few, endurance=air).runs.back_s,
    )


def test_everything_is_weighed_from_one_ground() -> None:
    weighed = weigh(on_the_table(), ground(400), 300)
    assert len(weighed.gains) == 8
    assert len(weighed.latest) == 9
    assert weighed.readings
    assert {one.refuge for one in weighed.escape} == {"after", "forward"}
    assert weighed.draws == 300


@pytest.mark.parametrize(
    ("depth", "inside", "said"),
    [
        # Parker et al 2000 (abstract seen, VERIFIED): below 300 fsw and 11 fsw inside, under 5 %
        (299.0, 10.9, "below 5 %"),
        (300.0, 5.0, ""),
        (200.0, 11.0, ""),
        (200.0, None, ""),
    ],
)
def test_the_escape_statement_is_given_only_where_it_holds(
    depth: float, inside: float | None, said: str
) -> None:
    assert stated_risk(depth, inside) == said


def test_depth_in_feet_of_sea_water_is_near_depth_in_feet() -> None:
    assert depth_fsw(142.0) == pytest.approx(142.0 / 0.3048, rel=0.005)


def test_escape_and_waiting_stand_side_by_side_without_advice() -> None:
    base = ground(300)
    found = consequences(evaluate(eight_lifts(), base), base)[0]
    assert found.persons == 56
    assert found.stated_risk == ""  # 142 m is deeper than the statement reaches


def test_a_stretcher_takes_three_seats_and_fewer_go_in_the_lift() -> None:
    assert fill_lifts(29, 1, vehicle()) == ((13, 1), (16, 0))
    assert fill_lifts(20, 4, vehicle(stretcher_places=2)) == ((10, 2), (10, 2))


def test_lifts_begun_stay_as_they_are_whatever_is_decided() -> None:
    from tests.unit.test_survivors_lift_simulate import BEGUN

    setting = on_the_table(facts=BEGUN)
    changed = decide(setting, (option("o", refuge_order=("forward", "after")),))
    kept = [one for one in changed.lifts if one.key in ("L0", "L1")]
    assert [one.key for one in kept] == ["L0", "L1"]
    waiting = [one.refuge for one in changed.waiting()]
    assert waiting == sorted(waiting, reverse=True)


def test_lifts_filled_from_the_muster_follow_the_priority_and_leave_nobody() -> None:
    rule = Priority(
        refuges=("forward", "after"),
        fitness=("stretcher", "walking"),
        stretchers_per_lift=2,
        set_by="test",
        reason="test",
    )
    made = propose(eight_lifts(priority=rule), PEOPLE)
    kept = [lift for lift in made if not lift.withdrawn]
    assert [lift.refuge for lift in kept] == sorted((x.refuge for x in kept), reverse=True)
    for place in PEOPLE:
        mine = [lift for lift in kept if lift.refuge == place.refuge]
        assert sum(lift.walking + lift.stretcher for lift in mine) == place.persons
        assert max(lift.stretcher for lift in mine) == 2
        assert mine[0].stretcher == 2  # stretchers go first
    assert {lift.key for lift in made if lift.withdrawn} == {f"L{n}" for n in range(8)}
    assert {lift.vehicle for lift in kept} == {"V1", "V2"}


def test_without_a_priority_no_lifts_are_proposed() -> None:
    with pytest.raises(InputError, match="who goes first is not set"):
        propose(eight_lifts(), PEOPLE)


def test_a_second_vehicle_that_comes_late_takes_only_what_it_brings_up_sooner() -> None:
    late = on_the_table(
        vehicles=(vehicle("V1", ready_at=z(15, "1300")),),
        lifts=tuple(lift(f"L{n}", n, "V1", "after") for n in range(4)),
        spare_vehicles=(vehicle("V3", ready_at=z(16, "0000"), follows_chain=False),),
    )
    shared = decide(late, (option("v", add_vehicle="V3"),))
    assert [one.vehicle for one in shared.lifts] == ["V1", "V1", "V1", "V3"]
