"""Edges of range and bearing, rhumb lines and figures."""

from __future__ import annotations

import math

import numpy as np
import pytest

from layers.earth import rhumb
from layers.earth.chart.marks import Path
from layers.earth.geodesy import (
    area_m2,
    between,
    densify,
    forward,
    inverse,
    ring,
)
from layers.earth.plane import ellipse_ring
from layers.earth.position import Position
from layers.earth.values import Ellipse


def test_bearing_due_north_is_zero_not_360():
    _, bearing, back = between(Position(49.0, -8.0), Position(50.0, -8.0))
    assert bearing == 0.0
    assert math.copysign(1.0, bearing) == 1.0
    assert back == 180.0
    assert float(rhumb.inverse(49.0, -8.0, 50.0, -8.0).bearing_true_deg) == 0.0


def test_zero_range_has_no_bearing():
    distance, bearing, back = between(Position(49.0, -8.0), Position(49.0, -8.0))
    assert distance == 0.0
    assert math.isnan(bearing)
    assert math.isnan(back)


def test_over_the_date_line_is_the_short_way():
    distance, bearing, _ = between(Position(0.0, 179.5), Position(0.0, -179.5))
    assert distance == pytest.approx(111_319.4908, abs=1e-3)  # one degree of the equator
    assert bearing == 90.0
    assert float(rhumb.inverse(0.0, 179.5, 0.0, -179.5).distance_m) == pytest.approx(distance)


def test_from_the_pole_everything_is_south():
    assert between(Position(80.0, 20.0), Position(90.0, 0.0))[1] == pytest.approx(0.0, abs=1e-9)
    assert between(Position(90.0, 20.0), Position(80.0, 20.0))[1] == pytest.approx(180.0)


def test_rhumb_line_to_the_pole_runs_along_the_meridian():
    found = rhumb.inverse(89.0, 0.0, 90.0, 50.0)
    assert float(found.bearing_true_deg) == pytest.approx(0.0, abs=1e-9)
    assert float(found.distance_m) == pytest.approx(between(Position(89, 0), Position(90, 0))[0])


def test_rhumb_line_past_the_pole_is_not_known():
    lat, lon = rhumb.forward([89.0, 89.0], [0.0, 0.0], [0.0, 45.0], [1e6, 2e6])
    assert np.isnan(lat).all()
    assert np.isnan(lon).all()


def test_half_way_round_by_rhumb_line_goes_east():
    found = rhumb.inverse(10.0, 0.0, 10.0, 180.0)
    assert float(found.bearing_true_deg) == pytest.approx(90.0)


def test_unknown_places_stay_unknown_and_do_not_spoil_the_others():
    found = inverse([49.0, np.nan], [-8.0, -8.0], [50.0, 50.0], [-8.0, -8.0])
    assert np.isnan(found.distance_m).tolist() == [False, True]
    assert np.isnan(found.bearing_true_deg).tolist() == [False, True]
    assert np.isnan(forward(49.0, -8.0, np.nan, 100.0).latitude_deg)


def test_arguments_are_left_as_they_were():
    lat, lon = np.array([49.0, 50.0]), np.array([-8.0, -9.0])
    inverse(lat, lon, lat + 1.0, lon + 1.0)
    assert lat.tolist() == [49.0, 50.0]
    assert lon.tolist() == [-8.0, -9.0]


def test_one_place_against_many():
    found = inverse(49.0, -8.0, np.array([50.0, 51.0, 52.0]), -8.0)
    assert found.distance_m.shape == (3,)


def test_densify_keeps_a_break():
    lat, lon = densify([0, 0, np.nan, 1, 2], [0, 1, np.nan, 1, 1], Path.GEODESIC, 30_000.0)
    assert np.flatnonzero(np.isnan(lat)).tolist() == [5]
    assert np.isnan(lon[5])
    assert lat.size == 11


def test_densify_leaves_what_is_given_as_given():
    lat, _ = densify([0.0, 10.0], [0.0, 0.0], Path.AS_GIVEN, 1.0)
    assert lat.tolist() == [0.0, 10.0]


def test_area_of_an_octant_is_an_eighth_of_the_earth():
    # WGS 84's area, 510065621724088 m2: geographiclib 2.1 (VERIFIED by running it)
    assert area_m2([0, 0, 90], [0, 90, 0]) * 8 == pytest.approx(510_065_621_724_088.0, rel=1e-12)


def test_area_is_the_same_either_way_round_and_none_for_a_line():
    lat, lon = [49.0, 50.0, 50.0], [-8.0, -8.0, -7.0]
    assert area_m2(lat, lon) == pytest.approx(area_m2(lat[::-1], lon[::-1]))
    assert area_m2(lat[:2], lon[:2]) == 0.0


def test_ring_round_the_pole_closes():
    lat, _ = ring(Position(90.0, 0.0), 100_000.0, 12)
    assert np.allclose(lat, lat[0])


def test_ellipse_lies_along_its_bearing():
    centre = Position(50.0, -8.0)
    lat, lon = ellipse_ring(
        centre, Ellipse(semi_major_m=2_000.0, semi_minor_m=500.0, bearing_true_deg=30.0), n=120
    )
    found = inverse(50.0, -8.0, lat, lon)
    far = int(np.argmax(found.distance_m))
    assert found.distance_m[far] == pytest.approx(2_000.0, abs=1e-6)
    assert found.bearing_true_deg[far] % 180.0 == pytest.approx(30.0, abs=1e-6)
    assert found.distance_m.min() == pytest.approx(500.0, abs=1e-6)
