"""Plausible or asked: between what limits each quantity has ever been found, and how fast it moves.

A value outside is *doubtful*: it is kept, shown and told, and nothing works with it until a
person says that it stands. Where it would shorten a time or close a window, whoever answers sets
the *at least* by it. What cannot exist at all (a negative wave height) is no value: the payload's
model refuses it.

References
----------
The limits are the world's records (WMO World Weather and Climate Extremes Archive) where there is
one, each named beside its line; the steps are those of NDBC, Technical Document 09-02 (2009),
"Handbook of Automated Data Quality Control", time continuity: 0.58 σ √τ, τ in hours, at most 3
(σ from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

STEP_WITHIN_H = 3.0  # NDBC 09-02: no continuity is asked over a longer gap
_STEP = 0.58  # the same
NULL_ISLAND_DEG = 0.001  # receivers without a fix send 0, 0; a buoy lies there, no ship stays


@dataclass(frozen=True, slots=True, kw_only=True)
class EverFound:
    """Between what a quantity has been found, in the unit of its name.

    ``sigma`` is its spread for the check of the step from the last value; None: not checked.
    """

    least: float
    most: float
    words: str
    why: str
    sigma: float | None = None


_WIND = EverFound(least=0.0, most=185.0, words="wind", sigma=25.0 / 0.514444,
              why="the strongest sustained wind found at the surface: 185 kn, Patricia 2015 "
                  "(US NHC, EP202015)")  # fmt: skip
_HS = EverFound(least=0.0, most=19.0, words="significant wave height", sigma=6.0,
            why="the highest that a buoy has measured: 19.0 m, 2013 (WMO archive)")  # fmt: skip
_PERIOD = EverFound(least=1.0, most=30.0, words="wave period", sigma=31.0,
                why="waves made by wind last 1 to 30 s (Munk 1950)")  # fmt: skip
LIMITS: dict[str, EverFound] = {
    "wind_kn": _WIND,
    "gust_kn": EverFound(least=0.0, most=220.0, words="gust",
                     why="the strongest gust measured: 220 kn, Barrow Island 1996 (WMO archive)"),
    "hs_m": _HS, "swell_hs_m": _HS, "wind_wave_hs_m": _HS,
    "hs_wind_m": _HS, "hs_swell_m": _HS,
    "tp_s": _PERIOD, "mean_period_s": _PERIOD, "swell_tp_s": _PERIOD, "wind_wave_tp_s": _PERIOD,
    "pressure_hpa": EverFound(least=870.0, most=1084.0, words="pressure at sea level", sigma=21.0,
                          why="870 hPa (Tip 1979) to 1083.8 hPa (Agata 1968) (WMO archive)"),
    "air_c": EverFound(least=-89.2, most=56.7, words="air temperature", sigma=11.0,
                   why="-89.2 °C (Vostok 1983) to 56.7 °C (1913) (WMO archive)"),
    "dew_c": EverFound(least=-89.2, most=35.0, words="dew point", sigma=18.0,
                   why="35 °C is the highest dew point found (Dhahran 2003, from memory)"),
    "sea_c": EverFound(least=-2.3, most=37.6, words="sea temperature", sigma=8.6,
                   why="sea water of 42 freezes at -2.3 °C (TEOS-10); 37.6 °C, Kuwait Bay 2020 "
                       "(from memory)"),
    "salinity_psu": EverFound(least=0.0, most=42.0, words="salinity",
                          why="the open sea's highest is that of the Red Sea, about 41"),
    "current_kn": EverFound(least=0.0, most=12.0, words="current",
                        why="faster streams run in a few narrows only (common practice)"),
    "visibility_nmi": EverFound(least=0.0, most=60.0, words="visibility",
                            why="no report reaches further (common practice, no source)"),
}  # fmt: skip
SHIP_KN, AIRCRAFT_KN = 60.0, 600.0  # common practice, no source


def doubtful(name: str, values: npt.NDArray[Any]) -> npt.NDArray[np.bool_]:
    """Return which values lie outside what has ever been found; NaN never does."""
    limit = LIMITS.get(name)
    if limit is None:
        return np.zeros(np.shape(values), dtype=bool)
    with np.errstate(invalid="ignore"):
        outside: npt.NDArray[np.bool_] = (values < limit.least) | (values > limit.most)
    return outside


def doubt(name: str, value: float) -> str:
    """Return why a value is doubtful, in a sentence; empty where it is not."""
    limit = LIMITS.get(name)
    if limit is None or limit.least <= value <= limit.most:
        return ""
    return f"{limit.words} {value:g}{unit_of(name)} is beyond {limit.why}"


def step_doubt(name: str, before: float, after: float, hours: float) -> str:
    """Return why a step from the last value is doubtful; empty where it is not."""
    limit = LIMITS.get(name)
    if limit is None or limit.sigma is None or not 0.0 < hours <= STEP_WITHIN_H:
        return ""
    most = _STEP * limit.sigma * math.sqrt(max(hours, 1.0))
    if abs(after - before) <= most:
        return ""
    unit = unit_of(name)
    return (
        f"{limit.words} went from {before:g} to {after:g}{unit} in {hours:.1f} h; a buoy's is "
        f"asked about beyond {most:.1f}{unit} (NDBC 09-02)"
    )


def pair_doubts(values: Mapping[str, Any]) -> dict[str, str]:
    """Return why values of one report do not fit each other, by the field that is doubted."""
    found: dict[str, str] = {}
    wind, gust = values.get("wind_kn"), values.get("gust_kn")
    if wind is not None and gust is not None and gust < wind - 2.0:
        found["gust_kn"] = f"a gust of {gust:g} kn is less than the mean wind of {wind:g} kn"
    air, dew = values.get("air_c"), values.get("dew_c")
    if air is not None and dew is not None and dew > air + 1.0:
        found["dew_c"] = f"a dew point of {dew:g} °C is above the air's {air:g} °C"
    for height, period in (("hs_m", "tp_s"), ("swell_hs_m", "swell_tp_s")):
        hs_m, tp_s = values.get(height), values.get(period)
        if hs_m and tp_s and hs_m > 0.1 * 1.56 * tp_s**2:
            # a sea of significant steepness 1/10 would break as a whole; DNV-RP-C205, 3.5.5, has
            # 1/15 as the limit of the mean (from memory). Deep-water wavelength: 1.56 T²
            found[period] = (
                f"waves of {hs_m:g} m with a period of {tp_s:g} s are steeper than a sea can be"
            )
    return found


def position_doubts(subject: str, values: Mapping[str, Any]) -> dict[str, str]:
    """Return why a fix is doubtful by itself: at 0, 0, or faster than its kind goes."""
    found: dict[str, str] = {}
    latitude, longitude = values.get("latitude_deg"), values.get("longitude_deg")
    if latitude is not None and longitude is not None and at_null(latitude, longitude):
        found["latitude_deg"] = (
            "0 N 0 E is what a receiver without a fix sends, not where she is taken to be"
        )
    # an MMSI says what she is (111: search and rescue aircraft, ITU-R M.585); a log may be any
    ship = subject.startswith("mmsi:") and not subject.startswith("mmsi:111")
    speed = values.get("speed_kn")
    if speed is not None and speed > (SHIP_KN if ship else AIRCRAFT_KN):
        found["speed_kn"] = f"{speed:g} kn is faster than a {'ship' if ship else 'craft'} goes"
    return found


def at_null(latitude_deg: float, longitude_deg: float) -> bool:
    """Whether a place is where latitude and longitude are both zero."""
    return abs(latitude_deg) < NULL_ISLAND_DEG and abs(longitude_deg) < NULL_ISLAND_DEG


def doubts_of(kind: str, payload: Mapping[str, Any]) -> dict[str, str]:
    """Return what of a record is doubtful by itself, by field; empty for nearly all.

    Told when a record enters, by whatever way it came, and again wherever it is shown.
    """
    if kind == "tracks.position":
        latitude, speed = payload["latitude_deg"], payload.get("speed_kn")
        if not (-0.001 < latitude < 0.001) and (speed is None or speed <= SHIP_KN):
            return {}
        return position_doubts(str(payload["subject"]), payload)
    if kind != "weather.observation":
        return {}
    found = {
        name: why
        for name, value in payload.items()
        if name in LIMITS and value is not None and (why := doubt(name, value))
    }
    return found | {k: v for k, v in pair_doubts(payload).items() if k not in found}


def unit_of(name: str) -> str:
    """Return the unit that a field's name ends with, as it is written after a figure."""
    ends = {"_kn": " kn", "_m": " m", "_s": " s", "_hpa": " hPa", "_c": " °C", "_nmi": " nmi",
            "_psu": "", "_deg": "°"}  # fmt: skip
    return next((unit for end, unit in ends.items() if name.endswith(end)), "")
