"""Attendants who ride with the people: their seats, their weight, their gas, their decompression.

By hand: fourteen from 2.1 bar by one vehicle; a stay of 24 h; 24.516 l of oxygen a person-hour.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from layers.survivors.chambers.chamber import occupancy
from layers.survivors.lifts.check import fault
from layers.survivors.lifts.run.outcome import PlanOutcome, evaluate
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.sorties.energy import ballast_kg
from tests.unit.lift_air import PlainAir
from tests.unit.lift_cases import chamber, eight_lifts, lift, vehicle
from tests.unit.lift_ground import PEOPLE, ground

O2_M3_PERSON_H = 0.024516


def ran(lifts: tuple[Any, ...], rooms: tuple[Any, ...], **craft: Any) -> PlanOutcome:
    count = sum(one.walking + one.stretcher for one in lifts)
    people = (replace(PEOPLE[0], persons=count, stretcher=0),)
    air = PlainAir({"after": 300.0}, {"after": count})
    told = vehicle("V1", failed_mating_chance=0.0, failure_chance=0.0, **craft)
    setting = eight_lifts(lifts=lifts, vehicles=(told,), chambers=rooms)
    return evaluate(setting, ground(200, people=people, air=air))


def two(count: int = 14) -> tuple[Any, ...]:
    return tuple(lift(f"A{n}", n, "V1", "after", count, 0) for n in range(2))


def test_their_seats_are_beside_the_places_and_their_weight_goes_down_and_comes_up() -> None:
    craft = vehicle("V1", seats=16, attendants=3)
    setting = eight_lifts(vehicles=(craft,))
    assert fault(lift("A", 0, "V1", "after", 16, 0), setting, 1.1, "clear") == ""
    assert "want 17 seats" in fault(lift("A", 0, "V1", "after", 17, 0), setting, 1.1, "clear")
    assert ballast_kg(craft, 16, 0) == 16 * craft.person_kg


@pytest.mark.parametrize(("riding", "inside"), [(0, 16), (2, 16), (3, 17), (4, 18)])
def test_in_an_empty_chamber_they_take_the_places_of_its_own_and_others_beside(
    riding: int, inside: int
) -> None:
    held = occupancy(ran(two()[:1], (chamber("C1"),), attendants=riding))
    assert held is not None
    assert held.chambers[0].persons.max() == inside
    assert held.oxygen_m3 is not None
    used = 900.0 - held.oxygen_m3[1, -1]
    assert used == pytest.approx(inside * 24.0 * O2_M3_PERSON_H, rel=1e-3)


def test_one_too_many_riding_keeps_a_full_lift_out_of_its_chamber() -> None:
    rooms = (chamber("C1"), chamber("C2", places=40))
    fits = ran(two(16)[:1], rooms, attendants=2)
    over = ran(two(16)[:1], rooms, attendants=3)  # 18 places: 16 and 2 of its own, a third not
    for outcome, room in ((fits, 0), (over, 1)):
        went = outcome.runs.chamber[0][outcome.runs.start_s[0] < NEVER // 2]
        assert (went == room).all()


def test_a_team_is_under_pressure_as_long_as_those_it_came_with() -> None:
    rooms = (chamber("C1", places=60), chamber("C2", places=60))
    free = ran(two(), rooms, attendants=2)
    one_team = ran(two(), rooms, attendants=2, attendant_teams=1)
    two_teams = ran(two(), rooms, attendants=2, attendant_teams=2)
    both = (one_team.runs.start_s < NEVER // 2).all(axis=0)
    assert both.any()
    waits = one_team.runs.start_s[1] - one_team.runs.chamber_out_s[0]
    assert (waits[both] >= 0).all()  # out of the chamber after its 24 h, then down again
    assert np.array_equal(two_teams.runs.start_s, free.runs.start_s)


def test_from_a_refuge_at_the_surfaces_pressure_no_team_is_held() -> None:
    plan = eight_lifts(
        lifts=tuple(lift(f"F{n}", n, "V1", "forward", 14, 0) for n in range(2)),
        vehicles=(vehicle("V1", attendant_teams=1, attendants=2),),
    )
    many = replace(plan, vehicles=(vehicle("V1", attendants=2),))
    people = (replace(PEOPLE[1], persons=28, stretcher=0),)
    air = PlainAir({"forward": 300.0}, {"forward": 28})
    found = [evaluate(one, ground(200, people=people, air=air)) for one in (plan, many)]
    assert np.array_equal(found[0].runs.start_s, found[1].runs.start_s)
