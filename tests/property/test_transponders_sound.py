"""Laws of sound in any water: Snell, the way back, and time that only grows."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings, strategies as st

from layers.transponders.sound.hearing import range_m
from layers.transponders.sound.rays import fan, paths
from layers.transponders.sound.travel import direct_rays, horizontal_range
from layers.transponders.sound.water import harmonic_mean

speeds = st.lists(st.floats(1440.0, 1560.0), min_size=3, max_size=12)
angles = st.floats(-70.0, 70.0)


def column(values):
    return np.linspace(0.0, 1000.0, len(values)), np.array(values)


@settings(max_examples=60, deadline=None)
@given(speeds, st.floats(10.0, 990.0), angles)
def test_a_ray_stays_in_the_water_and_never_goes_back_in_time(values, source_m, angle_deg):
    z, c = column(values)
    ranges = np.linspace(1.0, 8000.0, 60)
    drawn = paths(fan(z, c, source_m, np.array([angle_deg])), ranges)
    assert np.all((drawn.depth_m >= -1e-6) & (drawn.depth_m <= 1000.0 + 1e-6))
    assert np.all(np.diff(drawn.time_s[0]) > 0.0)
    # No faster than the fastest water straight there
    assert np.all(drawn.time_s[0] >= ranges / np.max(c) - 1e-9)


@settings(max_examples=60, deadline=None)
@given(speeds, st.floats(20.0, 980.0), st.floats(-60.0, 60.0))
def test_a_ray_turned_round_comes_back_in_the_same_time(values, source_m, angle_deg):
    z, c = column(values)
    there = paths(fan(z, c, source_m, np.array([angle_deg])), np.array([1500.0, 1500.01]))
    end_m = float(there.depth_m[0, 0])
    slope = float(there.depth_m[0, 1] - there.depth_m[0, 0]) / 0.01
    p = np.cos(np.radians(angle_deg)) / np.interp(source_m, z, c)
    cosine = p * np.interp(end_m, z, c)
    # Too near a turn or a mirror the direction cannot be told from two points 1 cm apart.
    if cosine > 0.999 or not 1.0 < end_m < 999.0 or abs(slope) < 0.05:
        return
    back_deg = -np.sign(slope) * np.degrees(np.arccos(cosine))
    back = paths(fan(z, c, end_m, np.array([back_deg])), np.array([1500.0]))
    assert abs(back.depth_m[0, 0] - source_m) < 0.5
    assert abs(back.time_s[0, 0] - there.time_s[0, 0]) < 1e-4


@settings(max_examples=60, deadline=None)
@given(speeds, st.floats(0.05, 0.9))
def test_time_to_range_and_back_to_time(values, share):
    z, c = column(values)
    rays = direct_rays(z, c, 5.0, 900.0)
    time_s = rays.time_s[0] + share * (rays.time_s[200] - rays.time_s[0])
    found = horizontal_range(z, c, 5.0, 900.0, float(time_s))
    again = np.interp(found**2, rays.range_m**2, rays.time_s**2) ** 0.5
    assert abs(again - time_s) < 1e-5


@settings(max_examples=60, deadline=None)
@given(speeds)
def test_straight_down_takes_the_harmonic_mean(values):
    z, c = column(values)
    rays = direct_rays(z, c, 0.0, 1000.0)
    mean = harmonic_mean(z, c, 0.0, 1000.0)
    assert abs(1000.0 / mean - rays.time_s[0]) < 1e-7
    assert np.min(c) - 1e-9 <= mean <= np.max(c) + 1e-9


@settings(max_examples=60, deadline=None)
@given(st.floats(5.0, 150.0), st.floats(0.01, 40.0))
def test_more_merit_hears_further_and_more_absorption_less_far(merit_db, alpha):
    assert range_m(merit_db + 1.0, alpha) >= range_m(merit_db, alpha)
    assert range_m(merit_db, alpha * 1.5) <= range_m(merit_db, alpha)
