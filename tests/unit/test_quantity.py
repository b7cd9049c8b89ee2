"""Quantities as people say them, held against the definitions of their units."""

from __future__ import annotations

import pytest

from layers.earth.errors import InputError, TwoReadings
from layers.earth.said import quantity as q
from layers.earth.said.direction import direction_printed, told_direction
from layers.earth.said.parse import parse_position

# 1 nmi = 1852 m exactly (International Hydrographic Conference, Monaco 1929); 1 yd = 0.9144 m and
# 1 lb = 0.45359237 kg exactly (international agreement, 1959); 1 atm = 1.01325 bar (CGPM 1954);
# 33 fsw = 1 atm (US Navy Diving Manual, convention); 1 fathom = 2 yd; 10 cables = 1 nmi (practice)
SAID = [
    ("2 nmi", q.LENGTH, "m", 3704.0),
    ("2nm", q.LENGTH, "m", 3704.0),
    ("two miles".replace("two", "2"), q.LENGTH, "m", 3704.0),
    ("3.7 km", q.LENGTH, "m", 3700.0),
    ("2000 yd", q.LENGTH, "m", 1828.8),
    ("94 cables", q.LENGTH, "nmi", 9.4),
    ("42 fathoms", q.LENGTH, "m", 76.8096),
    ("17 400", q.LENGTH, "m", 17_400.0),
    ("17\u202f400 m", q.LENGTH, "m", 17_400.0),
    ("1,234,567 m", q.LENGTH, "m", 1_234_567.0),
    ("17,400.5", q.LENGTH, "m", 17_400.5),
    ("12 kn", q.SPEED, "kn", 12.0),
    ("10 m/s", q.SPEED, "kn", 19.438444924406),
    ("1,9 %", q.SHARE, "percent", 1.9),
    ("20 %", q.CHANCE, "one", 0.2),
    ("1.4 bar abs", q.PRESSURE, "bar", 1.4),
    ("1.4 bara", q.PRESSURE, "bar", 1.4),
    ("0.4 bar gauge", q.PRESSURE, "bar", 1.41325),
    ("60 fsw", q.PRESSURE, "bar", 1.01325 + 60 * 1.01325 / 33),
    ("5.5 h", q.SPAN, "min", 330.0),
    ("5 h 30", q.SPAN, "min", 330.0),
    ("2 d 14 h", q.SPAN, "h", 62.0),
    ("10 lb", q.MASS, "kg", 4.5359237),
    ("20 people", q.COUNT, "one", 20.0),
]


@pytest.mark.parametrize(("text", "sort", "unit", "value"), SAID)
def test_a_quantity_as_it_is_said(text: str, sort: q.Sort, unit: str, value: float) -> None:
    assert q.parse(text, sort, unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("text", ["3,704", "3.704", "17,400", "3,704 m", "1.234"])
def test_a_number_that_may_be_thousands_names_both(text: str) -> None:
    with pytest.raises(TwoReadings) as refused:
        q.parse(text, q.LENGTH, "m", "Sigma", least=0.0, most=500_000.0)
    assert len(refused.value.readings) == 2
    again = {q.parse(said, q.LENGTH, "m") for said in refused.value.readings}
    assert len(again) == 2, "each answer offered has one reading"
    assert "Sigma" in str(refused.value)


def test_bounds_decide_between_two_readings() -> None:
    # 3704 nmi is more than the 270 nmi that the field takes
    assert q.parse("3.704 nmi", q.LENGTH, "m", most=500_000.0) == pytest.approx(6859.808)
    assert q.parse("1,013", q.BAROMETER, "hpa", least=850.0, most=1100.0) == 1013.0


@pytest.mark.parametrize(
    ("text", "value"), [("0.704", 0.704), ("1234.567", 1234.567), ("9,5", 9.5)]
)
def test_a_number_that_can_only_be_one_is_taken(text: str, value: float) -> None:
    assert q.number(text) == value


def test_a_pressure_without_its_reference_is_asked() -> None:
    with pytest.raises(TwoReadings, match=r"absolute or 1\.4 bar gauge"):
        q.parse("1.4 bar", q.PRESSURE, "bar")


def test_capital_m_is_metres_or_miles_unless_only_one_fits() -> None:
    with pytest.raises(TwoReadings, match=r"9\.4 m or 9\.4 nmi"):
        q.parse("9.4 M", q.LENGTH, "m", most=500_000.0)
    assert q.parse("926 M", q.LENGTH, "m", most=500_000.0) == 926.0


@pytest.mark.parametrize("text", ["12 kn", "many", "1e3", "", "4 5", "12 34 m"])
def test_what_is_no_length_says_what_is(text: str) -> None:
    with pytest.raises(InputError, match="accepted: a number, with or without m, nmi"):
        q.parse(text, q.LENGTH, "m", "Range")


# red and green count from the bow, 0 to 180; 360 is 000 (the project's choice)
@pytest.mark.parametrize(
    ("text", "degrees", "sense"),
    [
        ("215T", 215.0, "true"), ("060M", 60.0, "magnetic"), ("060 magnetic", 60.0, "magnetic"),
        ("215°T", 215.0, "true"), ("R045", 45.0, "relative"), ("red 50", 310.0, "relative"),
        ("green 45", 45.0, "relative"), ("30 degrees on my port bow", 330.0, "relative"),
        ("360", 0.0, ""), ("063.4°T", 63.4, "true"), ("red 0", 0.0, "relative"),
    ],
)  # fmt: skip
def test_a_direction_keeps_its_sense(text: str, degrees: float, sense: str) -> None:
    assert told_direction(text) == (pytest.approx(degrees), sense)


def test_a_direction_that_is_none() -> None:
    with pytest.raises(InputError, match="past 360"):
        told_direction("400T")
    with pytest.raises(InputError, match="off the bow"):
        told_direction("red 190")
    with pytest.raises(TwoReadings, match="045 grid or green 45"):
        told_direction("045G")


@pytest.mark.parametrize("sense", ["true", "magnetic", "relative", "grid"])
@pytest.mark.parametrize("degrees", [0.0, 7.0, 63.4, 310.0, 12.345])
def test_a_direction_printed_reads_back(degrees: float, sense: str) -> None:
    assert told_direction(direction_printed(degrees, sense)) == (degrees, sense)


@pytest.mark.parametrize("text", ["4310N 0082E", "431N 00820E", "4310N 008200E", "43100N 00820E"])
def test_a_packed_position_with_a_figure_lost_is_asked(text: str) -> None:
    with pytest.raises(InputError, match="figures"):
        parse_position(text)


def test_minutes_and_degrees_may_be_said() -> None:
    said = parse_position("59 degrees 12.4 minutes north, 004 degrees 08 minutes east")
    assert (said.latitude_deg, said.longitude_deg) == pytest.approx((59.206667, 4.133333), abs=1e-6)
