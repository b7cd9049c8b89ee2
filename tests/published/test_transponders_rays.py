"""Rays against the circular arc of a constant gradient, Snell's law, and a stepped solution."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from layers.transponders.sound.rays import fan, lit, paths
from layers.transponders.sound.travel import direct_rays, horizontal_range, straight_error_m

RISING = np.array([0.0, 5000.0]), np.array([1500.0, 1580.0])  # 0.016 per second


def munk(z):
    # Munk, JASA 55 (1974) 220: eps=0.00737, axis and scale 1300 m. COMPUTED; formula MEMORY.
    zb = 2.0 * (z - 1300.0) / 1300.0
    return 1500.0 * (1.0 + 0.00737 * (zb - 1.0 + np.exp(-zb)))


def test_turning_depth_skip_and_time_are_those_of_the_arc():
    # COMPUTED closed forms, c0 = 1500, g = 0.016 /s, 5 and 10 degrees: (c0/g)(sec th - 1),
    # 2(c0/g) tan th, (2/g) atanh(sin th).
    rays = fan(*RISING, 0.0, np.array([5.0, 10.0]))
    assert rays.lower_m == pytest.approx([358.110, 1446.245], abs=0.01)
    assert 2 * rays.along_m[:, -1] == pytest.approx([16404.12, 33061.31], abs=0.1)
    assert 2 * rays.taken_s[:, -1] == pytest.approx([10.92218, 21.92823], abs=1e-4)


def test_a_ray_follows_the_circle_on_its_way():
    rays = fan(*RISING, 0.0, np.array([5.0]))
    x = np.linspace(0.0, 16404.0, 60)
    radius, half = 1500.0 / 0.016 / np.cos(np.radians(5.0)), 8202.06
    circle = np.sqrt(radius**2 - (x - half) ** 2) - 1500.0 / 0.016
    assert paths(rays, x).depth_m[0] == pytest.approx(circle, abs=0.01)


def test_snell_bends_a_ray_into_slower_water():
    # 10 degrees in 1500 m/s into 1480 m/s: 13.6690 degrees. COMPUTED, cos th / c constant.
    z, c = np.array([0.0, 100.0, 100.001, 200.0]), np.array([1500.0, 1500.0, 1480.0, 1480.0])
    rays = fan(z, c, 50.0, np.array([10.0]))
    assert np.degrees(np.arccos(rays.parameter_s_m[0] * 1480.0)) == pytest.approx(13.6690, abs=1e-4)
    drawn = paths(rays, np.array([400.0, 450.0])).depth_m[0]
    assert np.degrees(np.arctan((drawn[1] - drawn[0]) / 50.0)) == pytest.approx(13.669, abs=0.01)


def test_a_ray_below_the_critical_angle_does_not_enter_faster_water():
    # 1500 to 1530 m/s: 11.3649 degrees. COMPUTED, acos(c1/c2).
    z, c = np.array([0.0, 100.0, 100.001, 200.0]), np.array([1500.0, 1500.0, 1530.0, 1530.0])
    rays = fan(z, c, 50.0, np.array([11.35, 11.38]))
    assert rays.lower_m[0] == pytest.approx(100.0, abs=0.01)
    assert rays.lower_m[1] == 200.0


def test_the_shadow_begins_where_the_limiting_ray_is():
    # g = -0.05 /s, c0 = 1500, receiver 100 m deep, source at the surface: 2449.5 m (small angle,
    # sqrt(2 (c0/|g|) h)). COMPUTED; the exact arc, sqrt(2 R h - h²) with R = 30 km, is 2447.4 m.
    z, c = np.array([0.0, 400.0]), np.array([1500.0, 1480.0])
    ranges, depths = np.arange(0.0, 4001.0, 25.0), np.arange(0.0, 401.0, 5.0)
    rays = fan(z, c, 0.0, np.linspace(0.0, 20.0, 4000))
    row = lit(rays, ranges, depths)[20]  # 100 to 105 m
    shadow = ranges[np.flatnonzero(row)[-1] + 1]
    # The row's lower edge, 105 m, is reached at 2507.8 m; columns are 25 m wide.
    assert 2507.8 <= shadow <= 2507.8 + 25.0
    limiting = paths(fan(z, c, 0.0, np.array([0.0])), np.array([2449.5])).depth_m
    assert limiting[0, 0] == pytest.approx(100.0, abs=0.25)


def test_munk_profile_has_its_known_values():
    assert munk(np.array([0.0, 1300.0, 5000.0])) == pytest.approx(
        [1548.52, 1500.0, 1551.91], abs=0.01
    )


@pytest.mark.parametrize("angle_deg", [-14.0, -4.7, 0.3, 5.6, 14.0, 35.0])
def test_rays_agree_with_a_stepped_solution_within_a_metre(angle_deg):
    # SciPy's solve_ivp over the same piecewise linear profile, reflections unfolded.
    z = np.linspace(0.0, 5000.0, 201)
    c = munk(z)
    gradient = np.diff(c) / np.diff(z)

    def fold(u):
        u = np.mod(u, 10_000.0)
        return (u, 1.0) if u <= 5000.0 else (10_000.0 - u, -1.0)

    def slope(_x, state):
        depth, sign = fold(state[0])
        layer = min(int(depth // 25.0), 199)
        speed = c[layer] + gradient[layer] * (depth - z[layer])
        return [np.tan(state[1]), -sign * gradient[layer] / speed,
                1.0 / (speed * np.cos(state[1]))]  # fmt: skip

    stepped = solve_ivp(
        slope, (0.0, 20_000.0), [1000.0, np.radians(angle_deg), 0.0], rtol=1e-9, atol=1e-7,
        max_step=5.0,
    )  # fmt: skip
    ours = paths(fan(z, c, 1000.0, np.array([angle_deg])), np.array([20_000.0]))
    assert ours.depth_m[0, 0] == pytest.approx(fold(stepped.y[0, -1])[0], abs=1.0)
    assert ours.time_s[0, 0] == pytest.approx(stepped.y[2, -1], abs=1e-3)


def test_reflections_are_counted_and_straight_in_still_water():
    z, c = np.array([0.0, 100.0]), np.array([1500.0, 1500.0])
    drawn = paths(fan(z, c, 50.0, np.array([45.0])), np.array([49.0, 51.0, 151.0, 420.0]))
    assert drawn.depth_m[0] == pytest.approx([99.0, 99.0, 1.0, 70.0], abs=1e-6)
    assert drawn.bottom_hits[0].tolist() == [0, 1, 1, 2]
    assert drawn.surface_hits[0].tolist() == [0, 0, 1, 2]
    assert drawn.time_s[0, 3] == pytest.approx(420.0 * np.sqrt(2.0) / 1500.0)


def test_horizontal_range_undoes_the_travel_time_of_the_direct_ray():
    z = np.linspace(0.0, 5000.0, 201)
    rays = direct_rays(z, munk(z), 5.0, 2000.0)
    for place in (10, 150, 300):
        found = horizontal_range(z, munk(z), 5.0, 2000.0, rays.time_s[place])
        assert found == pytest.approx(rays.range_m[place], abs=0.01)


def test_straight_rays_are_exact_in_still_water_and_wrong_elsewhere():
    still = np.array([0.0, 2000.0]), np.array([1500.0, 1500.0])
    assert straight_error_m(*still, 5.0, 1500.0, 2.0) == pytest.approx(0.0, abs=0.01)
    bent = np.array([0.0, 200.0]), np.array([1510.0, 1480.0])
    assert abs(straight_error_m(*bent, 5.0, 150.0, 0.8)) > 0.3
