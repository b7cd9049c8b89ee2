"""Tides from printed constants, against predictions and libraries of others.

Predictions: US National Ocean Service, Honolulu 1612340, 2023-08-29 (public domain). Arguments and
node factors: Schureman SP 98, as returned by pyTMD 3.0.9 and utide 0.4.0 (values stored).
"""

import csv
import json
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from layers.earth.errors import InputError
from layers.earth.sea.tides import (
    Constant,
    Sky,
    known_name,
    mean_longitudes,
    on_greenwich,
    orbit,
    speed_deg_per_h,
    sums,
    turns,
)
from tests.samples import sample


def us(*when):
    return int(datetime(*when, tzinfo=UTC).timestamp()) * 1_000_000


# Honolulu 1612340, US National Ocean Service (public domain): amplitude m / phase on Greenwich
HONOLULU = """
M2/0.171/59.4 S2/0.056/54.7 N2/0.033/48.8 K1/0.149/226.8 M4/0.001/195.3 O1/0.081/215.9
M6/0.001/229.7 MK3/0.001/342.6 S4/0/0 MN4/0.001/92.9 NU2/0.007/56 S6/0/0 MU2/0.004/7.8
2N2/0.004/39.9 OO1/0.005/251.7 LAM2/0.001/76.2 S1/0.002/210 M1/0.005/232.5 J1/0.01/238.3
MM/0.005/43.4 SSA/0/0 SA/0.048/177.7 MSF/0/0 MF/0.006/44.3 RHO/0.002/195.4 Q1/0.014/209.6
T2/0.004/43.6 R2/0.001/357.3 2Q1/0.001/231 P1/0.045/224.9 2SM2/0.001/199.8 M3/0.001/164.1
L2/0.004/49.3 2MK3/0/0 K2/0.016/45.7 M8/0/0 MS4/0.001/104
"""


def honolulu():
    parts = [one.split("/") for one in HONOLULU.split()]
    return [Constant(name=n, amplitude=float(a), phase_deg=float(g)) for n, a, g in parts]


def boston():
    held = json.loads(sample("tide_harmonics_boston_8443970.json").read_text())
    return [
        Constant(name=c["name"], amplitude=c["amplitude"], phase_deg=c["phase_UTC"])
        for c in held["harmonic_constituents"]
    ], held


@pytest.mark.parametrize(
    ("name", "speed"),
    [("M2", 28.984104), ("S2", 30.0), ("N2", 28.43973), ("K2", 30.082138), ("K1", 15.041069),
     ("O1", 13.943035), ("P1", 14.958931), ("Q1", 13.398661), ("M4", 57.968208),
     ("MS4", 58.984104), ("L2", 29.528479), ("NU2", 28.512583), ("SA", 0.0410686),
     ("MM", 0.5443747), ("MF", 1.0980331), ("2MK3", 42.92714), ("MK3", 44.025173)],
)  # fmt: skip
def test_speeds_are_those_printed(name, speed):
    assert speed_deg_per_h(name) == pytest.approx(speed, abs=1e-5)


@pytest.mark.parametrize(
    ("when", "longitudes", "angles"),
    [
        ((2000, 1, 1), (211.741, 279.973, 83.298, 125.070, 282.940),
         (20.900, 11.003, 11.873, 7.910, 15.156)),
        ((2023, 8, 29), (308.986, 156.952, 325.935, 27.496, 283.347),
         (28.111, 4.544, 5.041, 3.595, 7.600)),
        ((2026, 7, 2, 12), (312.674, 100.547, 81.627, 332.504, 283.396),
         (28.111, -4.544, -5.041, -3.595, -7.600)),
    ],
)  # fmt: skip
def test_longitudes_and_orbit(when, longitudes, angles):
    found = mean_longitudes(np.array([us(*when)]))
    got = [float(v[0]) for v in (found.s, found.h, found.p, found.node, found.p1)]
    assert got == pytest.approx(longitudes, abs=0.03)
    by = orbit(found.node)
    got = [float(np.degrees(v[0])) for v in (by.inclination, by.xi, by.nu, by.nu_1, by.nu_2)]
    assert got == pytest.approx(angles, abs=0.006)


@pytest.mark.parametrize(
    ("when", "factors", "angles"),
    [
        ((2000, 1, 1), (1.0217, 0.9079, 0.9436, 0.8540, 0.8065), (-1.74, 10.13, -7.91, -15.16)),
        ((2023, 8, 29), (0.9674, 1.1668, 1.1031, 1.2815, 1.4069), (-0.99, 4.05, -3.59, -7.60)),
    ],
)
def test_node_factors_and_angles(when, factors, angles):
    names = ("M2", "O1", "K1", "K2", "MF")
    sky = Sky(np.array([us(*when)]))
    got = [sky.factor_and_angle(name) for name in names]
    assert [float(f[0]) for f, _ in got] == pytest.approx(factors, abs=0.0006)
    assert [float(u[0]) for _, u in got[:4]] == pytest.approx(angles, abs=0.02)


