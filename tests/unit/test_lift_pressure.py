"""Pressure is that of the hour at which the hatch shuts, in each draw: written from the text.

Each draw's refuge rises at its own rate; what a lift then needs follows by hand from that draw's
own hour, and no other draw of it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from layers.survivors.air.endurance import AirCurves, RefugePeople
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.quantities import pressure_remarks
from layers.survivors.lifts.run.ground import PlanGround
from layers.survivors.lifts.run.outcome import PlanOutcome, evaluate
from layers.survivors.lifts.run.windows import NEVER
from tests.unit.lift_air import PlainAir
from tests.unit.lift_cases import chamber, eight_lifts, lift
from tests.unit.lift_ground import ground

N = 600
RATE = np.random.default_rng(11).permutation(np.linspace(0.0, 0.012, N))  # bar an hour
EDGE, END = 1.3, 3.0  # of the test's schedule: a stay from the one, nothing beyond the other


def rising(start_bar: float, rate: np.ndarray = RATE) -> Any:
    def curves(n_draws: int) -> AirCurves:
        hours = np.arange(0.0, 240.1, 4.0)
        bars = start_bar + hours[:, None, None] * rate[None, None, :n_draws]
        both = np.concatenate([bars, np.full_like(bars, 1.1)], axis=1)
        return AirCurves(
            hours=tuple(hours.tolist()), refuges=("after", "forward"), pressure_bar=both
        )

    return curves


def waiting(start_bar: float, curves: Any) -> PlanGround:
    people = tuple(
        RefugePeople(refuge=name, persons=15, stretcher=0, pressure_bar_abs=bar, seat="clear")
        for name, bar in (("after", start_bar), ("forward", 1.1))
    )
    hours = {"after": 200.0, "forward": 200.0}
    air = PlainAir(hours, {"after": 15, "forward": 15})
    return ground(N, people=people, air=air, curves=curves)


def two(**changes: Any) -> PlanSetting:
    lifts = (lift("A", 0, "V1", "after", 15, 0), lift("F", 1, "V1", "forward", 15, 0))
    return eight_lifts(lifts=lifts, chambers=(chamber("C1"),), **changes)


def then_bar(outcome: PlanOutcome, start_bar: float) -> np.ndarray:
    return start_bar + RATE * outcome.runs.left_s[0] / 3600.0


def test_each_draw_stays_by_the_pressure_of_its_own_hour() -> None:
    outcome = evaluate(two(), waiting(1.2, rising(1.2)))
    ran = outcome.runs.left_s[0] < NEVER // 2
    stays = outcome.runs.chamber[0] >= 0
    bar = then_bar(outcome, 1.2)
    sure = ran & (np.abs(bar - EDGE) > 1e-6)
    assert 0.1 < stays[ran].mean() < 0.9  # some draws stay, some do not
    np.testing.assert_array_equal(stays[sure], (bar >= EDGE)[sure])


def test_a_chamber_that_is_taken_holds_up_only_the_draws_that_need_it() -> None:
    lifts = tuple(lift(key, n, "V1", "after", 15, 0) for n, key in enumerate("AB"))
    plan = eight_lifts(lifts=lifts, chambers=(chamber("C1"),))
    base = waiting(1.2, rising(1.2))
    crowd = replace(base, people=(replace(base.people[0], persons=30),))
    runs = evaluate(plan, crowd).runs
    both = (runs.left_s < NEVER // 2).all(axis=0)
    stays = (runs.chamber >= 0) & both
    apart_h = (runs.back_s[1] - runs.chamber_out_s[0]) / 3600.0
    assert (apart_h[stays.all(axis=0)] > 0.0).all()  # the second comes up when they are out
    never = both & ~stays.any(axis=0)
    assert never.any()
    # the turn-round, and a gale at most: no day's stay stands between
    assert np.median((runs.start_s[1] - runs.back_s[0])[never]) < 8 * 3600


def test_beyond_the_table_a_lift_does_not_run_in_that_draw_and_the_next_does() -> None:
    start = 2.9
    outcome = evaluate(two(), waiting(start, rising(start)))
    unfit = outcome.runs.unfit[0]
    assert 0.05 < unfit.mean() < 0.95
    assert (outcome.runs.left_s[0][unfit] == NEVER).all()
    fits = outcome.runs.left_s[0] < NEVER // 2
    assert (then_bar(outcome, start)[fits] <= END + 1e-9).all()
    # nobody waits for a lift that cannot be: the other refuge is fetched all the same
    assert (outcome.runs.left_s[1][unfit] < NEVER // 2).mean() > 0.95
    assert outcome.all_in_time[unfit].sum() == 0
    said = " ".join(pressure_remarks(outcome))
    assert "lift A does not run" in said
    assert "of 100" in said


def test_where_every_draw_is_kept_alike_the_runs_are_those_of_the_one_pressure() -> None:
    alike = evaluate(two(), waiting(2.0, rising(2.0, RATE * 0.01)))
    plain = evaluate(two(), waiting(2.0, None))
    for name in ("start_s", "left_s", "back_s", "chamber", "chamber_out_s"):
        np.testing.assert_array_equal(getattr(alike.runs, name), getattr(plain.runs, name))
