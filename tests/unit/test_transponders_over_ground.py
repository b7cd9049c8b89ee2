"""Sound over a real seabed, against rays stepped through it by another method.

The other method: every ray as a differential equation (Snell's law in the form dθ/dx = -c'/c),
stepped by `scipy.integrate.solve_ivp` with an event where it meets the ground, or the surface.
"""

from datetime import UTC, datetime

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from layers.earth.errors import InputError
from layers.earth.geodesy import going
from layers.earth.position import Position
from layers.transponders.model import Listener, SoundSource
from layers.transponders.sound.covered import Covered
from layers.transponders.sound.hearing import WaterColumn
from layers.transponders.sound.rays import fan, paths
from layers.transponders.sound.terrain import (
    STEP_M,
    SoundGround,
    cast,
    ground,
    lit_bed,
    reach_at,
    turning_angles,
)
from layers.transponders.sound.water import Water

Z = np.array([0.0, 30.0, 60.0, 160.0])
SUMMER = np.array([1512.0, 1511.0, 1494.0, 1495.0])
HERE = Position(49.8, -8.5)
NOON = int(datetime(2027, 3, 15, 12, tzinfo=UTC).timestamp()) * 1_000_000


def water(z=Z, c=SUMMER):
    return Water(
        depth_m=z, speed_m_s=c, measured_depth_m=z, equations={}, temperature_c=None,
        practical_salinity=None, spread_m_s=None, taken_at=datetime(2027, 3, 15, tzinfo=UTC),
        position=None, source="", notes=(), record_id="",
    )  # fmt: skip


def over(bed, reach_m=6000.0):
    ranges = np.arange(0.0, reach_m + STEP_M, STEP_M)
    depth = np.array([bed(ranges)])
    return SoundGround(
        azimuth_deg=np.array([0.0]), range_m=ranges, depth_m=depth,
        assumed=np.zeros(depth.shape, dtype=bool),
    )  # fmt: skip


def slope(x):
    return 150.0 - 0.01 * x  # shoals by 10 m a kilometre


def ridge(x):
    return 150.0 - 75.0 * np.exp(-(((x - 2000.0) / 250.0) ** 2))


def stepped(z, c, source_m, angle_deg, bed, reach_m=6000.0):
    """Return the range at which a ray first meets the ground, inf beyond the reach."""
    x, depth, angle = 0.0, source_m, np.radians(angle_deg)

    def turn(_x, state):
        speed = np.interp(state[0], z, c)
        h = 0.01
        gradient = (np.interp(state[0] + h, z, c) - np.interp(state[0] - h, z, c)) / (2 * h)
        return [np.tan(state[1]), -gradient / speed]

    def meets(at, state):
        return bed(at) - state[0]

    def surface(_at, state):
        return state[0] + 1e-9

    meets.terminal = surface.terminal = True
    meets.direction = surface.direction = -1
    while x < reach_m:
        made = solve_ivp(
            turn, (x, reach_m), [depth, angle], events=(meets, surface), rtol=1e-8, atol=1e-6,
            max_step=20.0,
        )  # fmt: skip
        if len(made.t_events[0]):
            return float(made.t_events[0][0])
        if not len(made.t_events[1]):
            return np.inf
        x = float(made.t_events[1][0])
        depth, angle = 1e-6, abs(float(made.y_events[1][0][1]))
    return np.inf


