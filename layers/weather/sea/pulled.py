"""Pull what is expected to the latest observation, and let it go again.

The forecast's error is taken to fade with time and place. An observation then says what the
error is now, and less and less of what it will be: the least-squares estimate of the error from
one observation (Gandin's optimal interpolation with one datum; Kalnay, Atmospheric Modeling,
Data Assimilation and Predictability, 2003, section 5.4; from memory, not checked against the
page). How far an observation speaks (60 nmi) and its own errors are assumptions of our own
(common practice, no source); how long is the hold of each variable in ``sea_draws``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.plausible import doubt, step_doubt
from layers.earth.position import Position
from layers.earth.sea.draws import HOLDS_H, HOUR_US
from layers.earth.units import M_S_PER_KN
from layers.weather.observed import ObservedSea

SPEAKS_NMI = 60.0
FRESH_H = 3.0  # older than this nothing is called an observation of now
NMI_PER_DEG = 60.0
# Own error of one observation: a fixed part, and a part in proportion. Twenty minutes of waves
# give Hs to about 5 % (sampling of a random sea; common practice, no source).
OWN: dict[str, tuple[float, float]] = {
    "hs_m": (0.05, 0.05),
    "wind_kn": (1.0, 0.05),
    "tp_s": (0.7, 0.0),
    "visibility_nmi": (0.2, 0.2),
    "current_surface_kn": (0.1, 0.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ObservedNear:
    """One variable as last observed near the place."""

    name: str
    value: float
    at_us: int
    latitude_deg: float
    longitude_deg: float
    off_nmi: float
    station: str
    doubtful: str = ""  # why; it then forbids where it is over a limit, and allows nothing


def last_seen(
    seen: ObservedSea, place: Position, at_us: int, names: Mapping[str, str] | None = None
) -> dict[str, ObservedNear]:
    """Return the newest observation of each variable near a place, none older than 3 h.

    ``names`` are the names people use of stations by their number.

    Of several within the same hour the nearest. Waves and wind are those measured at sea. A
    doubtful value counts where it is the worse one; of a step that would open, the value before
    it counts until a second one confirms it.
    """
    narrow = np.cos(np.radians(place.latitude_deg))
    east = (seen.longitude_deg - place.longitude_deg + 180.0) % 360.0 - 180.0
    off = np.hypot(seen.latitude_deg - place.latitude_deg, east * narrow) * NMI_PER_DEG
    age_h = (at_us - seen.at_us) / HOUR_US
    near = (off <= SPEAKS_NMI) & (age_h >= 0.0) & (age_h <= FRESH_H) & seen.at_sea
    measured: dict[str, Floats] = {
        "hs_m": seen.hs_m,
        "wind_kn": seen.wind_kn,
        "tp_s": seen.tp_s,
        "visibility_nmi": seen.visibility_nmi,
        "current_surface_kn": np.hypot(seen.current_east_m_s, seen.current_north_m_s) / M_S_PER_KN,
    }
    doubted = {"hs_m": seen.hs_doubted_m, "wind_kn": seen.wind_doubted_kn}
    found = {}
    for name, sound in measured.items():
        extra = doubted.get(name)
        values = sound if extra is None else np.where(np.isnan(sound), extra, sound)
        rows = np.flatnonzero(near & ~np.isnan(values))
        if len(rows):
            row = int(rows[np.lexsort((off[rows], np.floor(age_h[rows])))[0]])
            row, why = _judged(name, row, values, seen)
            found[name] = ObservedNear(
                name=name,
                doubtful=why,
                value=float(values[row]),
                at_us=int(seen.at_us[row]),
                latitude_deg=float(seen.latitude_deg[row]),
                longitude_deg=float(seen.longitude_deg[row]),
                off_nmi=float(off[row]),
                station=(names or {}).get(str(seen.station[row]), str(seen.station[row])),
            )
    return found


def _judged(name: str, row: int, values: Floats, seen: ObservedSea) -> tuple[int, str]:
    """Return the row that counts, and why it is doubtful; empty where it is not."""
    if name not in ("hs_m", "wind_kn"):
        return row, ""
    if why := doubt(name, float(values[row])):
        return row, why
    same = np.flatnonzero(
        (seen.station == seen.station[row]) & (seen.at_us < seen.at_us[row]) & ~np.isnan(values)
    )
    if not len(same):
        return row, ""
    before = int(same[-1])
    hours = float(seen.at_us[row] - seen.at_us[before]) / HOUR_US
    why = step_doubt(name, float(values[before]), float(values[row]), hours)
    if not why or doubt(name, float(values[before])):
        return row, ""
    if values[row] > values[before]:
        return row, why
    return before, f"{why}; the value before it counts until a second one confirms the step"


def pulled(
    values: Floats,
    sigma: Floats,
    at_us: Ints,
    seen: ObservedNear,
    expected: float,
    sigma_then: float,
) -> tuple[Floats, Floats]:
    """Return values and standard deviations given one observation, shape (n,).

    Parameters
    ----------
    values, sigma : ndarray, shape (n,)
        Expected, bias taken out, and one standard deviation of its error.
    expected, sigma_then : float
        The same two for the place and time of the observation.
    """
    if not np.isfinite(expected) or not sigma_then > 0.0:
        return values, sigma
    fixed, part = OWN[seen.name]
    own = np.hypot(fixed, part * seen.value)
    gap_h = np.abs(at_us - seen.at_us) / HOUR_US
    alike = np.exp(-gap_h / HOLDS_H[seen.name]) * np.exp(-seen.off_nmi / SPEAKS_NMI)
    told = sigma_then**2 / (sigma_then**2 + own**2)
    moved = values + alike * told * (seen.value - expected) * (sigma / sigma_then)
    left = sigma * np.sqrt(np.maximum(1.0 - told * alike**2, 0.0))
    return np.maximum(moved, 0.0), np.asarray(left)
