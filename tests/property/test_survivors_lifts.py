"""Laws of the lift plan: nobody lost, nobody twice, no seat too many, no time out of order."""

from __future__ import annotations

import numpy as np
from hypothesis import HealthCheck, given, settings, strategies as st

from layers.survivors.air.endurance import RefugePeople
from layers.survivors.chambers.oxygen_dose import dose_of_step, rate_per_min
from layers.survivors.lifts.choose import fill_lifts
from layers.survivors.lifts.model import Priority
from layers.survivors.lifts.refusals import seats_wanted
from layers.survivors.lifts.run.aboard import persons_of
from layers.survivors.lifts.run.simulate import simulate
from layers.survivors.lifts.run.windows import NEVER, closed_spans
from layers.survivors.lifts.spread import quantile
from tests.unit.lift_cases import eight_lifts, job_of, limits, vehicle

FIRST = st.sampled_from([("stretcher", "walking"), ("walking", "stretcher")])


@given(
    walking=st.integers(0, 150),
    lying=st.integers(0, 30),
    seats=st.integers(3, 30),
    most=st.integers(1, 8),
    first=FIRST,
    people=st.one_of(st.none(), st.integers(1, 20)),
)
def test_filling_lifts_loses_nobody_and_never_takes_a_seat_too_many(
    walking: int, lying: int, seats: int, most: int, first: tuple, people: int | None
) -> None:
    craft = vehicle(seats=seats, stretcher_places=most)
    rule = Priority(refuges=("after",), fitness=first, set_by="test", reason="test")
    loads = fill_lifts(walking, lying, craft, rule, people)
    assert sum(load[0] for load in loads) == walking
    assert sum(load[1] for load in loads) == lying
    for walk, stretcher in loads:
        assert walk + stretcher > 0
        assert seats_wanted(walk, stretcher, craft) <= seats
        assert stretcher <= most
        assert people is None or walk + stretcher <= people


@given(after=st.integers(0, 90), forward=st.integers(0, 90))
def test_lifts_never_bring_more_than_there_are(after: int, forward: int) -> None:
    people = tuple(
        RefugePeople(refuge=name, persons=n, stretcher=0, pressure_bar_abs=1.1, seat="clear")
        for name, n in (("after", after), ("forward", forward))
    )
    setting = eight_lifts()
    brought = persons_of(setting, people)
    for name, n in (("after", after), ("forward", forward)):
        mine = sum(int(b) for b, lift in zip(brought, setting.lifts, strict=True)
                   if lift.refuge == name)  # fmt: skip
        assert mine == min(n, 4 * 16)  # nobody lies: a stretcher's three seats are sat on


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10_000), recovery=st.floats(1.7, 4.0), rule=st.booleans())
def test_a_lift_dives_then_leaves_then_is_back_then_is_in_its_chamber(
    seed: int, recovery: float, rule: bool
) -> None:
    bound = limits(
        recovery_hs_m=recovery, chamber_rule="free at dive" if rule else "free at return"
    )
    runs = simulate(job_of(eight_lifts(limits=bound), n_draws=30, seed=seed))
    ran = runs.back_s < NEVER
    assert (runs.start_s[ran] >= 0).all()
    assert (runs.start_s[ran] < runs.left_s[ran]).all()
    assert (runs.left_s[ran] < runs.back_s[ran]).all()
    inside = ran & (runs.chamber >= 0) & (runs.chamber_in_s < NEVER)
    assert (runs.back_s[inside] < runs.chamber_in_s[inside]).all()
    assert (runs.chamber_in_s[inside] < runs.chamber_out_s[inside]).all()


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0.0, 6.0), min_size=2, max_size=40), st.floats(0.5, 5.5))
def test_closed_spans_are_in_order_apart_and_hold_what_is_above_the_limit(
    values: list[float], limit: float
) -> None:
    at = np.arange(len(values), dtype=np.int64) * 3600
    found = closed_spans(np.array([values]), limit, at)
    starts, ends = found.starts[0], found.ends[0]
    real = starts < NEVER
    assert (starts[real] < ends[real]).all()
    assert (ends[real][:-1] <= starts[real][1:]).all()
    for second, value in zip(at, values, strict=True):
        if value > limit + 1e-3:
            # to the second: a crossing is rounded to one
            assert ((starts <= second + 1) & (ends >= second - 1)).any()


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=60), st.floats(0.01, 1.0))
def test_a_quantile_has_at_least_its_share_at_or_below_it(values: list[float], q: float) -> None:
    drawn = np.array(values)
    assert (drawn <= quantile(drawn, q)).mean() >= q - 1e-12


@given(st.floats(0.0, 3.0), st.floats(0.0, 3.0), st.floats(0.1, 500.0))
def test_dose_through_a_change_lies_between_those_at_its_ends(
    one: float, other: float, minutes: float
) -> None:
    low, high = sorted((rate_per_min(one) * minutes, rate_per_min(other) * minutes))
    assert low * (1 - 1e-6) - 1e-9 <= dose_of_step(one, other, minutes) <= high * (1 + 1e-6) + 1e-9
