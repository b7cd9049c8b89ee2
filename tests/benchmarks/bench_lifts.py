"""Lifts and decisions: against events one by one, air at medians, first look, ranking."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

from layers.contract import Moment
from layers.survivors.air.formulas import air_outlook
from layers.survivors.decisions.gain import rank
from layers.survivors.lifts.choose import as_chosen
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.aboard import persons_of
from layers.survivors.lifts.run.ground import Leaving, PlanGround
from layers.survivors.lifts.run.outcome import able_part, evaluate, job_of, leaving_of, limits_s
from layers.survivors.lifts.run.simulate import simulate
from tests.benchmarks.figure import Figure, seconds
from tests.survivors_journal import AT
from tests.unit.lift_cases import chamber, eight_lifts, job_of as plain_job
from tests.unit.lift_events import futures
from tests.unit.lift_ground import ground, on_the_table
from tests.unit.test_lift_futures import PLANS, with_own_time
from tests.unit.test_margin_unknown import boat

DRAWS = 10_000
FIRST_DRAWS = 500
EVENT_DRAWS = 200  # the event model's time is per future


def figures() -> list[Figure]:
    """Return the figures of the lift plan and of the decisions."""
    return [_lifts(), _air_in_each_draw(), _first_look(), _ranking()]


def _lifts() -> Figure:
    job = plain_job(eight_lifts(), n_draws=DRAWS)
    at_once = seconds(lambda: simulate(job))
    start = time.perf_counter()
    futures(with_own_time(PLANS["two vehicles, two chambers"]), EVENT_DRAWS)
    events = (time.perf_counter() - start) * DRAWS / EVENT_DRAWS
    return Figure(
        issue=18,
        name="eight lifts, two vehicles, two chambers, windows, 10,000 draws",
        ratio=events / at_once,
        target=20.0,
        direction="at least",
        reference="an independent simpy model",
        unit="times faster than",
        note=f"{at_once:.3f} s; the event model timed on {EVENT_DRAWS} futures",
    )


def _real_ground(n_draws: int) -> PlanGround:
    """Return the eight lifts' ground with air that is worked out, not a stand-in."""
    at = AT
    told = boat()
    model = air_outlook(told.known(), Moment(at, at), n_draws=DRAWS).model
    return ground(n_draws, air=model)


def _three_chambers() -> PlanSetting:
    return eight_lifts(chambers=(chamber("C1"), chamber("C2"), chamber("C3")))


def _at_medians(setting: PlanSetting, base: PlanGround) -> None:
    """Run the plan, then the air with people leaving at the median of each lift, in every draw."""
    able, _, pressures = able_part(setting, base)
    runs = simulate(job_of(able, base, pressures))
    leaving = tuple(
        Leaving(
            np.full(
                base.n_draws, int(np.partition(one.at_us, base.n_draws // 2)[base.n_draws // 2])
            ),
            one.refuge,
            14,
        )
        for one in leaving_of(able, runs, persons_of(able, base.people))
    )
    limits_s(
        base.air(n_draws=base.n_draws, pods=False, leaving=leaving),
        base.people,
        setting.at_us,
        base.n_draws,
    )


def _air_in_each_draw() -> Figure:
    setting, base = _three_chambers(), _real_ground(DRAWS)

    def fresh() -> PlanGround:
        return replace(base, held={}, seas={}, ran=[])

    before = seconds(lambda: _at_medians(setting, fresh()), runs=3)
    now = seconds(lambda: evaluate(setting, fresh()), runs=3)
    return Figure(
        issue=18,
        name="10,000 draws with air inside each, two refuges, eight lifts, three chambers",
        ratio=now / before,
        target=3.0,
        direction="at most",
        reference="the same plan with people leaving at the median in every draw",
        note=f"{now:.2f} s",
    )


def _first_look() -> Figure:
    setting = _three_chambers()
    few, many = _real_ground(FIRST_DRAWS), _real_ground(DRAWS)
    first = seconds(lambda: evaluate(setting, few), runs=3)
    whole = seconds(lambda: evaluate(setting, many), runs=3)
    return Figure(
        issue=18,
        name="a first answer from 500 draws",
        ratio=first / whole,
        target=0.25,
        direction="at most",
        reference="the answer from 10,000 draws",
        note=f"{first:.2f} s",
    )


def _ranking() -> Figure:
    """Compare the decisions behind the margin, as the watch is shown both: on all its draws."""
    setting = on_the_table()
    base = _real_ground(DRAWS)

    def fresh() -> PlanGround:
        return replace(base, held={}, seas={}, ran=[])

    def ranking() -> None:
        rank(setting, after, margin)

    one = seconds(lambda: evaluate(as_chosen(setting), fresh()), runs=3)
    whole = []
    for _ in range(2):
        after = fresh()
        margin = evaluate(as_chosen(setting), after)
        whole.append(seconds(ranking, runs=1))
    return Figure(
        issue=18,
        name="ranking eight decisions on common random numbers, all 10,000 draws",
        ratio=min(whole) / one,
        target=6.0,
        direction="at most",
        reference="one margin run of 10,000 draws",
        note=f"one run {one:.2f} s",
    )