@pytest.mark.parametrize("bed", [slope, ridge])
def test_a_ray_meets_the_ground_where_a_stepped_one_does(bed):
    made = cast(water(), 10.0, over(bed))
    z_last = max(160.0, float(np.max(made.ground.depth_m)) + 50.0)
    z, c = np.append(Z, z_last), np.append(SUMMER, SUMMER[-1] + 0.017 * (z_last - 160.0))
    spread = np.linspace(-1.0, 1.0, 901)
    plain = np.degrees(np.arctan2(z_last, 0.5 * STEP_M)) * np.sign(spread) * spread**2
    angles = np.unique(np.concatenate((plain, turning_angles(z, c, 10.0))))
    assert len(angles) == made.hit.shape[1]
    for ray in np.linspace(430, 800, 12).astype(int):
        exact = stepped(z, c, 10.0, angles[ray], bed)
        ours = made.hit[0, ray] * STEP_M if made.hit[0, ray] < made.depth_m.shape[1] else np.inf
        if np.isfinite(exact):
            assert ours - STEP_M - 1.0 <= exact <= ours + 1.0, f"{angles[ray]:.2f}°"
        else:
            assert not np.isfinite(ours)


def test_ground_behind_a_ridge_lies_in_shadow_and_its_face_does_not():
    flat_water = water(np.array([0.0, 200.0]), np.array([1500.0, 1500.0]))
    made = over(ridge)
    lit = lit_bed(cast(flat_water, 10.0, made))[0]
    # straight rays, from the source and from its image in the surface (10 m above it): lit where
    # no ground between rises over one of the two lines of sight
    bed, ranges = made.depth_m[0], made.range_m
    clear = np.zeros(len(ranges), dtype=bool)
    for k in range(len(ranges)):
        for start in (10.0, -10.0):
            line = start + (bed[k] - start) * ranges[1:k] / max(ranges[k], 1.0)
            clear[k] |= bool(np.all(line <= bed[1:k] + 1.0))
    assert np.mean(lit == clear) > 0.95
    assert not lit[(ranges > 2300) & (ranges < 3000)].any()
    assert lit[(ranges > 1000) & (ranges < 1900)].all()


@pytest.mark.filterwarnings("error")
def test_in_even_water_rays_are_straight_without_a_word_of_the_library():
    """Water of one speed to 350 m: a level ray among them, and one that turns nowhere."""
    even = water(np.array([0.0, 350.0]), np.array([1500.0, 1500.0]))
    assert np.isfinite(cast(even, 300.0, over(lambda x: 302.0 + 0.0 * x)).depth_m).all()
    angles, ranges = np.linspace(-60.0, 60.0, 121), np.arange(0.0, 2_000.0, 75.0)
    rays = fan(np.array([0.0, 350.0]), np.array([1500.0, 1500.0]), 300.0, angles)
    # unfolded at surface and bottom the way is one straight line
    fell = (300.0 + ranges[None, :] * np.tan(np.radians(angles))[:, None]) % 700.0
    straight = np.where(fell > 350.0, 700.0 - fell, fell)
    assert paths(rays, ranges).depth_m == pytest.approx(straight, abs=0.1)


def test_a_ridge_cuts_the_reach_that_a_flat_seabed_has_not():
    flat_water = water(np.array([0.0, 200.0]), np.array([1500.0, 1500.0]))
    flat = reach_at(cast(flat_water, 140.0, over(lambda x: 150.0 + 0.0 * x)), 100.0)
    cut = reach_at(cast(flat_water, 140.0, over(ridge)), 100.0)
    assert not np.isfinite(flat[0])
    assert 1700.0 <= cut[0] <= 2400.0


def test_in_summer_water_the_shadow_begins_where_stepped_rays_end():
    """The furthest that any of many stepped rays passes 10 m, going up or coming down again."""
    made = cast(water(), 145.0, over(lambda x: 150.0 + 0.0 * x))
    z, c = np.append(Z, 200.0), np.append(SUMMER, 1495.0 + 0.017 * 40.0)
    furthest = 0.0
    for angle in np.linspace(-8.68, -8.6, 33):

        def turn(_x, state):
            speed = np.interp(state[0], z, c)
            h = 0.01
            g = (np.interp(state[0] + h, z, c) - np.interp(state[0] - h, z, c)) / (2 * h)
            return [np.tan(state[1]), -g / speed]

        def ear(_x, state):
            return state[0] - 10.0

        def surface(_x, state):
            return state[0]

        surface.terminal = True
        run = solve_ivp(turn, (0, 5000), [145.0, np.radians(angle)], events=(ear, surface),
                        rtol=1e-8, atol=1e-6, max_step=20.0)  # fmt: skip
        passed = list(run.t_events[0])
        if len(run.t_events[1]):  # reflected: it comes down as it went up
            passed.append(2.0 * run.t_events[1][0] - passed[0])
        furthest = max([furthest, *map(float, passed)])
    assert reach_at(made, 10.0)[0] == pytest.approx(furthest, abs=2 * STEP_M)


