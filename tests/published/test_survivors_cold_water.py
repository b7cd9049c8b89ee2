"""Cold water against the named formula, its validity and its pole."""

import pytest

from layers.survivors.muster.cold_water import CLOTHING, predicted


@pytest.mark.parametrize(("water_c", "minutes"), [(5.0, 132.1), (10.0, 176.8), (15.0, 276.8)])
def test_predicted_time_to_thirty_degrees_core(water_c, minutes):
    # Hayward, Eckerson & Collis (1975): 15 + 7.2/(0.0785 - 0.0034 Tw), light clothing and
    # lifejacket. VERIFIED formula, seen at second hand; the values COMPUTED from it.
    assert predicted(water_c, CLOTHING).minutes == pytest.approx(minutes, abs=0.1)


@pytest.mark.parametrize("water_c", [18.5, 20.0, 23.0, 23.09, 24.0, 30.0, -1.0])
def test_no_time_is_given_outside_the_validity(water_c):
    found = predicted(water_c, CLOTHING)
    assert found.minutes is None
    assert "outside the formula's 0 to 18 °C" in found.why_not


def test_no_time_is_given_for_other_clothing_or_an_unknown_sea():
    assert "the formula is for" in predicted(8.0, "immersion suit").why_not
    assert "not known" in predicted(None, CLOTHING).why_not
