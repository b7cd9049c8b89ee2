"""Magnetic variation by the World Magnetic Model 2025, with what is doubtful said beside it.

References
----------
NOAA NCEI and British Geological Survey (2025), World Magnetic Model WMM2025, valid 2025.0 to
2030.0; coefficients and evaluation as carried by pygeomag 1.1.0.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache

import numpy as np
from pygeomag import GeoMag
from pygeomag.geomag import GeoMagResult

from layers.earth.clock import utc
from layers.earth.position import Position

MODEL = "WMM2025"
VALID_FROM_YEAR, VALID_TO_YEAR = 2025.0, 2030.0
# zones of the WMM: horizontal field under 2,000 nT is 'blackout', under 6,000 nT 'caution';
# NOAA, The World Magnetic Model (from memory, not checked against the page)
BLACKOUT_NT, CAUTION_NT = 2_000.0, 6_000.0
_STEP_YEAR = 0.05
_LOCK = threading.Lock()  # GeoMag keeps working arrays between calls


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """The angle from true to magnetic north, and how far to trust it.

    Parameters
    ----------
    variation_deg : float
        East positive.
    at : datetime
        The date it was worked for, UTC.
    annual_change_deg : float
        Degrees a year, east positive.
    uncertainty_deg : float
        One standard deviation, by the model's own error formula: 0.26° and 5417 nT over the
        horizontal field, squared and added (WMM2025 report; from memory, not checked against
        the page).
    horizontal_nt : float
        Strength of the field that turns a compass, nanotesla.
    warning : str
        Empty, or a sentence that stands beside the number.
    """

    variation_deg: float
    at: datetime
    annual_change_deg: float
    uncertainty_deg: float
    horizontal_nt: float
    warning: str
    model: str = MODEL


@lru_cache(maxsize=1)
def _model() -> GeoMag:
    return GeoMag(coefficients_file="wmm/WMM_2025.COF")


def decimal_year(at: datetime) -> float:
    """Return the year with its elapsed part: 2026.5 is the middle of 2026."""
    t = utc(at)
    start = datetime(t.year, 1, 1, tzinfo=UTC)
    return t.year + (t - start) / (datetime(t.year + 1, 1, 1, tzinfo=UTC) - start)


def variation(position: Position, at: datetime, altitude_km: float = 0.0) -> Variation:
    """Return the magnetic variation at a place and time.

    Parameters
    ----------
    position : Position
        Where.
    at : datetime
        When; outside 2025 to 2030 the model is still run, and the warning says so.
    altitude_km : float
        Above the WGS 84 ellipsoid, kilometres.
    """
    year = decimal_year(at)
    field = _field(position, altitude_km, year)
    later = _field(position, altitude_km, year + _STEP_YEAR)
    earlier = _field(position, altitude_km, year - _STEP_YEAR)
    turned = (later.d - earlier.d + 180.0) % 360.0 - 180.0
    return Variation(
        variation_deg=float(field.d),
        at=utc(at),
        annual_change_deg=float(turned / (2.0 * _STEP_YEAR)),
        uncertainty_deg=float(np.hypot(0.26, 5_417.0 / field.h)),
        horizontal_nt=float(field.h),
        warning=_warning(year, float(field.h)),
    )


def _field(position: Position, altitude_km: float, year: float) -> GeoMagResult:
    with _LOCK:
        return _model().calculate(
            glat=position.latitude_deg,
            glon=position.longitude_deg,
            alt=altitude_km,
            time=year,
            allow_date_outside_lifespan=True,
        )


def _warning(year: float, horizontal_nt: float) -> str:
    said = []
    if not VALID_FROM_YEAR <= year <= VALID_TO_YEAR:
        said.append(
            f"{MODEL} holds from 2025 to 2030, and {year:.1f} is outside: "
            "the variation is a guess that grows worse with every year"
        )
    if horizontal_nt < BLACKOUT_NT:
        said.append("so near a magnetic pole a compass is of no use")
    elif horizontal_nt < CAUTION_NT:
        said.append("near a magnetic pole: a compass may be many degrees out")
    text = "; ".join(said)
    return text[:1].upper() + text[1:] + "." if text else ""
