"""Linear waves against USACE EM 1110-2-1100 (30 Apr 02), Part II chapter 1."""

from __future__ import annotations

import math

import numpy as np
import pytest

from layers.weather.sea.waves import orbit, wave_number


def wave_length_m(period: float, depth: float) -> float:
    return float(2.0 * np.pi / wave_number(period, depth))


def test_deep_water_length_of_example_ii_1_1() -> None:
    """VERIFIED: printed example seen, page II-1-11: 156 m for T = 10 s, d = 200 m."""
    assert wave_length_m(10.0, 200.0) == pytest.approx(156.0, abs=0.5)


def test_transitional_depth_of_example_ii_1_1() -> None:
    """VERIFIED: seen, page II-1-11: d/L 0.05641, L 53.2 m, C 5.32 m/s (0.5 %)."""
    length = wave_length_m(10.0, 3.0)
    assert 3.0 / length == pytest.approx(0.05641, rel=5e-3)
    assert length == pytest.approx(53.2, rel=5e-3)
    assert length / 10.0 == pytest.approx(5.32, rel=5e-3)


def test_length_stays_below_the_explicit_approximation_of_the_same_page() -> None:
    """VERIFIED: seen: L0 sqrt(tanh(4 pi² d/(T² g))) gives 54.1 m, 1.5 % high."""
    deep = 9.81 * 100.0 / (2 * np.pi)
    approximate = deep * np.sqrt(np.tanh(4 * np.pi**2 * 3.0 / (100.0 * 9.81)))
    assert approximate == pytest.approx(54.1, abs=0.1)
    assert wave_length_m(10.0, 3.0) == pytest.approx(approximate / 1.015, rel=5e-3)


def test_particle_motion() -> None:
    """COMPUTED from the formula; inputs of Example II-1-2 from memory, page not seen."""
    found = orbit(5.5, 8.0, 15.0, 5.0)
    assert float(found.along_m_s) * math.cos(math.radians(60.0)) == pytest.approx(0.9928, rel=5e-3)
    assert float(found.up_m_s) * math.sin(math.radians(60.0)) == pytest.approx(1.1107, rel=5e-3)
    assert wave_length_m(8.0, 15.0) == pytest.approx(81.790, abs=0.01)


def test_dispersion_holds_from_ripples_to_long_swell_and_shoals_to_deeps() -> None:
    period, depth = np.meshgrid(np.geomspace(0.5, 300.0, 40), np.geomspace(0.5, 5_000.0, 40))
    k = wave_number(period, depth)
    lhs = (2 * np.pi / period) ** 2
    assert np.allclose(9.81 * k * np.tanh(k * depth), lhs, rtol=1e-9)


def test_at_the_bed_the_water_moves_to_and_fro_only() -> None:
    found = orbit(4.5, 12.0, 142.0, 142.0)
    assert float(found.up_m_s) == 0.0
    assert float(found.along_m_s) > 0.0


def test_deep_water_motion_dies_away_as_the_exponential() -> None:
    """Closed form: in deep water both amplitudes are (pi H/T) exp(-k depth)."""
    k = float(wave_number(6.0, 3_000.0))
    found = orbit(2.0, 6.0, 3_000.0, 20.0)
    assert float(found.along_m_s) == pytest.approx(np.pi * 2 / 6 * np.exp(-k * 20.0), rel=1e-9)