@pytest.mark.parametrize(
    ("when", "expected"),
    [((2000, 1, 1), (136.46, 8.02, 9.97, 126.49)), ((2023, 8, 29), (55.93, 72.88, 246.95, 168.98)),
     ((2026, 7, 2, 12), (295.74, 64.70, 10.55, 285.20))],
)  # fmt: skip
def test_equilibrium_arguments(when, expected):
    sky = Sky(np.array([us(*when)]))
    got = [float(sky.argument_deg(name)[0]) % 360.0 for name in ("M2", "N2", "K1", "O1")]
    assert got == pytest.approx(expected, abs=0.06)


def test_honolulu_as_the_ocean_service_predicted_it():
    text = sample("tide_predictions_honolulu_20230829.csv").read_text()
    rows = list(csv.reader(text.splitlines()))[1:]
    at = [datetime.strptime(r[0], "%Y-%m-%d %H:%M").replace(tzinfo=UTC) for r in rows]
    times = np.array([us(*t.timetuple()[:6]) for t in at])
    gap = np.array([float(r[1]) for r in rows]) - 0.249 - sums(honolulu(), times)
    assert np.max(np.abs(gap)) < 0.004
    assert np.std(gap) < 0.003


def test_honolulu_at_five_hours_of_that_prediction():
    times = us(2023, 8, 29) + np.arange(0, 10, 2) * 3_600_000_000
    got = 0.249 + sums(honolulu(), times)
    assert got == pytest.approx([0.761, 0.698, 0.413, 0.140, 0.063], abs=0.004)


def test_the_high_water_of_that_day():
    found = turns(honolulu(), us(2023, 8, 29), us(2023, 8, 29, 9))
    high = [(when, height) for when, height, is_high in found if is_high]
    assert len(high) == 1
    assert high[0][0] == pytest.approx(us(2023, 8, 29, 0, 36), abs=6 * 60e6)
    assert high[0][1] + 0.249 == pytest.approx(0.775, abs=0.004)


def test_boston_turns_and_heights():
    """Worked from the printed constants by the same published formulas (computed)."""
    constants, _ = boston()
    day = us(2026, 3, 21)
    at = day + np.arange(4) * 6 * 3_600_000_000
    assert 1.586 + sums(constants, at) == pytest.approx([0.014, 3.228, -0.302, 3.158], abs=0.01)
    found = turns(constants, day, day + 25 * 3_600_000_000)
    said = [
        (datetime.fromtimestamp(w / 1e6, UTC), round(h + 1.586, 2), is_high)
        for w, h, is_high in found
    ]
    midnight = datetime(2026, 3, 21, tzinfo=UTC)
    for (when, height, is_high), (h, m, metres, high) in zip(
        said,
        [(5, 16, 3.35, True), (11, 34, -0.35, False), (17, 44, 3.17, True), (23, 51, -0.17, False)],
        strict=False,
    ):
        assert abs(when - midnight - timedelta(hours=h, minutes=m)) < timedelta(minutes=3)
        assert height == pytest.approx(metres, abs=0.02)
        assert is_high is high


def test_highest_and_lowest_tide_of_nineteen_years_are_the_printed_ones():
    """Boston: HAT 4.831 m and LAT 0.428 m above station datum, MSL 2.660 (same file)."""
    constants, held = boston()
    at = us(2002, 1, 1) + np.arange(0, 19 * 366 * 24 * 2) * 1_800_000_000
    height = sums(constants, at)
    datums = held["datums"]
    assert np.max(height) + datums["MSL"] == pytest.approx(datums["HAT"], abs=0.12)
    assert np.min(height) + datums["MSL"] == pytest.approx(datums["LAT"], abs=0.12)


def test_a_phase_on_zone_time_is_turned_to_greenwich():
    _, held = boston()
    m2 = held["harmonic_constituents"][0]
    got = on_greenwich("M2", m2["phase_local"], -5.0)
    assert got == pytest.approx(m2["phase_UTC"], abs=0.2)


def test_other_lists_names_and_names_that_nobody_knows():
    assert known_name("lda2") == "LAM2"
    assert known_name("NO1") == "M1"
    with pytest.raises(InputError, match="XX9"):
        sums([Constant(name="XX9", amplitude=1.0, phase_deg=0.0)], np.array([us(2026, 1, 1)]))
