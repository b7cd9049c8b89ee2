"""Geodesy and sailings against numbers from outside.

Rows of subject 1 of the project's list of check values; each names its source here.
"""

from __future__ import annotations

import pytest
from pyproj import Geod

from layers.earth import rhumb
from layers.earth.geodesy import between, forward, going
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI


def dms(degrees: float, minutes: float, seconds: float = 0.0) -> float:
    return degrees + minutes / 60.0 + seconds / 3600.0


# VERIFIED. Karney (2013), Algorithms for geodesics, J. Geodesy 87, 43-55; GeodSolve0, in the own
# tests of geographiclib 2.1. Tolerance: half the last printed figure.
def test_inverse_matches_geodsolve0():
    distance, bearing, back = between(Position(40.6, -73.8), Position(dms(49, 1), dms(2, 33)))
    assert distance == pytest.approx(5_853_226, abs=0.5)
    assert bearing == pytest.approx(53.47022, abs=0.5e-5)
    assert back == pytest.approx(111.59367 + 180.0, abs=0.5e-5)  # printed forward, at the far end


# VERIFIED. GeodSolve1, same source and test file.
def test_direct_matches_geodsolve1():
    found = forward(dms(40, 38, 23), -dms(73, 46, 44), 53.5, 5_850_000.0)
    assert float(found.latitude_deg) == pytest.approx(49.01467, abs=0.5e-5)
    assert float(found.longitude_deg) == pytest.approx(2.56106, abs=0.5e-5)
    assert float(found.back_bearing_true_deg) == pytest.approx(111.62947 + 180.0, abs=0.5e-5)


# VERIFIED numerically (pyproj 3.7.2 on GRS 80); that ICSM's GDA Technical Manual prints this pair
# is from MEMORY, not checked against the page. The engine is asked for GRS 80 here.
def test_flinders_peak_to_buninyong():
    lon_a, lat_a = dms(144, 25, 29.52440), -dms(37, 57, 3.72030)
    lon_b, lat_b = dms(143, 55, 35.38390), -dms(37, 39, 10.15610)
    there, back, distance = Geod(ellps="GRS80").inv(lon_a, lat_a, lon_b, lat_b)
    assert distance == pytest.approx(54_972.271, abs=0.001)
    assert there % 360.0 == pytest.approx(dms(306, 52, 5.37), abs=0.01 / 3600)
    assert back % 360.0 == pytest.approx(dms(127, 10, 25.07), abs=0.01 / 3600)
    # WGS 84 differs from GRS 80 by 0.1 mm in the semi-minor axis
    ours, bearing, _ = between(Position(lat_a, lon_a), Position(lat_b, lon_b))
    assert ours == pytest.approx(54_972.271, abs=0.001)
    assert bearing == pytest.approx(dms(306, 52, 5.37), abs=0.01 / 3600)


# VERIFIED. geographiclib 2.1, WGS 84.
@pytest.mark.parametrize(
    ("a", "b", "expected_m", "tolerance_m"),
    [
        (Position(0, 0), Position(90, 0), 10_001_965.729, 0.001),
        (Position(0, 0), Position(0, 1), 111_319.4908, 1e-4),
        (Position(44.5, 0), Position(45.5, 0), 111_131.778, 0.001),
    ],
)
def test_lengths_on_the_ellipsoid(a, b, expected_m, tolerance_m):
    assert between(a, b)[0] == pytest.approx(expected_m, abs=tolerance_m)


# VERIFIED. geographiclib 2.1 (direct), pygeodesy 26.10.26 (rhumb): 1.5 NM apart after 100 NM.
def test_geodesic_and_rhumb_line_are_not_mixed():
    start = Position(50.0, -10.0)
    end = going(start, 60.0, 100.0 * M_PER_NMI)
    assert (end.latitude_deg, end.longitude_deg) == pytest.approx((50.810432, -7.724177), abs=1e-6)
    lat, lon = rhumb.forward(50.0, -10.0, 60.0, 185_200.0)
    assert (float(lat), float(lon)) == pytest.approx((50.832456, -7.743317), abs=1e-6)


# VERIFIED. GeographicLib, RhumbSolve manual page, EXAMPLES: 103:34:58.2, 18523563 m.
def test_rhumb_from_kennedy_to_changi():
    found = rhumb.inverse(dms(40, 38, 23), -dms(73, 46, 44), dms(1, 21, 33), dms(103, 59, 22))
    assert float(found.distance_m) == pytest.approx(18_523_563, abs=1.0)
    assert float(found.bearing_true_deg) == pytest.approx(dms(103, 34, 58.2), abs=0.1 / 3600)


# VERIFIED. pygeodesy 26.10.26, ellipsoidal rhumb line on WGS 84.
def test_rhumb_of_the_mercator_sailing_example():
    found = rhumb.inverse(dms(40, 28), -dms(73, 50), dms(39, 51), -dms(72, 45))
    assert float(found.bearing_true_deg) == pytest.approx(126.5716, abs=1e-3)
    assert float(found.distance_m) / M_PER_NMI == pytest.approx(62.0526, abs=1e-3)
