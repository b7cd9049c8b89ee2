"""Gas that cools: each partial pressure falls with the absolute temperature (p V = n R T).

Written from the gas law and Newton's law of cooling, by a root of their joint equation; nothing of
the program's balance is used.
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from layers.contract import Moment
from layers.survivors.air.formulas import air_outlook
from tests.survivors_journal import AT
from tests.unit.test_survivors_air_unknown import HOUR, boat, no_stores, read

R = 8.314462618
PERSONS, ROOM_M3, BAR, O2_PC, CO2_PC = 7, 260.0, 1.3, 19.0, 1.0
SEA_C, START_C, SLOW_H = 4.0, 18.0, 120.0
# 840 g of oxygen and 1000 g of carbon dioxide a person-day (NASA RP-1324), mol an hour
O2_MOL_H, CO2_MOL_H = 840.0 / 31.998 / 24.0, 1000.0 / 44.0095 / 24.0
EVERY_H, UNTIL_H = 4.0, 28.0


def kelvin(hour: float) -> float:
    return 273.15 + SEA_C + (START_C - SEA_C) * np.exp(-hour / SLOW_H)


def kpa(mol: float, hour: float) -> float:
    return mol * R * kelvin(hour) / ROOM_M3 / 1000.0


def moles(percent: float) -> float:
    return BAR * 1e5 * ROOM_M3 / (R * kelvin(0.0)) * percent / 100.0


def lived(hour: float) -> tuple[float, float, float]:
    """Return bar, and per cent by volume of oxygen and carbon dioxide."""
    o2, co2 = moles(O2_PC) - PERSONS * O2_MOL_H * hour, moles(CO2_PC) + PERSONS * CO2_MOL_H * hour
    rest = moles(100.0 - O2_PC - CO2_PC)
    total = o2 + co2 + rest
    return kpa(total, hour) / 100.0, 100.0 * o2 / total, 100.0 * co2 / total


def told(*, warmth: bool):
    journal = boat("CO2", "O2", persons=PERSONS, room=ROOM_M3)
    no_stores(journal)
    journal.add("survivors.inflow", {"refuge": "after", "what": "water", "m3_per_h": 0.0})
    for hour in np.arange(0.0, UNTIL_H + 0.1, EVERY_H):
        bar, o2, co2 = lived(hour)
        more = {"temperature_c": round(kelvin(hour) - 273.15, 1)} if warmth else {}
        pressure = {"value": round(bar, 3), "unit": "bar", "reference": "absolute"}
        read(journal, hour, o2=round(o2, 2), co2=round(co2, 2), pressure=pressure, **more)
    at = AT + UNTIL_H * HOUR
    out = air_outlook(journal.known(), Moment(at, at), n_draws=2_000)
    return {level.name: level.hours for level in out.refuges[0].levels}


@pytest.fixture(scope="module")
def truth() -> dict[str, float]:
    o2_h = brentq(lambda h: kpa(moles(O2_PC) - PERSONS * O2_MOL_H * h, h) - 16.0, UNTIL_H, 400.0)
    co2_h = brentq(
        lambda h: kpa(moles(CO2_PC) + PERSONS * CO2_MOL_H * h, h) - 6.0 * 1.01325, UNTIL_H, 400.0
    )
    return {"O2": o2_h - UNTIL_H, "CO2": co2_h - UNTIL_H}


def test_a_refuge_that_cools_is_told_by_the_gas_law(truth):
    found = told(warmth=True)
    assert found["O2"].p50 == pytest.approx(truth["O2"], rel=0.06)
    assert found["CO2"].p50 == pytest.approx(truth["CO2"], rel=0.06)


def test_the_cooling_is_worth_what_the_gas_law_says(truth):
    """Held at its last reading the temperature would leave low oxygen later than it comes."""
    still = kelvin(UNTIL_H)
    held_h = brentq(
        lambda h: (moles(O2_PC) - PERSONS * O2_MOL_H * h) * R * still / ROOM_M3 / 1e3 - 16.0,
        UNTIL_H,
        400.0,
    )
    gain_h = held_h - UNTIL_H - truth["O2"]
    found = told(warmth=True)["O2"].p50
    assert gain_h > 3.0  # and far more than the root's or the draws' own width
    assert truth["O2"] - gain_h / 2.0 < found < truth["O2"] + gain_h / 2.0


def test_with_no_temperature_read_oxygen_is_not_told_later_than_where_it_is_known_to_hold(truth):
    """Nobody knows that it stays warm: the span reaches to what cooling makes of it."""
    unread = told(warmth=False)
    assert unread["O2"].p10 < truth["O2"] < unread["O2"].p90


def cold_after(*readings_c: float, every_h: float, level_c: float):
    """Return hours to a level of cold after readings so far apart, the last of them just made."""
    journal = boat("CO2", persons=PERSONS, room=ROOM_M3)
    journal.add(
        "survivors.level",
        {"name": "cold", "quantity": "low temperature", "temperature_c": level_c,
         "source": "annex", "entered_by": "doctor"},
    )  # fmt: skip
    for n, celsius in enumerate(readings_c):
        read(journal, every_h * n, temperature_c=celsius)
    at = AT + every_h * (len(readings_c) - 1) * HOUR
    out = air_outlook(journal.known(), Moment(at, at), n_draws=2_000)
    (found,) = (one for one in out.refuges[0].levels if one.name == "cold")
    return found


def test_a_refuge_that_cools_fast_is_near_its_end_and_comes_later_than_by_a_line():
    """A quarter of a degree an hour, at 7 °C eight hours ago: 0 °C is 20 h off by the line.

    By Newton's law towards a sea of -2, the coldest there is, it is 9/0.25 ln(9/2) - 8 = 46 h.
    """
    found = cold_after(9.0, 8.0, 7.0, 6.0, 5.0, every_h=4.0, level_c=0.0)
    assert found.hours.p10 > 24.0
    assert found.hours.p50 < 46.0  # told late of nothing that the law allows
    # a level that no sea can bring is reached by none
    assert cold_after(9.0, 7.0, 5.0, every_h=4.0, level_c=-9.0).within_horizon == 0.0


def test_a_refuge_that_cools_slowly_is_told_as_by_newtons_law():
    """From 14 °C towards a sea of 3, 150 h slow: 9 °C comes after 150 ln(11/6) h from the start."""
    warmth = [3.0 + 11.0 * np.exp(-4.0 * n / 150.0) for n in range(9)]
    found = cold_after(*(round(celsius, 1) for celsius in warmth), every_h=4.0, level_c=9.0)
    assert found.hours.p50 == pytest.approx(150.0 * np.log(11.0 / 6.0) - 32.0, rel=0.12)
