"""Speed that a ship keeps in wind and waves.

References
----------
Kwon, Y. J. (2008), Speed loss due to added resistance in wind and waves, The Naval Architect,
March, 14-16, after Townsin & Kwon (1983), Trans. RINA 125, 199-207: ΔV/V = α μ (0.7 BN +
BN^6.5 / (22 ∇^(2/3))) per cent, α from block coefficient and Froude number, μ from the
direction of the sea. The page was not seen; the constants 0.5, 0.7, 2.7 and 22 and the value
0.932 of the test come from a public transcription of its table 4 and of a paper that uses it,
α and μ from memory. This is the form for fine ships; that for full ones (2.7 for 22) was fitted
to tankers and stops a ship of this size at Beaufort 6.

The formula was fitted to about Beaufort 7 (`FITTED_TO`). Its direction factors are parabolas that
fall again beyond, to nothing in a hurricane: they are held at their greatest, so that the loss
never shrinks as the sea grows, and what lies beyond the fit is said. Past `MOST_LOST` she heaves
to, and no formula tells when she is there.

Waves without the wind that made them (a swell) count by the Beaufort number whose probable wave
height in the open sea they have (WMO-No. 306, Beaufort scale; from memory, not checked against
the page); where they come from is not handed over, so they are taken from ahead.
"""

from __future__ import annotations

import numpy as np

from layers.earth.arrays import Bools, Floats
from layers.earth.units import M_S_PER_KN

SOURCE = "Kwon 2008, fine ships (seen at second hand and from memory, not on the page)"
G_M_S2 = 9.80665
SEA_T_M3 = 1.025
# (block coefficient, a, b, c): α = a + b Fn + c Fn²; normal or laden
_ALPHA = np.array(
    [
        (0.55, 1.7, -1.4, -7.4),
        (0.60, 2.2, -2.5, -9.7),
        (0.65, 2.6, -3.7, -11.6),
        (0.70, 3.1, -5.3, -12.4),
        (0.75, 2.4, -10.6, -9.5),
        (0.80, 2.6, -13.1, -15.1),
    ]
)
MOST_LOST = 0.7
FITTED_TO = 7.0
# Probable wave height in the open sea, metres, for Beaufort 0 to 12.
_PROBABLE_HS_M = (0.0, 0.1, 0.2, 0.6, 1.0, 2.0, 3.0, 4.0, 5.5, 7.0, 9.0, 11.5, 14.0)


def beaufort(wind_m_s: Floats) -> Floats:
    """Return the Beaufort number as a real number: U = 0.836 BN^1.5 (WMO, 10 m wind)."""
    number: Floats = (np.maximum(wind_m_s, 0.0) / 0.836) ** (2.0 / 3.0)
    return number


def direction_factor(number: Floats, off_bow_deg: Floats) -> Floats:
    """Return μ for a sea this many degrees off the bow (0 ahead, 180 astern)."""
    head = np.ones_like(number)
    bow = (1.7 - 0.03 * (np.minimum(number, 4.0) - 4.0) ** 2) / 2.0
    beam = (0.9 - 0.06 * (np.minimum(number, 6.0) - 6.0) ** 2) / 2.0
    following = (0.4 - 0.03 * (np.minimum(number, 8.0) - 8.0) ** 2) / 2.0
    chosen = np.select(
        [off_bow_deg <= 30.0, off_bow_deg <= 60.0, off_bow_deg <= 150.0],
        [head, bow, beam],
        following,
    )
    # Below where they were fitted the parabolas go under nought: a sea never speeds her up.
    factor: Floats = np.maximum(chosen, 0.0)
    return factor


def sea_number(wind_m_s: Floats, hs_m: Floats) -> tuple[Floats, Bools]:
    """Return the Beaufort number that counts, and where it is the waves' and not the wind's.

    Unknown waves count as those of the wind.
    """
    by_wind = beaufort(np.nan_to_num(wind_m_s))
    by_waves = np.interp(np.nan_to_num(hs_m), _PROBABLE_HS_M, np.arange(13.0))
    higher = by_waves > by_wind + 0.5
    return np.where(higher, by_waves, by_wind), higher


def kept_speed_kn(
    calm_kn: float,
    wind_m_s: Floats,
    off_bow_deg: Floats,
    hs_m: Floats | None = None,
    *,
    displacement_t: float,
    block_coefficient: float,
    waterline_m: float,
) -> Floats:
    """Return the speed through the water that is kept, shape (n,).

    Parameters
    ----------
    calm_kn : float
        Speed in calm water at the same power.
    wind_m_s, off_bow_deg : ndarray, shape (n,)
        10 m wind, and the angle between the bow and where wind and sea come from.
    hs_m : ndarray, shape (n,), optional
        Significant wave height, NaN where not known.
    displacement_t, block_coefficient, waterline_m : float
        Of the ship.
    """
    if hs_m is None:
        hs_m = np.zeros(np.shape(wind_m_s))
    number, swell = sea_number(wind_m_s, hs_m)
    off_bow_deg = np.where(swell, 0.0, off_bow_deg)
    froude = calm_kn * M_S_PER_KN / np.sqrt(G_M_S2 * waterline_m)
    row = _ALPHA[np.argmin(np.abs(_ALPHA[:, 0] - block_coefficient))]
    alpha = max(0.0, float(row[1] + row[2] * froude + row[3] * froude**2))
    volume = displacement_t / SEA_T_M3
    percent = 0.7 * number + number**6.5 / (22.0 * volume ** (2.0 / 3.0))
    lost = np.clip(alpha * direction_factor(number, off_bow_deg) * percent / 100.0, 0, MOST_LOST)
    kept: Floats = calm_kn * (1.0 - lost)
    return kept
