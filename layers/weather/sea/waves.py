"""Linear (Airy) waves: length, speed, and the motion of the water below.

References
----------
USACE, Coastal Engineering Manual, EM 1110-2-1100, Part II chapter 1 (2002), eqs. II-1-10 to
II-1-28. Valid for H/d and H/L small; g as there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats

G_M_S2 = 9.81  # EM 1110-2-1100 works its examples with it
ROUNDS = 12


def wave_number(period_s: npt.ArrayLike, depth_m: npt.ArrayLike) -> Floats:
    """Return k in radians per metre from (2 pi / T)^2 = g k tanh(k d), by Newton's method.

    Parameters
    ----------
    period_s, depth_m : array_like
        Positive; shapes that broadcast together.
    """
    period, depth = np.broadcast_arrays(
        np.asarray(period_s, dtype=np.float64), np.asarray(depth_m, dtype=np.float64)
    )
    deep = (2.0 * np.pi / period) ** 2 / G_M_S2 * depth  # k0 d
    kd = np.where(deep > 1.0, deep, np.sqrt(deep))
    for _ in range(ROUNDS):
        tanh = np.tanh(kd)
        slope = tanh + kd * (1.0 - tanh**2)
        kd = kd - (kd * tanh - deep) / slope
    return np.asarray(kd / depth)


@dataclass(frozen=True, slots=True, kw_only=True)
class Orbit:
    """Amplitudes of the water's motion at one depth, metres per second."""

    along_m_s: Floats
    up_m_s: Floats


def orbit(
    height_m: npt.ArrayLike, period_s: npt.ArrayLike, water_depth_m: float, depth_m: float
) -> Orbit:
    """Return the amplitude of the orbital velocity along and up, at a depth below the surface.

    Parameters
    ----------
    height_m, period_s : array_like
        Height (crest to trough) and period of the wave.
    water_depth_m, depth_m : float
        Depth of the water, and depth at which the motion is wanted (0 to ``water_depth_m``).
    """
    height, period = np.asarray(height_m, dtype=np.float64), np.asarray(period_s, dtype=np.float64)
    k = wave_number(period, water_depth_m)
    above = k * (water_depth_m - depth_m)  # k (z + d)
    # (H/2)(gT/L) cosh(k(z+d))/cosh(kd) = (pi H/T) cosh(k(z+d))/sinh(kd): eqs. II-1-21, -22
    sinh = np.sinh(np.minimum(k * water_depth_m, 700.0))
    speed = np.pi * height / period
    return Orbit(
        along_m_s=np.asarray(speed * np.cosh(above) / sinh),
        up_m_s=np.asarray(speed * np.sinh(above) / sinh),
    )
