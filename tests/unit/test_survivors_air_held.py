"""Stores that were just counted make no gas better than it was just read; worked by hand.

Partial pressure is the share times the pressure: 19.2 % of 1.05 bar are 20.2 kPa, 24.5 % of 1.0 bar
are 24.5 kPa. What 26 persons take in three minutes, 26 × 0.84 / 480 = 0.05 kg of oxygen, is within
the reading's own error (0.84 kg a person-day: NASA RP-1324).
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from layers.contract import Moment
from layers.survivors.air.formulas import RefugeAir, air_outlook
from tests.survivors_journal import AT, Told

CANDLES = {"item": "oxygen candles", "count": 10, "oxygen_kg_each": 5.9}
LIME = {"item": "absorbent", "chemical": "soda lime", "mass_kg": 60.0, "efficiency": 0.7}


def told(people: int, o2: float, co2: float, bar: float, *stocks: dict[str, Any]) -> RefugeAir:
    made = Told()
    made.complement("crew", 60)
    made.report("after", people)
    made.add("survivors.compartment", {"refuge": "after", "free_volume_m3": 300.0})
    made.add("survivors.air", {
        "refuge": "after", "temperature_c": 12.0,
        "pressure": {"value": bar, "unit": "bar", "reference": "absolute"},
        "oxygen": {"value": o2, "unit": "percent"},
        "carbon_dioxide": {"value": co2, "unit": "percent"},
    })  # fmt: skip
    for stock in stocks:
        made.add("survivors.stores", {"refuge": "after", "stock": stock})
    at = AT + timedelta(minutes=3)
    found = air_outlook(made.known(), Moment(at, at), n_draws=4_000).of("after")
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("people", "o2", "bar"), [(20, 19.2, 1.05), (26, 24.5, 1.0), (26, 17.5, 1.4)]
)
def test_oxygen_is_now_what_was_read_with_stores_as_without(
    people: int, o2: float, bar: float
) -> None:
    bare, held = told(people, o2, 1.0, bar), told(people, o2, 1.0, bar, CANDLES)
    assert bare.oxygen_kpa is not None
    assert held.oxygen_kpa is not None
    assert held.oxygen_kpa.p50 == pytest.approx(o2 * bar, abs=0.15)
    for name in ("p10", "p50", "p90"):
        now, before = getattr(held.oxygen_kpa, name), getattr(bare.oxygen_kpa, name)
        assert now == pytest.approx(before, abs=0.1), name
    assert held.stores[0].left_kg.p50 == pytest.approx(59.0 - people * 0.84 / 480, abs=0.1)


def test_carbon_dioxide_is_now_what_was_read_with_absorbent_as_without() -> None:
    bare, held = told(26, 19.0, 2.0, 1.2), told(26, 19.0, 2.0, 1.2, LIME)
    assert bare.co2_kpa is not None
    assert held.co2_kpa is not None
    assert held.co2_kpa.p50 == pytest.approx(2.4, abs=0.06)
    for name in ("p10", "p50", "p90"):
        assert getattr(held.co2_kpa, name) == pytest.approx(getattr(bare.co2_kpa, name), abs=0.06)
