"""The weather as it truly is in the exercise; stations and forecasts are made from it.

The front comes from the west at 30 kn: what the place of work has at one time, a place further
west has had earlier.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from demo_data.scenario import BLOW_FROM, BLOW_PEAK_HS_M, BLOW_TO, SWELL_HS_M, SWELL_TO, TRUTH, z
from layers.earth.arrays import Floats

ZERO = z(12, "0000")
FRONT_KN = 30.0
M_S_PER_KN = 1852.0 / 3600.0


def hours(at: datetime) -> float:
    """Return hours since 120000Z MAR 27."""
    return (at - ZERO) / timedelta(hours=1)


# time at the place of work, Hs (m), Tp (s), wind (kn), wind from (degrees true)
_TABLE = (
    (z(11, "0000"), 1.6, 8.0, 14.0, 250.0),
    (z(12, "1200"), 1.6, 8.0, 15.0, 245.0),
    (z(13, "0000"), 1.4, 7.5, 13.0, 240.0),
    (z(13, "1200"), 1.2, 7.0, 11.0, 235.0),
    (z(14, "0000"), 1.1, 7.0, 9.0, 230.0),
    (z(14, "1200"), 1.3, 7.0, 12.0, 220.0),
    (z(15, "0000"), 1.4, 7.0, 14.0, 215.0),
    (z(15, "1200"), 1.3, 7.0, 12.0, 210.0),
    (z(16, "0000"), 1.4, 7.0, 15.0, 205.0),
    (z(16, "0400"), 1.7, 7.5, 20.0, 205.0),
    (z(16, "0600"), 2.0, 7.8, 24.0, 210.0),
    (z(16, "0830"), 2.5, 8.2, 28.0, 215.0),
    (BLOW_FROM, 3.0, 8.6, 31.0, 220.0),
    (z(16, "1300"), 4.0, 9.4, 36.0, 230.0),
    (z(16, "1500"), BLOW_PEAK_HS_M, 10.0, 38.0, 240.0),
    (z(16, "1700"), 4.3, 10.4, 30.0, 290.0),
    (BLOW_TO, 3.0, 10.8, 18.0, 300.0),
    (z(16, "2330"), SWELL_HS_M, 11.0, 15.0, 300.0),
    (SWELL_TO, SWELL_HS_M, 11.0, 12.0, 295.0),
    (z(17, "0500"), 2.42, 11.0, 12.0, 290.0),
    (z(17, "0900"), 2.0, 10.8, 11.0, 285.0),
    (z(17, "1800"), 1.6, 10.0, 10.0, 270.0),
    (z(18, "1200"), 1.3, 9.0, 9.0, 250.0),
    (z(19, "1200"), 1.2, 8.0, 11.0, 240.0),
    (z(20, "1200"), 1.3, 8.0, 13.0, 240.0),
    (z(24, "0000"), 1.5, 8.0, 15.0, 240.0),
)
_HOURS = np.array([hours(row[0]) for row in _TABLE])
_COLUMNS = np.array([row[1:] for row in _TABLE], dtype=np.float64)


def local_hours(hours_utc: Floats, longitude_deg: Floats) -> Floats:
    """Return the time at which the place of work has what this longitude has now."""
    east_nmi = (longitude_deg - TRUTH.longitude_deg) * 60.0 * np.cos(np.radians(49.83))
    return np.asarray(hours_utc - east_nmi / FRONT_KN)


def hs_m(hours_utc: Floats, longitude_deg: Floats) -> Floats:
    """Return the significant wave height, metres."""
    return np.interp(local_hours(hours_utc, longitude_deg), _HOURS, _COLUMNS[:, 0])


def tp_s(hours_utc: Floats, longitude_deg: Floats) -> Floats:
    """Return the peak period, seconds."""
    return np.interp(local_hours(hours_utc, longitude_deg), _HOURS, _COLUMNS[:, 1])


def wind_kn(hours_utc: Floats, longitude_deg: Floats) -> Floats:
    """Return the 10 m wind, knots."""
    return np.interp(local_hours(hours_utc, longitude_deg), _HOURS, _COLUMNS[:, 2])


def wind_from_deg(hours_utc: Floats, longitude_deg: Floats) -> Floats:
    """Return where the wind comes from, degrees true; it never crosses north here."""
    return np.interp(local_hours(hours_utc, longitude_deg), _HOURS, _COLUMNS[:, 3])


def wave_from_deg(hours_utc: Floats, longitude_deg: Floats) -> Floats:
    """Return where the waves come from: the swell of the wind six hours before."""
    return np.asarray(0.6 * wind_from_deg(hours_utc - 6.0, longitude_deg) + 0.4 * 255.0)


# The tidal stream: an ellipse that turns clockwise, worked by the range of the tide.
TIDE_H = 12.42
HIGH_WATER = z(12, "0614")
SPRING_RANGE_M, NEAP_RANGE_M = 5.0, 2.2
NEAPS = z(16, "1200")
SPRING_TO_SPRING_H = 14.77 * 24.0
# level: spring rate (kn), neap rate (kn), direction of the flood (degrees), lag (h)
STREAM = {"surface": (1.36, 0.74, 62.0, 0.0), "seat": (1.12, 0.57, 50.0, 0.5)}
MINOR = 0.35


def high_waters() -> list[tuple[datetime, float]]:
    """Return the high waters of the exercise with the range of each tide, metres."""
    step = timedelta(hours=TIDE_H)
    times = [HIGH_WATER + n * step for n in range(-3, 26)]
    return [(at.replace(second=0, microsecond=0), round(tide_range_m(at), 2)) for at in times]


def tide_range_m(at: datetime) -> float:
    """Return the range of the tide: least at neaps."""
    turn = 2.0 * np.pi * ((at - NEAPS) / timedelta(hours=1)) / SPRING_TO_SPRING_H
    middle = (SPRING_RANGE_M + NEAP_RANGE_M) / 2.0
    return float(middle - (SPRING_RANGE_M - NEAP_RANGE_M) / 2.0 * np.cos(turn))


def stream_hour(level: str, hour: float) -> tuple[float, float]:
    """Return set (degrees true) and relative rate of the stream at an hour from high water."""
    _, _, flood_deg, lag_h = STREAM[level]
    turn = 2.0 * np.pi * (hour - lag_h + 1.5) / TIDE_H
    along, across = np.cos(turn), MINOR * np.sin(turn)
    set_deg = flood_deg + np.degrees(np.arctan2(across, along))
    return float(set_deg % 360.0), float(np.hypot(along, across))


def current_m_s(level: str, at: datetime) -> tuple[float, float]:
    """Return the stream towards east and north, metres per second, at one time."""
    nearest = min(high_waters(), key=lambda water: abs(water[0] - at))
    set_deg, share = stream_hour(level, (at - nearest[0]) / timedelta(hours=1))
    spring_kn, neap_kn, _, _ = STREAM[level]
    way = (tide_range_m(at) - NEAP_RANGE_M) / (SPRING_RANGE_M - NEAP_RANGE_M)
    rate = (neap_kn + way * (spring_kn - neap_kn)) * share * M_S_PER_KN
    return float(rate * np.sin(np.radians(set_deg))), float(rate * np.cos(np.radians(set_deg)))
