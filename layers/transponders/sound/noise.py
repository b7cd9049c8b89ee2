"""Ambient noise of the sea by wind and shipping.

The coefficients are from memory, not checked against the page; every table that shows a noise
level says so.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats

FROM_MEMORY = "Coates 1989 fit to Wenz 1962; coefficients from memory, not checked against the page"


def wind_noise_db(frequency_khz: npt.ArrayLike, wind_m_s: float) -> Floats:
    """Return the spectrum level of wind noise, dB re 1 µPa²/Hz."""
    f = np.asarray(frequency_khz, dtype=float)
    return np.asarray(
        50.0 + 7.5 * np.sqrt(wind_m_s) + 20.0 * np.log10(f) - 40.0 * np.log10(f + 0.4)
    )


def ambient_db(frequency_khz: npt.ArrayLike, wind_m_s: float, shipping: float = 0.5) -> Floats:
    """Return the spectrum level of all noise, dB re 1 µPa²/Hz.

    Parameters
    ----------
    frequency_khz : array_like
        0.01 to 500.
    wind_m_s : float
        At 10 m.
    shipping : float
        0 none to 1 heavy.
    """
    f = np.asarray(frequency_khz, dtype=float)
    parts = (
        17.0 - 30.0 * np.log10(f),  # turbulence
        40.0 + 20.0 * (shipping - 0.5) + 26.0 * np.log10(f) - 60.0 * np.log10(f + 0.03),
        wind_noise_db(f, wind_m_s),
        -15.0 + 20.0 * np.log10(f),  # thermal
    )
    return np.asarray(10.0 * np.log10(sum(10.0 ** (part / 10.0) for part in parts)))


def band_noise_db(
    frequency_khz: float, band_hz: float, wind_m_s: float, shipping: float = 0.5
) -> float:
    """Return the noise in a band round a frequency, dB re 1 µPa²."""
    half = min(0.5 * band_hz / 1000.0, 0.95 * frequency_khz)
    f = np.linspace(frequency_khz - half, frequency_khz + half, 65)
    power = np.mean(10.0 ** (ambient_db(f, wind_m_s, shipping) / 10.0))
    return float(10.0 * np.log10(power * band_hz))
