"""A depression bends with the profile: checked by hand and by an integrator of the ray."""

from datetime import UTC, datetime

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from layers.datum.evidence.soundings import bent_range_m, mean_speed, range_of
from layers.earth.errors import InputError
from layers.earth.values import SoundSpeedProfile
from tests.unit.test_datum_reports import BEARING, answer

AT = datetime(2027, 3, 12, 20, tzinfo=UTC)


def profile(depth, speed):
    return SoundSpeedProfile(
        depth_m=np.array(depth, dtype=float), speed_m_s=np.array(speed, dtype=float),
        taken_at=AT, position=None, source="test",
    )  # fmt: skip


def test_in_even_water_the_ray_is_straight():
    even = profile((0, 500), (1_500, 1_500))
    assert bent_range_m(even, 30.0, 5.0, 205.0) == pytest.approx(200.0 / np.tan(np.radians(30.0)))


def test_in_an_even_gradient_the_ray_is_a_circle():
    # radius c0 / (g cos depression): horizontal run between two depths by the circle's chord
    c0, g, down = 1_520.0, -0.05, np.radians(8.0)
    water = profile((0, 1_000), (c0, c0 + g * 1_000.0))
    end = np.arccos(np.cos(down) / c0 * (c0 + g * 400.0))
    run = c0 / (abs(g) * np.cos(down)) * (np.sin(end) - np.sin(down))
    assert bent_range_m(water, 8.0, 0.0, 400.0) == pytest.approx(run, rel=1e-4)


def test_through_a_thermocline_it_is_what_an_integrator_of_the_ray_says():
    water = profile((0, 40, 60, 300), (1_521, 1_520, 1_504, 1_499))
    c0 = 1_521.0 - 5.0 / 40.0

    def slope(depth, _):
        cosine = np.cos(np.radians(3.0)) / c0 * np.interp(depth, water.depth_m, water.speed_m_s)
        return [cosine / np.sqrt(1.0 - cosine**2)]

    own = solve_ivp(slope, (5.0, 180.0), [0.0], rtol=1e-9, max_step=0.5).y[0, -1]
    found = bent_range_m(water, 3.0, 5.0, 180.0)
    assert found == pytest.approx(own, rel=2e-3)
    # the straight line would put her half as far again
    assert found < 0.75 * 175.0 / np.tan(np.radians(3.0))


def test_a_ray_that_turns_above_her_is_refused_with_the_reason():
    duct = profile((0, 100), (1_500, 1_530))
    assert bent_range_m(duct, 3.0, 5.0, 100.0) is None
    with pytest.raises(InputError, match="does not come to 100 m"):
        range_of(duct, 3.0, 1.0, 5.0, (100.0, 0.0), mean_speed(duct, 5.0, 100.0))


def test_near_the_horizontal_a_degree_is_far():
    even = profile((0, 500), (1_500, 1_500))
    speed = mean_speed(even, 5.0, 205.0)
    steep = range_of(even, 40.0, 1.0, 5.0, (205.0, 5.0), speed)[1]
    flat = range_of(even, 4.0, 1.0, 5.0, (205.0, 5.0), speed)[1]
    assert flat > 50.0 * steep


def test_a_depression_narrows_a_bearing_to_where_it_comes_down():
    alone, _ = answer(("datum.bearing", 14.0, BEARING), hours=16.0)
    down = BEARING | {"depression_deg": 2.0, "depression_sigma_deg": 0.2, "object_depth_m": 300.0}
    both, _ = answer(("datum.bearing", 14.0, down), hours=16.0)
    assert both.grid.area_m2(0.5) < 0.7 * alone.grid.area_m2(0.5)
    assert "depression 2.0° to 300 m" in both.evidence[-1].says