SOURCE = SoundSource(name="tapping", source_level_db=150.0, frequency_khz=3.0, band_hz=500.0,
                     provenance="invented for this test")  # fmt: skip
EAR = Listener(name="GREY SHIP", depth_m=10.0, wind_m_s=None, provenance="invented")


class Wind:
    def __init__(self, by_hour):
        self.by_hour = by_hour

    def conditions(self, latitudes_deg, longitudes_deg, at_us):
        speed = self.by_hour.get(int(at_us[0]), np.nan)
        return type("C", (), {"wind_east_m_s": np.array([speed]), "wind_north_m_s": np.zeros(1)})


class Bed:
    source, cell_m = "ridge", 50.0

    def depth_m(self, lat, lon):
        off = (np.asarray(lon) - HERE.longitude_deg) * 71_900.0
        return 150.0 - 80.0 * np.exp(-(((off - 1500.0) / 200.0) ** 2))


def covered(made=None, grid=None, wind=None):
    return Covered(
        sources_by_name={"tapping": SOURCE}, listeners_by_name={"GREY SHIP": EAR},
        sea=WaterColumn(
            temperature_c=10.0, salinity=35.0, depth_m=70.0, wind_m_s=None, wind_words=""
        ),
        water=made, grid=grid, field=wind, flat_m=150.0,
    )  # fmt: skip


def test_what_he_would_have_heard_falls_with_distance_and_with_the_hours_wind():
    hours = np.array([NOON, NOON + 3_600_000_000, NOON + 7_200_000_000])
    said = covered(wind=Wind({NOON: 3.0, NOON + 3_600_000_000: 15.0}))
    places = [going(HERE, 90.0, out) for out in (500.0, 2000.0, 8000.0)]
    chance = said.would_hear(
        "tapping", "GREY SHIP", HERE, hours,
        np.array([p.latitude_deg for p in places]), np.array([p.longitude_deg for p in places]),
    )  # fmt: skip
    assert chance.shape == (3, 3)
    assert np.all(np.diff(chance[0]) < 0)
    assert np.all(chance[1] < chance[0])
    assert np.isnan(chance[2]).all()  # an hour whose wind nobody knows says nothing


def test_behind_a_ridge_nothing_would_have_been_heard_and_silence_proves_nothing():
    flat_water = water(np.array([0.0, 200.0]), np.array([1500.0, 1500.0]))
    said = covered(flat_water, Bed(), Wind({NOON: 3.0}))
    behind, other_way = going(HERE, 90.0, 2000.0), going(HERE, 270.0, 2000.0)
    chance = said.would_hear(
        "tapping", "GREY SHIP", HERE, np.array([NOON]),
        np.array([behind.latitude_deg, other_way.latitude_deg]),
        np.array([behind.longitude_deg, other_way.longitude_deg]),
    )[0]  # fmt: skip
    assert chance[0] == 0.0
    assert chance[1] > 0.1


def test_a_name_that_is_not_recorded_is_refused_with_those_that_are():
    with pytest.raises(InputError, match="GREY SHIP"):
        covered().would_hear("tapping", "NOBODY", HERE, np.array([NOON]), np.zeros(1), np.zeros(1))


def test_where_no_grid_has_the_ground_it_is_said_to_be_assumed():
    assert "flat seabed" in ground(HERE, 1000.0, 150.0, None).words
