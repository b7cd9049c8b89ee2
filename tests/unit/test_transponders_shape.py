"""What a profile's shape means, and how far over ground a sound is heard."""

from __future__ import annotations

import numpy as np
import pytest

from layers.earth.values import HearingRange
from layers.transponders.model import Listener, SoundSource
from layers.transponders.seabed.depth_draft import _cell_m
from layers.transponders.seabed.depth_grid import Raster
from layers.transponders.sound.hearing import WaterColumn, ground_m, hear
from layers.transponders.sound.profile_csv_feed import recognise
from layers.transponders.sound.sounding_out import by_depth
from layers.transponders.sound.water import channel_axis, minima, thermocline

SOURCE = SoundSource(
    name="pinger", source_level_db=160.0, frequency_khz=37.5, band_hz=100.0, provenance="test"
)
EAR = Listener(name="ship", depth_m=10.0, provenance="test")
SEA = WaterColumn(temperature_c=10.0, salinity=35.0, depth_m=500.0, wind_m_s=10.0, wind_words="")


def test_a_channel_below_a_slower_surface_is_found():
    """A minimum at 97 m between 1493.45 and 1493.25 m/s; the surface is slower than all of it."""
    z = np.array([0.0, 60.0, 80.0, 97.0, 120.0, 142.0])
    c = np.array([1491.0, 1493.45, 1493.1, 1492.65, 1493.0, 1493.25])
    assert channel_axis(z, c) == 97.0
    ((depth, trap),) = minima(z, c)
    assert depth == 97.0
    assert trap == pytest.approx(0.6)


def test_two_channels_come_deepest_trap_first_and_a_slope_has_none():
    z = np.arange(7.0) * 50.0
    c = np.array([1500.0, 1497.0, 1499.0, 1490.0, 1505.0, 1506.0, 1507.0])
    assert [depth for depth, _ in minima(z, c)] == [150.0, 50.0]
    assert channel_axis(z, np.linspace(1500, 1480, 7)) is None
    assert channel_axis(z, np.linspace(1480, 1500, 7)) is None


def test_a_step_in_cold_water_is_a_thermocline_too():
    """0.4 °C between 70 and 100 m in water that is else even: steep for that water."""
    z = np.array([0.0, 70.0, 100.0, 142.0])
    found = thermocline(z, np.array([9.4, 9.35, 8.95, 8.9]))
    assert found is not None
    assert 65.0 <= found[0] <= 80.0
    assert 95.0 <= found[1] <= 110.0
    assert thermocline(z, np.array([9.40, 9.38, 9.36, 9.34])) is None


def test_the_mean_is_by_depth_whatever_the_levels():
    """1 m levels to 60 m at 18 °C, then 100 m levels to 600 m at 8 °C."""
    z = np.concatenate((np.arange(0.0, 61.0), np.arange(100.0, 601.0, 100.0)))
    t = np.where(z <= 60.0, 18.0, 8.0)
    by_hand = (60 * 18 + 40 * 13 + 500 * 8) / 600  # straight from 18 to 8 between 60 and 100 m
    assert by_depth(z, t) == pytest.approx(by_hand)


def test_a_ring_over_ground_is_shorter_than_the_slant_range_and_ends_below():
    heard = hear(SOURCE, EAR, SEA, None)
    slant = heard.range_50_m
    assert slant
    reach, cut = ground_m(heard, slant, 1_000.0)
    if slant > 990.0:
        assert reach == pytest.approx(np.sqrt(slant**2 - 990.0**2))
    assert cut == "" or reach is None
    assert ground_m(heard, slant, slant + 500.0)[0] is None


def test_a_ring_is_cut_where_direct_sound_ends():
    heard = hear(SOURCE, EAR, SEA, 300.0)
    reach, cut = ground_m(heard, heard.range_50_m, 20.0)
    assert reach == 300.0
    assert "direct sound ends" in cut


def test_not_heard_is_likely_far_off_and_certain_in_the_shadow():
    found = HearingRange(
        source="s", listener="l", listener_depth_m=10.0, source_depth_m=140.0, merit_db=70.0,
        absorption_db_km=8.0, fluctuation_db=6.0, direct_to_m=2_500.0, range_50_m=1_400.0,
    )  # fmt: skip
    chance = found.probability(np.array([100.0, 1_400.0, 2_400.0, 2_600.0]))
    assert chance[0] > 0.99
    assert np.all(np.diff(chance) < 0)
    assert chance[3] == 0.0


@pytest.mark.parametrize(
    ("crs", "step", "metres"),
    [
        ("EPSG:4326", 0.01, 1_113.2),
        ("EPSG:4269", 0.01, 1_113.2),  # NAD83: degrees too
        ("EPSG:4258", 0.01, 1_113.2),  # ETRS89
        ("EPSG:32630", 25.0, 25.0),
        ("EPSG:2229", 100.0, 30.48),  # California zone 5 in US survey feet
    ],
)
def test_a_cell_is_measured_in_the_unit_of_its_own_system(crs, step, metres):
    raster = Raster(uncertainty_m=None, x=np.arange(3) * step, y=np.arange(3) * step, crs=crs,
                    depth_m=np.zeros((3, 3), dtype=np.float32))  # fmt: skip
    assert _cell_m(raster, 0.0)[1] == pytest.approx(metres, rel=2e-3)


def test_records_as_json_are_no_profile_whatever_words_they_hold():
    drop = b'[{"kind": "transponders.drop", "payload": {"depth_m": 1, "sound_speed_m_s": 2}}]'
    assert recognise(drop, "records.json") == 0.0
    assert recognise(b"depth_m,temperature_c\n0,10\n", "x.csv") > 0.9
