"""Which decisions are in the list: none that is done, impossible or moot; zeros are one line.

Written from the text: people count first, all run on the same futures, a slower rescue gains
nothing, and where it is not known how the plan stands each counts with the less it gives.
"""

from __future__ import annotations

from typing import Any

import pytest

from layers.survivors.air.endurance import RefugePeople
from layers.survivors.decisions.gain import Gain, Standing, rank
from layers.survivors.decisions.report import gain_sentences
from layers.survivors.lifts.model import DecisionOption, Phase
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.sorties.facts import LiftFact
from tests.unit.lift_air import PlainAir
from tests.unit.lift_cases import NOW, NOW_US, chamber, eight_lifts, lift, vehicle
from tests.unit.lift_ground import ground, option

HOUR_US = 3_600_000_000
LIFTS = tuple(lift(f"A{n}", n, "V1", "after", 14, 0) for n in range(4))
PEOPLE = (
    RefugePeople(refuge="after", persons=56, stretcher=0, pressure_bar_abs=1.1, seat="clear"),
)


def craft(name: str, **changes: Any) -> Any:
    return vehicle(name, **{"ready_at": NOW, "follows_chain": False, **changes})


def gains(*options: DecisionOption, **changes: Any) -> dict[str, Gain]:
    base: dict[str, Any] = dict(
        lifts=LIFTS, vehicles=(craft("V1"),), spare_vehicles=(craft("V2"),), options=options
    )
    setting: PlanSetting = eight_lifts(**{**base, **changes})
    air = PlainAir({"after": 22.0}, {"after": 56})
    found = rank(setting, ground(1_000, people=PEOPLE, air=air)).gains
    return {one.key: one for one in found}


def listed(found: dict[str, Gain]) -> list[str]:
    return [key for key, one in found.items() if one.standing in (Standing.GAINS, Standing.COSTS)]


SECOND = option("second", add_vehicle="V2")


def test_a_second_vehicle_gains_people_before_it_is_there() -> None:
    found = gains(SECOND)
    assert found["second"].standing is Standing.GAINS
    assert found["second"].persons is not None
    assert found["second"].persons.value > 1.0


def test_a_vehicle_that_is_in_the_plan_already_is_no_decision_any_more() -> None:
    """Done: the watch put it into the plan itself, by lifts of its own."""
    mine = (*LIFTS[:3], lift("A3", 3, "V2", "after", 14, 0))
    both = (craft("V1"), craft("V2"))
    found = gains(SECOND, vehicles=both, spare_vehicles=(), lifts=mine)
    assert listed(found) == []
    assert found["second"].standing is Standing.NOTHING


@pytest.mark.parametrize("state", ["lost", "broken"])
def test_a_vehicle_that_dives_no_more_is_no_gain_and_gets_no_lift(state: str) -> None:
    found = gains(SECOND, spare_vehicles=(craft("V2", state=state),))
    assert listed(found) == []
    (said,) = gain_sentences(tuple(found.values()))
    assert f"V2 is {state}" in said


def test_with_every_lift_under_way_or_done_order_and_loads_are_moot() -> None:
    def fact(n: int, phase: Phase, hours: float) -> LiftFact:
        began = {Phase.DOWN: NOW_US - round(hours * HOUR_US), phase: NOW_US - HOUR_US // 60}
        return LiftFact(lift=f"A{n}", vehicle="V1", began_us=began, phase=phase)

    facts = {f"A{n}": fact(n, Phase.BACK, 40.0 - 5 * n) for n in range(3)}
    facts["A3"] = fact(3, Phase.UP, 2.0)
    table = (option("few", people_per_lift=7), option("order", refuge_order=("after", "forward")),
             option("calm", launch_hs_m=1.0), SECOND)  # fmt: skip
    found = gains(*table, facts=facts)
    assert listed(found) == []
    said = gain_sentences(tuple(found.values()))
    assert len(said) == 1
    assert said[0].startswith("4 others change nothing")


def test_the_same_change_by_two_names_gives_the_same_to_the_last_digit() -> None:
    """Common random numbers: nothing but the change itself is between two runs."""
    found = gains(option("one", launch_hs_m=3.4), option("two", launch_hs_m=3.4), SECOND)
    one, two = found["one"], found["two"]
    assert (one.persons, one.all_out, one.p50_h) == (two.persons, two.all_out, two.p50_h)
    alone = gains(option("one", launch_hs_m=3.4))["one"]
    assert (alone.persons, alone.all_out, alone.p50_h) == (one.persons, one.all_out, one.p50_h)


def test_zeros_are_one_line_and_what_cannot_be_run_says_why() -> None:
    third = option("third", add_chamber="C9")
    spare = option("room", add_chamber="C3")  # nobody needs a chamber at 1.1 bar
    found = gains(SECOND, spare, option("same", launch_hs_m=3.0), third,
                  spare_chambers=(chamber("C3"),))  # fmt: skip
    assert listed(found) == ["second"]
    said = gain_sentences(tuple(found.values()))
    assert said[0] == "2 others change nothing: decision room; decision same."
    assert "decision third: cannot be run" in said[1]
    assert len(said) == 2


def test_what_is_chosen_and_gives_nothing_now_is_not_in_the_list() -> None:
    found = gains(option("calm", launch_hs_m=3.0), chosen=("calm",))
    assert found["calm"].taken
    assert listed(found) == []
