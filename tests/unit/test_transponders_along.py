"""Rays through water that changes along the way, against ones stepped by another method.

The other method: each ray as a differential equation in arc length, so that steep and level rays
are alike, solved by `scipy.integrate.solve_ivp` to 1e-9 in the field between two profiles.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from layers.earth.geodesy import going, inverse
from layers.earth.position import Position
from layers.transponders.sound.along import NEAR_M, cast_about
from layers.transponders.sound.terrain import STEP_M, SoundGround, cast, reach_at
from layers.transponders.sound.water import Water

HERE = Position(49.8, -8.5)
THERE = going(HERE, 90.0, 9_000.0)
Z = np.array([0.0, 20.0, 60.0, 200.0, 700.0])
MIXED = np.array([1500.0, 1500.3, 1501.0, 1503.4, 1511.9])  # rises all the way: sound bends up
SUMMER = np.array([1516.0, 1515.0, 1496.0, 1498.4, 1506.9])  # falls: sound bends down into shadow


def water(speed: Any, place: Position | None, record: str) -> Water:
    return Water(
        depth_m=Z, speed_m_s=speed, measured_depth_m=Z, equations={}, temperature_c=None,
        practical_salinity=None, spread_m_s=None, taken_at=datetime(2027, 3, 15, tzinfo=UTC),
        position=place, source="", notes=(), record_id=record,
    )  # fmt: skip


def over(azimuths: list[float], reach_m: float = 9_000.0, depth_m: float = 190.0) -> SoundGround:
    ranges = np.arange(0.0, reach_m + STEP_M, STEP_M)
    depth = np.full((len(azimuths), len(ranges)), depth_m)
    return SoundGround(azimuth_deg=np.array(azimuths), range_m=ranges, depth_m=depth,
                       assumed=np.zeros(depth.shape, dtype=bool))  # fmt: skip


def by_arc(angle_deg: float, source_m: float, range_m: float, one: Any, other: Any) -> float:
    """Return the depth of a ray at a range, eastward between the two profiles."""
    whole = inverse(HERE.latitude_deg, HERE.longitude_deg, THERE.latitude_deg,
                    THERE.longitude_deg).distance_m  # fmt: skip

    def speed(x: float, z: float) -> float:
        first = 1.0 / (x**2 + NEAR_M**2)
        second = 1.0 / ((float(whole) - x) ** 2 + NEAR_M**2)
        mixed = first * np.interp(z, Z, one) + second * np.interp(z, Z, other)
        return float(mixed / (first + second))

    def turn(_s: float, state: Any) -> list[float]:
        x, z, angle = state
        c, h = speed(x, z), 0.01
        cx = (speed(x + h, z) - speed(x - h, z)) / (2 * h)
        cz = (speed(x, z + h) - speed(x, z - h)) / (2 * h)
        return [np.cos(angle), np.sin(angle), (np.sin(angle) * cx - np.cos(angle) * cz) / c]

    def there(_s: float, state: Any) -> float:
        return float(state[0] - range_m)

    there.terminal = True  # type: ignore[attr-defined]  # set or read by the test alone
    found = solve_ivp(turn, (0.0, 2.0 * range_m), [0.0, source_m, np.radians(angle_deg)],
                      events=there, rtol=1e-8, atol=1e-8, max_step=40.0)  # fmt: skip
    return float(found.y_events[0][0][1])


@pytest.mark.parametrize("angle", [0.5, 2.0, 4.0])
@pytest.mark.parametrize("range_m", [2_250.0, 6_000.0])
def test_a_ray_between_two_profiles_goes_where_a_stepped_one_does(
    angle: float, range_m: float
) -> None:
    waters = (water(MIXED, HERE, "a"), water(SUMMER, THERE, "b"))
    made = cast_about(waters[0], waters, HERE, 100.0, over([90.0], depth_m=690.0))
    ranges = over([90.0]).range_m
    column = int(np.argmin(np.abs(ranges - range_m)))
    wanted = by_arc(angle, 100.0, float(ranges[column]), MIXED, SUMMER)
    # the rays at hand are those of the cast: it lies among the four about its angle
    first = made.depth_m[0][:, 1] - made.depth_m[0][:, 0]
    told = np.degrees(np.arctan(first / STEP_M))
    near = np.argsort(np.abs(told - angle))[:4]
    depths = made.depth_m[0][near, column]
    low, high = float(depths.min()), float(depths.max())
    assert high - low < 25.0
    assert low - 3.0 <= wanted <= high + 3.0


def test_two_profiles_alike_are_one() -> None:
    alone = water(SUMMER, HERE, "a")
    two = (alone, water(SUMMER, THERE, "b"))
    ground = over([0.0, 90.0, 200.0])
    one, both = cast(alone, 185.0, ground), cast_about(alone, two, HERE, 185.0, ground)
    for depth in (5.0, 40.0, 120.0):
        assert reach_at(both, depth) == pytest.approx(reach_at(one, depth), abs=2 * STEP_M)


def test_sound_ends_earlier_towards_the_water_that_bends_it_down() -> None:
    """Source and ear at 40 m: mixed water carries it, summer water to the east loses it."""
    here, east = water(MIXED, HERE, "a"), water(SUMMER, THERE, "b")
    ground = over([90.0, 270.0])
    alone = reach_at(cast(here, 40.0, ground), 40.0)
    changed = reach_at(cast_about(here, (here, east), HERE, 40.0, ground), 40.0)
    assert changed[0] < alone[0]
    assert changed[1] > changed[0]


def test_a_profile_without_a_place_or_far_off_changes_nothing() -> None:
    here = water(MIXED, HERE, "a")
    far = water(SUMMER, going(HERE, 90.0, 60_000.0), "b")
    nowhere = water(SUMMER, None, "c")
    ground = over([90.0])
    one = cast(here, 100.0, ground)
    assert np.array_equal(cast_about(here, (here, far, nowhere), HERE, 100.0, ground).hit, one.hit)
    unplaced = replace(here, position=None)
    assert np.array_equal(cast_about(unplaced, (far,), HERE, 100.0, ground).hit, one.hit)
