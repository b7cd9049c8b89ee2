"""Lifts and decisions: the run at once against events one by one, and ranking against one run."""

from __future__ import annotations

import time

from layers.survivors.decisions.gain import rank
from layers.survivors.lifts.ground import Ground
from layers.survivors.lifts.outcome import evaluate
from layers.survivors.lifts.plan import as_chosen
from layers.survivors.lifts.simulate import simulate
from tests.benchmarks.figure import Figure, seconds
from tests.unit.lift_cases import eight_lifts, job_of
from tests.unit.lift_events import run_draws
from tests.unit.lift_ground import ground, on_the_table

DRAWS = 10_000
EVENT_DRAWS = 500  # of the same draws; the event model's time is per draw


def figures() -> list[Figure]:
    """Return the figures of the lift plan and of the decisions."""
    return [_lifts(), _ranking()]


def _lifts() -> Figure:
    job = job_of(eight_lifts(), n_draws=DRAWS)
    at_once = seconds(lambda: simulate(job))
    start = time.perf_counter()
    run_draws(job, range(EVENT_DRAWS))
    events = (time.perf_counter() - start) * DRAWS / EVENT_DRAWS
    return Figure(
        issue=6,
        name="eight lifts, two vehicles, two chambers, windows, 10,000 draws",
        ratio=events / at_once,
        target=20.0,
        direction="at least",
        reference="the simpy model of the same draws",
        unit="times faster than",
        note=f"{at_once:.3f} s; the event model timed on {EVENT_DRAWS} of the draws",
    )


def _ranking() -> Figure:
    setting = on_the_table()

    def fresh() -> Ground:
        return ground(DRAWS)

    def margin_run() -> None:
        evaluate(as_chosen(setting), fresh())

    def ranking() -> None:
        base = fresh()
        rank(setting, base, evaluate(as_chosen(setting), base))

    one = seconds(margin_run, runs=3)
    many = seconds(ranking, runs=3)
    return Figure(
        issue=6,
        name="ranking eight decisions, 10,000 draws",
        ratio=many / one,
        target=10.0,
        direction="at most",
        reference="one margin run",
        note=f"one run {one:.2f} s; the plan's own run is part of the ranking",
    )
