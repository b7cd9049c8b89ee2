"""Sound speed against published check values and an independent coding."""

from __future__ import annotations

import csv
import os
import warnings

import gsw
import numpy as np
import pytest

from layers.transponders.sound import sound_speed as speed
from layers.transponders.sound.water import harmonic_mean
from tests.samples import ROOT


def test_chen_millero_gives_the_unesco_check_value():
    # Fofonoff & Millard, UNESCO Technical Papers in Marine Science 44 (1983), SVEL check value,
    # 1731.995 m/s at S=40, t68=40, p=10000 dbar. VERIFIED.
    assert speed.chen_millero(40 / 1.00024, 40.0, 10_000.0) == pytest.approx(1731.995, abs=0.001)
    # Second point of the same algorithm: S=35, t68=10, p=2000 dbar, 1522.96. VERIFIED.
    assert speed.chen_millero(10 / 1.00024, 35.0, 2000.0) == pytest.approx(1522.96, abs=0.005)


def test_forgetting_the_1968_scale_costs_what_is_known():
    # seawater 3.3.5 with t90=40 given as t68 gives 1732.00913. VERIFIED.
    gap = speed.chen_millero(40.0, 40.0, 10_000.0)
    assert gap == pytest.approx(1732.00913, abs=1e-4)


def test_every_chen_millero_coefficient_agrees_with_an_independent_coding():
    # seawater 3.3.5 (general reference library), whole range of the equation. One wrong digit in
    # any coefficient would show: the two codings differ by rounding alone.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        sw = pytest.importorskip("seawater", reason="not run: the seawater package is absent")
    t, s, p = np.meshgrid(
        np.linspace(0, 40, 21), np.linspace(0, 40, 17), np.linspace(0, 10_000, 21)
    )
    assert np.max(np.abs(speed.chen_millero(t, s, p) - sw.svel(s, t, p))) < 1e-9


def test_teos10_gives_the_toolbox_check_cast():
    # GSW check values v3.0, first level of the check cast: SA 34.46823643, CT 27.99643641, p 0,
    # 1540.26985943 m/s. VERIFIED (gsw 3.6.23 test data).
    salinity, conservative = 34.46823643, 27.99643641
    temperature = gsw.t_from_CT(salinity, conservative, 0.0)
    found = speed.teos10(np.array([temperature]), np.array([salinity]), np.array([0.0]))
    assert found[0] == pytest.approx(1540.26985943, abs=1e-6)


def test_teos10_is_given_absolute_salinity_and_conservative_temperature():
    # S=35, t=25, p=0: 1534.221 right, 1534.029 when raw values are passed. VERIFIED: gsw 3.6.23.
    found = speed.all_equations(np.array([25.0]), np.array([35.0]), np.array([0.0]), 60.0, -20.0)
    assert found["TEOS-10"][0] == pytest.approx(1534.221, abs=0.005)


@pytest.mark.parametrize(
    ("temperature_c", "salinity", "depth_m", "expected", "tolerance"),
    [
        (25.0, 35.0, 1000.0, 1550.744, 0.001),  # canonical check, VERIFIED
        (40.0, 40.0, 10_000.0, 1718.774, 0.001),  # arithmetic only, outside validity, VERIFIED
        (0.0, 30.0, 10.0, 1442.42, 0.005),  # published web table, S inferred, VERIFIED
        (10.0, 30.0, 10.0, 1483.78, 0.005),
        (20.0, 30.0, 10.0, 1515.95, 0.005),
        (30.0, 30.0, 10.0, 1540.36, 0.005),
    ],
)
def test_mackenzie_gives_published_values(temperature_c, salinity, depth_m, expected, tolerance):
    # Mackenzie, JASA 70 (1981) 807-812; table: SonarDocs, Mackenzie page.
    assert speed.mackenzie(temperature_c, salinity, depth_m) == pytest.approx(
        expected, abs=tolerance
    )


def test_del_grosso_and_leroy_give_the_values_computed_from_their_formulas():
    # COMPUTED from the formulas: Del Grosso T=10 S=35 1000 dbar 1506.1293; Leroy 1000 m 1506.1882.
    assert speed.del_grosso(10.0, 35.0, 1000.0) == pytest.approx(1506.1293, abs=0.001)
    assert speed.leroy(10.0, 35.0, 1000.0, 45.0) == pytest.approx(1506.1882, abs=0.001)


def test_five_equations_agree_to_two_tenths_at_200_dbar():
    # S=35, t=4, p=200 dbar, 60N 20W: UNESCO 1469.896, TEOS-10 1469.781, Mackenzie 1469.725,
    # Leroy 1469.722. VERIFIED / COMPUTED.
    depth = -float(gsw.z_from_p(200.0, 60.0))
    found = speed.all_equations(np.array([4.0]), np.array([35.0]), np.array([depth]), 60.0, -20.0)
    expected = {"Chen–Millero": 1469.896, "TEOS-10": 1469.781, "Mackenzie": 1469.725,
                "Leroy": 1469.722}  # fmt: skip
    for name, value in expected.items():
        assert found[name][0] == pytest.approx(value, abs=0.005), name
    assert np.ptp([v[0] for v in found.values()]) < 0.2


def test_the_check_table_still_holds_the_values_used_here():
    path = os.path.join(ROOT.parent, "shared", "checks", "check_values.csv")
    if not os.path.exists(path):
        pytest.skip("not run: the table of check values is not beside the repository")
    with open(path, encoding="utf-8") as file:
        expected = {row["expected"] for row in csv.DictReader(file)}
    assert {"1731.995", "1550.744", "1506.1293", "1506.1882", "1540.26985943"} <= expected


def test_harmonic_mean_of_a_constant_gradient_is_its_closed_form():
    # Closed form: (c2 - c1) / ln(c2 / c1).
    mean = harmonic_mean(np.array([0.0, 100.0]), np.array([1480.0, 1500.0]), 0.0, 100.0)
    assert mean == pytest.approx(20.0 / np.log(1500.0 / 1480.0), rel=1e-12)
