"""Absorption of sound in sea water, dB per km."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats


def francois_garrison(
    frequency_khz: npt.ArrayLike,
    temperature_c: float,
    salinity: float,
    depth_m: float,
    ph: float = 8.0,
) -> Floats:
    """Return absorption, dB/km: boric acid, magnesium sulphate and pure water.

    Notes
    -----
    Valid 0.2 to 1000 kHz; good to 5 % for -2 to 22 °C, 30 to 35 in salinity, down to 3.5 km,
    10 to 500 kHz. The paper's absolute temperature is 273 + T.

    References
    ----------
    Francois and Garrison, J. Acoust. Soc. Am. 72 (1982) 896-907 and 1879-1890
    """
    f, t, s, d = np.asarray(frequency_khz, dtype=float), temperature_c, salinity, depth_m
    c, theta = 1412.0 + 3.21 * t + 1.19 * s + 0.0167 * d, 273.0 + t
    a1 = (8.86 / c) * 10.0 ** (0.78 * ph - 5.0)
    f1 = 2.8 * np.sqrt(s / 35.0) * 10.0 ** (4.0 - 1245.0 / theta)
    a2, p2 = 21.44 * (s / c) * (1.0 + 0.025 * t), 1.0 - 1.37e-4 * d + 6.2e-9 * d**2
    f2 = 8.17 * 10.0 ** (8.0 - 1990.0 / theta) / (1.0 + 0.0018 * (s - 35.0))
    if t <= 20.0:
        a3 = 4.937e-4 - 2.59e-5 * t + 9.11e-7 * t**2 - 1.50e-8 * t**3
    else:
        a3 = 3.964e-4 - 1.146e-5 * t + 1.45e-7 * t**2 - 6.5e-10 * t**3
    p3 = 1.0 - 3.83e-5 * d + 4.9e-10 * d**2
    boric = a1 * f1 * f**2 / (f1**2 + f**2)
    sulphate = a2 * p2 * f2 * f**2 / (f2**2 + f**2)
    return np.asarray(boric + sulphate + a3 * p3 * f**2)


def ainslie_mccolm(
    frequency_khz: npt.ArrayLike,
    temperature_c: float,
    salinity: float,
    depth_m: float,
    ph: float = 8.0,
) -> Floats:
    """Return absorption, dB/km, by the simplified formula; within 10 % of the one above.

    References
    ----------
    Ainslie and McColm, J. Acoust. Soc. Am. 103 (1998) 1671-1672
    """
    f, t, s, z = np.asarray(frequency_khz, dtype=float), temperature_c, salinity, depth_m / 1000.0
    f1, f2 = 0.78 * np.sqrt(s / 35.0) * np.exp(t / 26.0), 42.0 * np.exp(t / 17.0)
    boric = 0.106 * f1 * f**2 / (f1**2 + f**2) * np.exp((ph - 8.0) / 0.56)
    sulphate = 0.52 * (1.0 + t / 43.0) * (s / 35.0) * f2 * f**2 / (f2**2 + f**2) * np.exp(-z / 6.0)
    return np.asarray(boric + sulphate + 4.9e-4 * f**2 * np.exp(-(t / 27.0 + z / 17.0)))
