"""Magnetic variation against the model's own test values (subject 11)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from layers.earth.position import Position
from layers.earth.variation import decimal_year, variation


def in_year(year: float) -> datetime:
    start = datetime(int(year), 1, 1, tzinfo=UTC)
    length = datetime(int(year) + 1, 1, 1, tzinfo=UTC) - start
    return start + timedelta(seconds=(year % 1.0) * length.total_seconds())


# VERIFIED. NOAA NCEI and BGS, WMM2025_TEST_VALUES.txt (in the repository of pygeomag); printed
# to 0.01 degree and 1e-6 nT.
@pytest.mark.parametrize(
    ("year", "altitude_km", "position", "declination", "horizontal_nt"),
    [
        (2025.0, 65.0, Position(43, 93), 0.50, 24_300.764692),
        (2025.0, 28.0, Position(89, -121), -99.77, 1_504.298146),
        (2025.5, 44.0, Position(33, -118), 11.10, 23_678.743422),
        (2026.5, 14.0, Position(0, 80), -3.10, 39_489.089663),
    ],
)
def test_variation_of_the_models_own_values(
    year, altitude_km, position, declination, horizontal_nt
):
    found = variation(position, in_year(year), altitude_km)
    assert found.variation_deg == pytest.approx(declination, abs=0.005)
    assert found.horizontal_nt == pytest.approx(horizontal_nt, abs=0.01)


# VERIFIED. Same file: dD/dt. Here by central difference.
def test_annual_change():
    found = variation(Position(43, 93), in_year(2025.0), 65.0)
    assert found.annual_change_deg == pytest.approx(-0.019813, abs=1e-5)


# VERIFIED. pygeomag 1.1.0.
def test_variation_at_sea_level():
    assert variation(Position(60, -5), in_year(2026.5)).variation_deg == pytest.approx(
        -1.71220, abs=1e-4
    )


def test_outside_its_years_it_warns_and_still_answers():
    found = variation(Position(50, -8), in_year(2031.0))
    assert "2031.0 is outside" in found.warning
    assert not variation(Position(50, -8), in_year(2027.2)).warning


def test_near_a_magnetic_pole_it_warns():
    assert "no use" in variation(Position(86, 140), in_year(2026.0)).warning
    assert "degrees out" in variation(Position(75, -90), in_year(2026.0)).warning


def test_decimal_year_of_a_leap_year():
    assert decimal_year(datetime(2028, 7, 2, tzinfo=UTC)) == pytest.approx(2028.5)
