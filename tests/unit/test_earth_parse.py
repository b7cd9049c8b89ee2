"""Positions, ranges and bearings as people write them, and as they must not."""

from __future__ import annotations

import pytest

from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.said.bearings import (
    SaidBearing,
    Sense,
    parse_bearing,
    parse_range_m,
    true_bearing_deg,
)
from layers.earth.said.parse import parse_position
from layers.earth.said.written import degrees_text, dm_text, dms_text

HERE = (49.0 + 50 / 60, -8.5)


@pytest.mark.parametrize(
    "text",
    [
        "49 50.0N 008 30.0W",
        "49°50'00\"N 8°30'W",
        "49°50′00″N, 8°30′W",
        "49-50.0N 008-30.0W",
        "4950.0N 00830.0W",
        "495000N 0083000W",
        "N49 50.0 W008 30.0",
        "008 30.0W 49 50.0N",
        "Lat 49 50 N Long 8 30 W",
        "49° 50.0' -8° 30.0'",
        "49 50 00.0 n; 8 30 00 w",
        "49.833333333333336 -8.5",
        "49.833333333333336,-8.5",
        "49.833333333333336N 8.5W",
        "49.833333333333336° north 8.5° west",
        "+49.833333333333336 −8.5",
    ],
)
def test_ways_to_write_one_place(text):
    found = parse_position(text)
    assert (found.latitude_deg, found.longitude_deg) == pytest.approx(HERE, abs=1e-12)


@pytest.mark.parametrize(
    "text",
    ["29UNR3595720220", "29U NR 35957 20220", "29U 535957 5520220", "29 north 535957 5520220",
     "UTM 29U 535957mE 5520220mN", "zone 29N 535957 5520220"],
)  # fmt: skip
def test_ways_to_write_it_on_the_grid(text):
    found = parse_position(text)
    assert (found.latitude_deg, found.longitude_deg) == pytest.approx(HERE, abs=1e-5)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("91N", "'91N' is not a latitude; accepted: 0 to 90 degrees"),
        ("91N 8W", "'91N' is not a latitude"),
        ("49N 181W", "'181W' is not a longitude"),
        ("49 60.0N", "60 is not a number of minutes; accepted: 0 to 59.999 minutes"),
        ("49 60.0N 8 30.0W", "60 is not a number of minutes"),
        ("49 50 12.5N 8 30 60W", "60 is not a number of seconds"),
        ("49.5 8.5 W", "ambiguous: only one of latitude and longitude has its letter"),
        ("W 49.5 8.5", "ambiguous: only one of latitude and longitude has its letter"),
        ("49.5N", "has no longitude"),
        ("8.5W", "has no latitude"),
        ("49N 50N", "does not have one N or S and one E or W"),
        ("49 50 8 30", "does not say north or south, east or west"),
        ("49,8 8,5", "a comma between figures may be a decimal or a separator"),
        ("49.5-8.5", "a dash between figures may be a sign or a separator"),
        ("-49N 8W", "has a sign and a letter"),
        ("49.5 30N 8W", "has decimals before its last figure"),
        ("foo", "is not a position: 'F' has no place in it"),
        ("", "no position given"),
        ("49.8333", "has only one angle"),
        ("nan nan", "is not a position"),
        ("95.0 8.0", "is not a latitude"),
        ("30UNR3595720220", "square NR does not occur in zone 30"),
        ("29XNR3595720220", "square and band do not go together"),
        ("29TNR3595720220", "that cell lies in 29U, not in 29T"),
        ("29UNR359", "has 3 digits after the square"),
        ("61UNR3595720220", "there is no MGRS zone 61U"),
        ("29S 400000 4000000", "S may be band S (32° to 40° N) or the southern hemisphere"),
        ("29V 535957 5520220", "that northing lies in band U, not V"),
        ("29U 991960 5521010", "that easting lies in zone 30, not 29"),
        ("29U 5 5521010", "easting or northing is off the grid"),
        ("61 north 535957 5520220", "there is no UTM zone 61"),
        ("29O 535957 5520220", "O is not a band letter"),
    ],
)
def test_what_cannot_be_read_gets_its_own_sentence(text, sentence):
    with pytest.raises(InputError) as refused:
        parse_position(text, "datum")
    assert sentence in str(refused.value)
    assert str(refused.value).startswith("datum: ")


