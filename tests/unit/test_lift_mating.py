"""A mating that fails: what it costs, by hand, with times that do not spread.

Launch 10 min, 142 m at 14.2 m/min another 10, search 10, mate 30, ten who walk a minute each.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from layers.earth.clock import from_us
from layers.survivors.lifts.check import remarks
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.run.outcome import evaluate
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.vehicle import Vehicle
from tests.unit.lift_cases import eight_lifts, lift, spread, vehicle
from tests.unit.test_lift_rules import plain, setting_at
from tests.unit.test_survivors_sortie import START, Book, phase, seen

DRAWS = 20_000
BASE_MIN = 10 + 10 + 10 + 30 + 10


def fixed(**changes: Any) -> Vehicle:
    minutes = {"launch": 10, "search": 10, "mate": 30, "transfer_walking": 1, "away": 5,
               "recover": 20, "into_chamber": 10, "turn_round": 120}  # fmt: skip
    steady = {name: spread(value, value, value) for name, value in minutes.items()}
    whole = dict(ready_at=START, follows_chain=False, failure_chance=0.0, speed_down_m_min=14.2,
                 speed_up_m_min=14.2, failed_mating_chance=0.3, battery_kwh=1_000.0)  # fmt: skip
    return vehicle("V1", **{**steady, **whole, **changes})


def hatch_min(craft: Vehicle) -> np.ndarray:
    setting = eight_lifts(lifts=(lift("A", 0, "V1", "after", 10, 0),), vehicles=(craft,))
    series = plain(DRAWS).series
    assert series is not None
    ran = evaluate(setting, plain(DRAWS, series=quiet(series)))
    return np.asarray(ran.runs.left_s[0] / 60.0)


def quiet(series: Any) -> Any:
    still = np.full_like(series.hs_m, 0.1)
    return replace(series, hs_m=still, current_seat_kn=still, current_surface_kn=still)


def test_each_failure_is_one_mating_more_and_nobody_looks_for_her_again() -> None:
    found = hatch_min(fixed())
    later = found - found.min()
    assert later.min() == 0.0
    for failures in range(3):
        share = float((np.abs(later - 30.0 * failures) < 0.1).mean())
        assert share == pytest.approx(0.7 * 0.3**failures, abs=0.01)
    assert found.min() == pytest.approx(BASE_MIN, abs=0.1)


def test_a_second_mating_has_a_length_of_its_own() -> None:
    # half the luck is the vehicle's: two of 20 to 40 min are alike in half the draws, so that
    # their sum is less spread than twice one, more than two that know nothing of each other
    found = hatch_min(fixed(mate=spread(20, 30, 40), failed_mating_chance=0.5))
    base = BASE_MIN - 30
    twice = found[(found > base + 41) & (found < base + 79)] - base
    alone, alike = 2 * 100 / 6, 4 * 100 / 6  # variance of a triangle of half width 10: 100 / 6
    assert alone < twice.var() < alike


def test_without_battery_for_another_it_comes_up_and_dives_again() -> None:
    # moving 10 + 10 + 10 + 20 min at 60 kW: 50 kWh; at the seat 10 + 30 + 10 + 5 at 60 kW: 55.
    # Above the reserve 105 + 30 for one mating more, not for two.
    craft = fixed(transit_kw=60.0, seat_kw=60.0, reserve_kwh=10.0, battery_kwh=146.0,
                  charge_kw=1_000.0)  # fmt: skip
    found = hatch_min(craft)
    first = found - found.min()
    assert float((first < 31).mean()) == pytest.approx(1 - 0.09, abs=0.01)
    # up with nobody after two: 10 + 10 + 10 + 60 + 10 + 20, turned round in 120, and down again
    again = first[(first > 31) & (first < NEVER / 120)]
    assert again.min() == pytest.approx(10 + 10 + 10 + 60 + 10 + 20 + 120, abs=1.0)
    assert float((found >= NEVER / 120).mean()) == pytest.approx(0.09**3, abs=0.001)


def at_the_seat(*failed_min: float) -> Book:
    made = Book()
    made.add("vehicle", fixed(failed_mating_chance=0.0))
    made.add("lift_limits", {"launch_hs_m": 3.0, "seat_depth_m": 142.0, "source": "test"})
    made.add("lift", lift("A1", 0, "V1", "after", 10, 0))
    for name, minutes in ((Phase.DOWN, 0), (Phase.SEARCH, 20), (Phase.MATE, 30)):
        made.add("sortie_phase", phase(name), START + timedelta(minutes=minutes))
    for minutes in failed_min:
        case = {"vehicle": "V1", "lift": "A1", "case": "failed mating"}
        made.add("sortie_case", case, START + timedelta(minutes=minutes))
    return made


@pytest.mark.parametrize(("failed", "left_min"), [((60,), 20 + 10), ((50, 65), 25 + 10)])
def test_a_mating_told_to_have_failed_begins_again_from_there(
    failed: tuple[float, ...], left_min: float
) -> None:
    at = START + timedelta(minutes=70)
    made = at_the_seat(*failed)
    ran = evaluate(setting_at(made, at), plain(500))
    assert ran.runs.left_s[0] / 60.0 == pytest.approx(left_min, abs=0.1)
    (one,) = seen(made, at)
    on_deck = (from_us(one.on_deck_us) - at).total_seconds() / 60.0
    assert on_deck == pytest.approx(left_min + 5 + 10 + 20, abs=0.1)


def test_one_given_up_dives_again_when_it_is_charged_not_only_turned_round() -> None:
    # 90 min at 60 kW: 90 kWh, at 20 kW 4.5 h
    made = at_the_seat()
    thirsty = fixed(transit_kw=60.0, seat_kw=60.0, charge_kw=20.0, battery_kwh=400.0,
                    failed_mating_chance=0.0)  # fmt: skip
    made.add("vehicle", thirsty)
    made.add("sortie_phase", phase(Phase.GIVEN_UP), START + timedelta(minutes=90))
    at = START + timedelta(minutes=100)
    series = plain(500).series
    ran = evaluate(setting_at(made, at), plain(500, series=quiet(series)))
    assert ran.runs.start_s[0] / 3600.0 + 10 / 60 == pytest.approx(4.5, abs=0.02)


def test_the_rule_is_said_on_the_page() -> None:
    setting = eight_lifts(vehicles=(fixed(),), lifts=(lift("A", 0, "V1", "after", 10, 0),))
    (said,) = [one for one in remarks(setting, setting, (), {}) if "mating" in one]
    assert "takes as long as one that holds" in said
    sure = eight_lifts(vehicles=(fixed(failed_mating_chance=0.0),), lifts=setting.lifts)
    assert not [one for one in remarks(sure, sure, (), {}) if "mating" in one]
