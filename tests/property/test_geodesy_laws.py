"""Laws that range, bearing, frames and notations keep everywhere on the earth."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings, strategies as st
from pygeodesy import ellipsoids
from pygeodesy.rhumb import ekx

from layers.earth import rhumb
from layers.earth.chart.frames import ChartFrame, FrameName, frame_for
from layers.earth.chart.marks import Path
from layers.earth.geodesy import between, densify, going, inverse, ring
from layers.earth.position import Position
from layers.earth.said.parse import parse_position
from layers.earth.said.written import Notation, written

latitudes = st.floats(-90, 90)
longitudes = st.floats(-180, 180)
places = st.builds(Position, latitudes, longitudes)
bearings = st.floats(0, 360, exclude_max=True)
QUICK = settings(max_examples=150, deadline=None)


@QUICK
@given(places, bearings, st.floats(1.0, 1.9e7))
def test_going_out_and_measuring_back_returns_the_same_distance(start, bearing, distance):
    end = going(start, bearing, distance)
    assert between(start, end)[0] == pytest.approx(distance, rel=1e-9, abs=1e-5)


@QUICK
@given(places, places)
def test_distance_is_the_same_both_ways_and_back_bearing_is_the_other_bearing(a, b):
    there, there_bearing, there_back = between(a, b)
    back, back_bearing, _ = between(b, a)
    assert there == pytest.approx(back, rel=1e-12, abs=1e-6)
    assume(1.0 < there < 1.99e7 and max(abs(a.latitude_deg), abs(b.latitude_deg)) < 89.99)
    turn = (there_back - back_bearing + 180.0) % 360.0 - 180.0
    assert abs(turn) < 1e-4
    assert 0.0 <= there_bearing < 360.0


@QUICK
@given(places, places)
def test_a_rhumb_line_is_never_shorter_than_the_geodesic(a, b):
    line = rhumb.inverse(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
    assert float(line.distance_m) >= between(a, b)[0] - 1e-3


@QUICK
@given(st.floats(-89, 89), longitudes, st.floats(-89, 89), st.floats(-179.9, 179.9))
def test_rhumb_agrees_with_pygeodesy(lat_a, lon_a, lat_b, turn):
    # pygeodesy's RhumbExact (Karney's algorithm), WGS 84; VERIFIED by running it here
    lon_b = (lon_a + turn + 180.0) % 360.0 - 180.0
    lat_a, lon_a, lat_b = (round(value, 12) for value in (lat_a, lon_a, lat_b))
    expected = ekx.Rhumb(ellipsoids.Ellipsoids.WGS84).Inverse(lat_a, lon_a, lat_b, lon_b)
    found = rhumb.inverse(lat_a, lon_a, lat_b, lon_b)
    assert float(found.distance_m) == pytest.approx(expected.s12, rel=1e-9, abs=1e-3)
    assume(expected.s12 > 1.0)
    off = (float(found.bearing_true_deg) - expected.azi12 + 180.0) % 360.0 - 180.0
    assert abs(off) < 1e-6


@QUICK
@given(st.floats(-80, 80), longitudes, bearings, st.floats(0.0, 1.0e6))
def test_rhumb_out_and_back_closes(lat, lon, course, run):
    end_lat, end_lon = rhumb.forward(lat, lon, course, run)
    assert np.isfinite(end_lat)
    back_lat, back_lon = rhumb.forward(end_lat, end_lon, course + 180.0, run)
    assert float(back_lat) == pytest.approx(lat, abs=1e-9)
    assert abs((float(back_lon) - lon + 180.0) % 360.0 - 180.0) < 1e-8


@QUICK
@given(st.floats(-80, 80), st.floats(-1e-7, 1e-7), st.floats(1.0, 170.0))
def test_rhumb_near_east_and_west_does_not_jump(lat, tilt, turn):
    level = float(rhumb.inverse(lat, 0.0, lat, turn).distance_m)
    tilted = float(rhumb.inverse(lat, 0.0, lat + tilt, turn).distance_m)
    assert tilted == pytest.approx(level, rel=3e-8)


@QUICK
@given(places, st.sampled_from(FrameName), st.floats(-1, 1), st.floats(-1, 1))
def test_projecting_and_back_returns_the_same_place(centre, name, x_part, y_part):
    assume(name is not FrameName.MERCATOR or abs(centre.latitude_deg) < 84)
    assume(name is not FrameName.UTM or -79.5 < centre.latitude_deg < 83.5)
    frame = ChartFrame(name, centre)
    x, y = x_part * 2.0e5, y_part * 2.0e5
    lat, lon = frame.unproject(x, y)
    back_x, back_y = frame.project(lat, lon)
    assert (float(back_x), float(back_y)) == pytest.approx((x, y), abs=2e-3)


@QUICK
@given(places, bearings, st.floats(1.0, 1.0e7))
def test_range_true_keeps_range_and_bearing_from_its_centre(centre, bearing, distance):
    assume(abs(centre.latitude_deg) < 89.9)
    end = going(centre, bearing, distance)
    x, y = ChartFrame(FrameName.RANGE_TRUE, centre).project(end.latitude_deg, end.longitude_deg)
    assert np.hypot(x, y) == pytest.approx(distance, rel=1e-9, abs=1e-4)
    off = (np.degrees(np.arctan2(x, y)) - bearing + 180.0) % 360.0 - 180.0
    assert abs(off) * np.pi / 180.0 * distance < 1e-3


@QUICK
@given(places, st.sampled_from(Notation))
def test_every_notation_reads_back(place, notation):
    limits_m = {
        Notation.DM: 2.0,
        Notation.DEGREES: 1.2,
        Notation.DMS: 3.3,
        Notation.UTM: 0.8,
        Notation.MGRS: 0.8,  # the centre of a 1 m cell
    }
    # a metre over the edge of a zone or at a pole the cell is cut off by the edge
    assume(abs(place.latitude_deg) < 89.9999)
    again = parse_position(written(place, notation))
    assert between(place, again)[0] < limits_m[notation]


@QUICK
@given(places, places, st.sampled_from([Path.GEODESIC, Path.RHUMB]), st.floats(5e3, 1e6))
def test_densifying_keeps_the_ends_and_the_step(a, b, path, step):
    assume(max(abs(a.latitude_deg), abs(b.latitude_deg)) < 89.0)
    lat, lon = densify(
        [a.latitude_deg, b.latitude_deg], [a.longitude_deg, b.longitude_deg], path, step
    )
    assert (lat[0], lat[-1]) == (a.latitude_deg, b.latitude_deg)
    found = inverse(lat[:-1], lon[:-1], lat[1:], lon[1:])
    whole = rhumb.inverse(lat[0], lon[0], lat[-1], lon[-1]).distance_m
    assert np.all(found.distance_m <= max(step, float(whole) / 2_000.0) * (1 + 1e-6) + 1e-3)


@QUICK
@given(places, st.floats(10.0, 5.0e6))
def test_every_vertex_of_a_ring_is_as_far_away(centre, radius):
    lat, lon = ring(centre, radius, 36)
    found = inverse(centre.latitude_deg, centre.longitude_deg, lat, lon)
    assert np.allclose(found.distance_m, radius, rtol=1e-9, atol=1e-5)


@QUICK
@given(places, places)
def test_no_frame_ever_gives_infinity(centre, place):
    frame = frame_for(centre)
    x, y = frame.project(place.latitude_deg, place.longitude_deg)
    assert not np.isinf(x)
    assert not np.isinf(y)