def test_southern_hemisphere_where_s_cannot_be_the_band():
    found = parse_position("29S 400000 8000000")
    assert -19.0 < found.latitude_deg < -17.0


@pytest.mark.parametrize(
    ("text", "value", "sense"),
    [
        ("065T", 65.0, Sense.TRUE),
        ("68.5 M", 68.5, Sense.MAGNETIC),
        ("070G", 70.0, Sense.GRID),
        ("R045", 45.0, Sense.RELATIVE),
        ("045 rel", 45.0, Sense.RELATIVE),
        ("360T", 0.0, Sense.TRUE),
        ("red 45", 315.0, Sense.RELATIVE),
        ("green 10", 10.0, Sense.RELATIVE),
        ("065° true", 65.0, Sense.TRUE),
    ],
)
def test_bearings(text, value, sense):
    assert parse_bearing(text) == SaidBearing(value, sense)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("065", "does not say true, magnetic, grid or relative"),
        ("G045", "may be grid or green"),
        ("361T", "361 is past 360; accepted: 000 to 360"),
        ("-5T", "is not a bearing"),
        ("red 190", "is off the bow"),
        ("north", "is not a bearing"),
    ],
)
def test_bearings_that_are_refused(text, sentence):
    with pytest.raises(InputError, match=sentence):
        parse_bearing(text)


def test_senses_are_turned_into_true():
    assert true_bearing_deg(parse_bearing("010M"), variation_deg=-12.0) == 358.0
    assert true_bearing_deg(parse_bearing("070G"), convergence_deg=0.5) == 70.5
    assert true_bearing_deg(parse_bearing("R045"), heading_true_deg=350.0) == 35.0
    with pytest.raises(InputError, match="R045 is relative and needs the observer's heading"):
        true_bearing_deg(parse_bearing("R045"))
    with pytest.raises(InputError, match="needs the grid convergence"):
        true_bearing_deg(parse_bearing("070G"))


def test_bearings_are_written_as_they_are_read():
    for text in ("065T", "068.5M", "070G", "R045"):
        assert str(parse_bearing(text)) == text


@pytest.mark.parametrize(
    ("text", "metres"),
    [("12nmi", 22_224.0), ("12 NM", 22_224.0), ("800m", 800.0), ("1.5km", 1_500.0),
     ("4 cables", 740.8), ("100yd", 91.44), ("0m", 0.0), ("3,5 km", 3_500.0),
     ("17 400 m", 17_400.0), ("5 miles", 9_260.0), ("2 kyd", 1_828.8)],
)  # fmt: skip
def test_ranges(text, metres):
    assert parse_range_m(text) == pytest.approx(metres)


@pytest.mark.parametrize(
    "text", ["12", "12M", "12 mi", "-3m", "99999nmi", "x", "1e3m", "12 parsec", "1,852 m", "1,852"]
)
def test_ranges_that_are_refused(text):
    with pytest.raises(InputError):
        parse_range_m(text)


def test_sixty_minutes_or_seconds_never_show():
    place = Position(59.99999999, -179.99999999)
    assert dm_text(place) == "60°00.000′N 180°00.000′W"
    assert dms_text(place) == "60°00′00.0″N 180°00′00.0″W"


def test_minus_zero_is_not_written():
    place = Position(-1e-9, -1e-9)
    assert dm_text(place) == "00°00.000′N 000°00.000′E"
    assert degrees_text(place) == "0.00000 0.00000"
