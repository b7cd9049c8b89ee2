"""Absorption, noise and the sonar equation against published values and closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from layers.transponders.sound.absorption import ainslie_mccolm, francois_garrison
from layers.transponders.sound.hearing import (
    BY_EAR,
    PINGER,
    WaterColumn,
    hear,
    loss_db,
    range_m,
    terms,
)
from layers.transponders.sound.noise import ambient_db, band_noise_db, wind_noise_db

SEA = WaterColumn(temperature_c=10.0, salinity=35.0, depth_m=71.0, wind_m_s=8.0, wind_words="8 m/s")


@pytest.mark.parametrize(
    ("frequency_khz", "temperature_c", "depth_m", "expected"),
    [
        (3.5, 4.0, 0.0, 0.2217),
        (10.0, 10.0, 0.0, 0.9626),
        (8.8, 10.0, 100.0, 0.7637),
        (37.5, 10.0, 0.0, 9.952),
        (100.0, 10.0, 0.0, 33.630),
    ],
)
def test_francois_garrison_gives_values_two_codings_agree_on(
    frequency_khz, temperature_c, depth_m, expected
):
    # Francois & Garrison, JASA 72 (1982). VERIFIED: two independent codings agree to 4 figures.
    found = francois_garrison(frequency_khz, temperature_c, 35.0, depth_m)
    assert found == pytest.approx(expected, rel=0.001)


@pytest.mark.parametrize(
    ("temperature_c", "salinity", "expected"),
    [
        (0.0, 30.0, (0.0610, 1.12, 21.0)),
        (0.0, 35.0, (0.0640, 1.29, 23.4)),
        (10.0, 35.0, (0.0600, 0.963, 33.6)),
    ],
)
def test_francois_garrison_gives_its_check_table(temperature_c, salinity, expected):
    # Check table carried in a stored toolbox header, 1/10/100 kHz, pH 8, surface. VERIFIED; to
    # the last meaningful printed digit.
    for frequency_khz, value in zip((1.0, 10.0, 100.0), expected, strict=True):
        found = float(francois_garrison(frequency_khz, temperature_c, salinity, 0.0))
        digits = 3 if frequency_khz == 10.0 and value < 1 else 2
        tolerance = {1.0: 0.0005, 10.0: 0.6 * 10**-digits, 100.0: 0.06}[frequency_khz]
        assert found == pytest.approx(value, abs=tolerance)


@pytest.mark.parametrize(
    ("frequency_khz", "temperature_c", "depth_m", "expected"),
    [
        (3.5, 4.0, 0.0, 0.2260),
        (10.0, 10.0, 0.0, 0.9866),
        (37.5, 10.0, 0.0, 10.1624),
        (37.5, 4.0, 1000.0, 9.1558),
    ],
)
def test_ainslie_mccolm_is_computed_from_its_formula(
    frequency_khz, temperature_c, depth_m, expected
):
    # COMPUTED from the formula: checks the coding; and within its stated 10 % of the other.
    found = float(ainslie_mccolm(frequency_khz, temperature_c, 35.0, depth_m))
    assert found == pytest.approx(expected, abs=0.001)
    other = float(francois_garrison(frequency_khz, temperature_c, 35.0, depth_m))
    assert abs(found / other - 1.0) < 0.10


def test_wind_noise_is_the_fit_it_says_it_is():
    # f=8.8 kHz, wind 10 m/s: 54.06 dB. COMPUTED; coefficients from memory, not checked against
    # the page.
    assert float(wind_noise_db(8.8, 10.0)) == pytest.approx(54.06, abs=0.01)
    assert float(ambient_db(8.8, 10.0)) == pytest.approx(54.06, abs=0.3)


def test_noise_in_a_narrow_band_is_the_level_plus_the_band():
    level = float(ambient_db(8.8, 10.0))
    assert band_noise_db(8.8, 10.0, 10.0) == pytest.approx(level + 10.0, abs=0.01)
    assert band_noise_db(37.5, 100.0, 12.0) > band_noise_db(37.5, 100.0, 3.0)


@pytest.mark.parametrize(
    ("merit_db", "expected"), [(110.5, 3889.6), (100.5, 3086.5), (70.5, 1029.7)]
)
def test_range_is_where_spreading_and_absorption_use_up_the_merit(merit_db, expected):
    # 20 log r + 9.95 r/1000 = merit; SL 160.5, noise 50, 60, 90 in band. COMPUTED (brentq).
    assert range_m(merit_db, 9.95) == pytest.approx(expected, abs=0.5)


def test_a_beacon_of_106_pascal_is_160_and_a_half_decibels():
    # 1060 dyn/cm² = 106 Pa rms at 1 m: 160.51 dB re 1 µPa. COMPUTED; that the standard asks for
    # it is from memory, not checked against the page, and the table on the screen says so.
    assert 20.0 * math.log10(106.0 / 1e-6) == pytest.approx(160.51, abs=0.01)
    assert PINGER.source_level_db == 160.5
    assert "from memory" in PINGER.provenance


def test_the_beacon_is_heard_within_what_its_maker_states():
    # 1800 to 3600 m in normal conditions: maker manual 03-TM-0037 rev 13 p. 15, plausibility
    # only. VERIFIED: seen.
    heard = hear(PINGER, BY_EAR, SEA, None)
    assert 1800.0 < heard.range_50_m < 3600.0
    assert heard.range_90_m < heard.range_50_m < heard.trapped_50_m


def test_fifty_and_ninety_percent_lie_where_a_normal_spread_of_6_db_puts_them():
    heard = hear(PINGER, BY_EAR, SEA, None)
    alpha = heard.absorption_db_km
    # 90 % of a normal spread lies below 1.2816 sigma (any table of it): 7.69 dB over
    for range_at_m, over_db in ((heard.range_50_m, 0.0), (heard.range_90_m, 1.2816 * 6.0)):
        assert heard.merit_db - loss_db(range_at_m, alpha) == pytest.approx(over_db, abs=1e-3)


def test_the_terms_shown_add_up_to_the_range():
    heard = hear(PINGER, BY_EAR, SEA, 3000.0)
    shown = {name: value for name, value, _, _ in terms(heard)}
    merit = (shown["source level"] - shown["noise together"] + shown["array gain"]
             - shown["detection threshold"])  # fmt: skip
    assert merit == pytest.approx(shown["figure of merit"])
    spent = shown["spreading at 50 % range"] + shown["absorption at 50 % range"]
    assert spent == pytest.approx(merit, abs=1e-6)
    assert loss_db(shown["heard with 50 %"], shown["absorption"]) == pytest.approx(merit, abs=1e-6)


def test_more_wind_is_less_hearing_and_no_wind_known_is_no_range():
    calm = hear(PINGER, BY_EAR, replace(SEA, wind_m_s=2.0), None)
    blow = hear(PINGER, BY_EAR, replace(SEA, wind_m_s=18.0), None)
    assert blow.range_50_m < calm.range_50_m
    unknown = hear(PINGER, BY_EAR, replace(SEA, wind_m_s=None), None)
    assert unknown.range_50_m is None
    assert "wind is not known" in unknown.why_not


def test_own_noise_adds_as_power():
    quiet = hear(PINGER, BY_EAR, SEA, None)
    same = BY_EAR.model_copy(update={"self_noise_db": quiet.ambient_db})
    assert hear(PINGER, same, SEA, None).noise_db == pytest.approx(quiet.noise_db + 3.01, abs=0.01)
