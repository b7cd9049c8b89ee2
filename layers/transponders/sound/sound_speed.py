"""Sound speed in sea water by five published equations, and the spread between them.

Formulas are in metres, degrees C (ITS-90) and practical salinity; each says what it wants.
"""

from __future__ import annotations

import gsw
import numpy as np

from layers.earth.arrays import Floats


def teos10(
    temperature_c: Floats,
    absolute_salinity_g_kg: Floats,
    pressure_dbar: Floats,
) -> Floats:
    """Return sound speed, m/s, by TEOS-10 (IOC, SCOR and IAPSO 2010) through ``gsw``.

    In-situ temperature is turned into conservative temperature first: raw salinity and
    temperature would cost 0.2 m/s.
    """
    conservative = gsw.CT_from_t(absolute_salinity_g_kg, temperature_c, pressure_dbar)
    return np.asarray(gsw.sound_speed(absolute_salinity_g_kg, conservative, pressure_dbar))


def mackenzie(temperature_c: Floats, practical_salinity: Floats, depth_m: Floats) -> Floats:
    """Return sound speed, m/s, by the nine-term equation.

    Notes
    -----
    Valid for -2 to 30 C, 25 to 40 in salinity, 0 to 8000 m.

    References
    ----------
    Mackenzie, J. Acoust. Soc. Am. 70 (1981) 807-812, doi:10.1121/1.386920
    """
    t, s, d = temperature_c, practical_salinity - 35.0, depth_m
    return np.asarray(
        1448.96 + 4.591 * t - 5.304e-2 * t**2 + 2.374e-4 * t**3
        + 1.340 * s + 1.630e-2 * d + 1.675e-7 * d**2 - 1.025e-2 * t * s - 7.139e-13 * t * d**3
    )  # fmt: skip


def leroy(
    temperature_c: Floats, practical_salinity: Floats, depth_m: Floats, latitude_deg: float
) -> Floats:
    """Return sound speed, m/s, by the fourteen-term equation for all oceans.

    References
    ----------
    Leroy, Robinson and Goldsmith, J. Acoust. Soc. Am. 124 (2008) 2774-2782
    """
    t, s, z = temperature_c, practical_salinity, depth_m
    return np.asarray(
        1402.5 + 5.0 * t - 5.44e-2 * t**2 + 2.1e-4 * t**3 + 1.33 * s - 1.23e-2 * s * t
        + 8.7e-5 * s * t**2 + 1.56e-2 * z + 2.55e-7 * z**2 - 7.3e-12 * z**3
        + 1.2e-6 * z * (latitude_deg - 45.0) - 9.5e-13 * t * z**3 + 3e-7 * t**2 * z
        + 1.43e-5 * s * z
    )  # fmt: skip


def del_grosso(temperature_c: Floats, practical_salinity: Floats, pressure_dbar: Floats) -> Floats:
    """Return sound speed, m/s, by Del Grosso's equation.

    Notes
    -----
    The equation counts pressure in kg/cm²; 1 dbar is 0.101971621 of them. Valid for 0 to
    30 C, 30 to 40 in salinity, 0 to 1000 kg/cm².

    References
    ----------
    Del Grosso, J. Acoust. Soc. Am. 56 (1974) 1084-1091
    """
    t, s, p = temperature_c, practical_salinity, pressure_dbar * 0.101971621
    warm = 5.01109398873 * t - 5.50946843172e-2 * t**2 + 2.21535969240e-4 * t**3
    salt = 1.32952290781 * s + 1.28955756844e-4 * s**2
    deep = 0.156059257041 * p + 2.44998688441e-5 * p**2 - 8.83392332513e-9 * p**3
    mixed = (
        -1.27562783426e-2 * t * s + 6.35191613389e-3 * t * p + 2.65484716608e-8 * t**2 * p**2
        - 1.59349479045e-6 * t * p**2 + 5.22116437235e-10 * t * p**3
        - 4.38031096213e-7 * t**3 * p - 1.61674495909e-9 * s**2 * p**2
        + 9.68403156410e-5 * t**2 * s + 4.85639620015e-6 * t * s**2 * p
        - 3.40597039004e-4 * t * s * p
    )  # fmt: skip
    return np.asarray(1402.392 + warm + salt + deep + mixed)


# Powers of temperature (columns) and of pressure in bar (rows); Fofonoff and Millard (1983),
# UNESCO Technical Papers in Marine Science 44. A test holds every coefficient against an
# independent coding over the whole range, because a copied digit is easily wrong.
_CW = (
    (1402.388, 5.03711, -5.80852e-2, 3.3420e-4, -1.47800e-6, 3.1464e-9),
    (0.153563, 6.8982e-4, -8.1788e-6, 1.3621e-7, -6.1185e-10, 0.0),
    (3.1260e-5, -1.7107e-6, 2.5974e-8, -2.5335e-10, 1.0405e-12, 0.0),
    (-9.7729e-9, 3.8504e-10, -2.3643e-12, 0.0, 0.0, 0.0),
)
_A = (
    (1.389, -1.262e-2, 7.164e-5, 2.006e-6, -3.21e-8),
    (9.4742e-5, -1.2580e-5, -6.4885e-8, 1.0507e-8, -2.0122e-10),
    (-3.9064e-7, 9.1041e-9, -1.6002e-10, 7.988e-12, 0.0),
    (1.100e-10, 6.649e-12, -3.389e-13, 0.0, 0.0),
)
_B = ((-1.922e-2, -4.42e-5), (7.3637e-5, 1.7945e-7))
_D = (1.727e-3, -7.9836e-6)


def chen_millero(
    temperature_c: Floats, practical_salinity: Floats, pressure_dbar: Floats
) -> Floats:
    """Return sound speed, m/s, by the UNESCO equation of Chen and Millero.

    Notes
    -----
    The equation is on the 1968 temperature scale: t68 = 1.00024 t90. Valid for 0 to 40 C, 0 to
    40 in salinity, 0 to 1000 bar.

    References
    ----------
    Chen and Millero, J. Acoust. Soc. Am. 62 (1977) 1129-1135; Fofonoff and Millard, UNESCO
    Technical Papers in Marine Science 44 (1983)
    """
    t, bar, s = np.asarray(temperature_c) * 1.00024, np.asarray(pressure_dbar) / 10.0, (
        np.asarray(practical_salinity)
    )  # fmt: skip
    pure = np.polynomial.polynomial.polyval2d(bar, t, np.array(_CW))
    a = np.polynomial.polynomial.polyval2d(bar, t, np.array(_A))
    b = np.polynomial.polynomial.polyval2d(bar, t, np.array(_B))
    return np.asarray(pure + a * s + b * s**1.5 + (_D[0] + _D[1] * bar) * s**2)


def all_equations(
    temperature_c: Floats,
    practical_salinity: Floats,
    depth_m: Floats,
    latitude_deg: float,
    longitude_deg: float,
) -> dict[str, Floats]:
    """Return the sound speed by every equation, m/s, TEOS-10 first."""
    pressure = np.asarray(gsw.p_from_z(-depth_m, latitude_deg))
    absolute = np.asarray(gsw.SA_from_SP(practical_salinity, pressure, longitude_deg, latitude_deg))
    return {
        "TEOS-10": teos10(temperature_c, absolute, pressure),
        "Chen–Millero": chen_millero(temperature_c, practical_salinity, pressure),
        "Mackenzie": mackenzie(temperature_c, practical_salinity, depth_m),
        "Leroy": leroy(temperature_c, practical_salinity, depth_m, latitude_deg),
        "Del Grosso": del_grosso(temperature_c, practical_salinity, pressure),
    }
