"""Conversions, each once, each with its authority."""

from __future__ import annotations

M_PER_NMI = 1852.0  # exactly; International Hydrographic Conference, Monaco 1929
M_PER_FT = 0.3048  # exactly; international yard and pound agreement, 1959
M_PER_KM = 1000.0
S_PER_H = 3600.0
M_S_PER_KN = M_PER_NMI / S_PER_H  # 0.514444...
PA_PER_BAR = 1.0e5  # BIPM, SI brochure, 9th ed., table 8
PA_PER_ATM = 101_325.0  # exactly; 10th CGPM 1954
PA_PER_MSW = 1.0e4  # 10 msw = 1 bar; common practice in diving, no source
# 33 fsw = 1 atm; US Navy Diving Manual convention (33.066 and 33.08 are in use elsewhere)
PA_PER_FSW = PA_PER_ATM / 33.0
KELVIN_AT_0_C = 273.15  # exactly; 10th CGPM 1954
R_J_PER_MOL_K = 8.314_462_618  # CODATA 2018, exact since the 2019 SI


def kn_to_m_s(speed_kn: float) -> float:
    """Return metres per second for knots."""
    return speed_kn * M_S_PER_KN


def nmi_to_m(distance_nmi: float) -> float:
    """Return metres for nautical miles (1852 m exactly)."""
    return distance_nmi * M_PER_NMI


def m_to_nmi(distance_m: float) -> float:
    """Return nautical miles for metres."""
    return distance_m / M_PER_NMI


def ft_to_m(length_ft: float) -> float:
    """Return metres for international feet."""
    return length_ft * M_PER_FT


def bearing_0_360(bearing_deg: float) -> float:
    """Return the same direction as 0 <= bearing < 360."""
    turned = bearing_deg % 360.0
    return 0.0 if turned >= 360.0 else turned  # -1e-15 % 360 is 360.0 in floating point
