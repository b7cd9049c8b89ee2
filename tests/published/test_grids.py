"""UTM and MGRS against numbers from outside (subject 2 of the list of check values)."""

from __future__ import annotations

import mgrs
import pytest
import utm as utm_package

from layers.earth.chart.frames import utm_zone
from layers.earth.chart.grids import mgrs_text, parse_grid, utm_metres, utm_text
from layers.earth.position import Position


# VERIFIED. NGA.SIG.0012 transverse Mercator; utm 0.9.0, test/test_utm.py, known_values.
@pytest.mark.parametrize(
    ("position", "easting", "northing", "zone", "letter"),
    [
        (Position(50.77535, 6.08389), 294_409, 5_628_898, 32, "U"),
        (Position(40.71435, -74.00597), 583_960, 4_507_523, 18, "T"),
        (Position(-41.28646, 174.77624), 313_784, 5_427_057, 60, "G"),
        (Position(-33.92487, 18.42406), 261_878, 6_243_186, 34, "H"),
    ],
)
def test_utm_of_four_cities(position, easting, northing, zone, letter):
    found_zone, _south, found_easting, found_northing = utm_metres(position)
    assert (found_zone, utm_text(position)[2]) == (zone, letter)
    assert found_easting == pytest.approx(easting, abs=1.0)
    assert found_northing == pytest.approx(northing, abs=1.0)


# VERIFIED. mgrs 1.6.0, tests/test_native.py.
def test_mgrs_of_42n_93w():
    assert mgrs_text(Position(42.0, -93.0)) == "15TWG0000049776"


# VERIFIED. GeographicLib's GeoConvert documentation point; mgrs 1.6.0 and pygeodesy 26.10.26.
@pytest.mark.parametrize(
    ("digits", "expected"),
    [
        (0, "38SMB"),
        (1, "38SMB48"),
        (2, "38SMB4484"),
        (3, "38SMB441847"),
        (4, "38SMB44148470"),
        (5, "38SMB4414084706"),
    ],
)
def test_mgrs_is_cut_off_not_rounded(digits, expected):
    assert mgrs_text(Position(33.3, 44.4), digits) == expected


# VERIFIED. mgrs 1.6.0 then pyproj 3.7.2; pygeodesy the same: the centre of the cell.
@pytest.mark.parametrize(
    ("cell", "easting", "northing"),
    [("38SMB441847", 444_150.0, 3_684_750.0), ("38SMB4414084706", 444_140.5, 3_684_706.5)],
)
def test_mgrs_comes_back_as_the_centre_of_the_cell(cell, easting, northing):
    zone, south, found_easting, found_northing = utm_metres(parse_grid(cell))
    assert (zone, south) == (38, False)
    assert (found_easting, found_northing) == pytest.approx((easting, northing), abs=0.01)


# VERIFIED. mgrs 1.6.0 and pygeodesy 26.10.26 (the Norway exception); mgrs 1.6.0 (UPS).
def test_mgrs_at_the_exceptions():
    assert mgrs_text(Position(60.0, 6.0)) == "32VLM3270555205"
    assert mgrs_text(Position(88.0, 45.0)) == "ZBF5702642973"


# The zones of Norway and Svalbard are from memory, not checked against NGA.SIG.0012; two
# general packages say the same everywhere.
def test_every_zone_agrees_with_two_packages():
    converter = mgrs.MGRS()
    for lat in (-79.5, -33.0, 0.5, 55.9, 56.1, 63.9, 64.1, 71.9, 72.1, 78.0, 83.5):
        for tenth in range(-1799, 1800, 7):
            place = Position(lat, tenth / 10.0)
            expected = utm_package.latlon_to_zone_number(lat, tenth / 10.0)
            assert utm_zone(place) == expected, place
            assert int(converter.toMGRS(lat, tenth / 10.0)[:2]) == expected, place


@pytest.mark.parametrize("south_deg", [6e-10, 9e-7])
def test_a_hair_south_of_the_equator_is_on_it_in_both_grids(south_deg):
    place = Position(-south_deg, 0.0)
    assert mgrs_text(place) == mgrs_text(Position(0.0, 0.0))
    assert parse_grid(mgrs_text(place)).latitude_deg == pytest.approx(0.0, abs=1e-5)
    assert parse_grid(utm_text(place)).latitude_deg == pytest.approx(0.0, abs=1e-5)
