"""Wind, waves and current at one place and time, with where they come from and how far off."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.clock import to_us
from layers.earth.position import Position
from layers.weather.forecast.conditions import WeatherField, knots, towards_deg

TITLES = {"hs_m": "waves", "wind_m_s": "wind at 10 m", "current_m_s": "current"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Elsewhere:
    """One quantity at one place and time; ``words`` says the value, None where not known.

    ``sigma`` carries its unit; ``origin`` names the forecast, station or tidal stream,
    ``distance_nmi`` how far off it was measured or reckoned, ``age_h`` how long before.
    """

    title: str
    words: str | None
    sigma: str
    origin: str
    distance_nmi: float | None
    age_h: float | None


def elsewhere(field: WeatherField, position: Position, at: datetime) -> tuple[Elsewhere, ...]:
    """Return what is known of waves, wind and current at a place and time."""
    latitude, longitude = np.array([position.latitude_deg]), np.array([position.longitude_deg])
    at_us = np.array([to_us(at)], dtype=np.int64)
    found = field.conditions(latitude, longitude, at_us)
    hs_m, tp_s = float(found.hs_m[0]), float(found.tp_s[0])
    wind_kn = float(knots(found.wind_east_m_s, found.wind_north_m_s)[0])
    wind_to = float(towards_deg(found.wind_east_m_s, found.wind_north_m_s)[0])
    drift_kn = float(knots(found.current_east_m_s, found.current_north_m_s)[0])
    drift_to = float(towards_deg(found.current_east_m_s, found.current_north_m_s)[0])
    period = "" if math.isnan(tp_s) else f" at {tp_s:.0f} s"
    said = {
        "hs_m": (hs_m, f"Hs {hs_m:.1f} m{period}", found.hs_sigma_m[0], "m"),
        "wind_m_s": (
            wind_kn,
            f"from {(wind_to + 180) % 360:03.0f}°T {wind_kn:.0f} kn",
            found.wind_sigma_m_s[0],
            "m/s each component",
        ),
        "current_m_s": (
            drift_kn,
            f"sets {drift_to:03.0f}°T {drift_kn:.1f} kn",
            found.current_sigma_m_s[0],
            "m/s each component",
        ),
    }
    rows = []
    for quantity, (value, words, sigma, unit) in said.items():
        where = field.provenance(quantity, latitude, longitude, at_us)
        known = not math.isnan(value)
        rows.append(
            Elsewhere(
                title=TITLES[quantity],
                words=words if known else None,
                sigma=f"± {float(sigma):.2f} {unit}" if known else "",
                origin=str(where.origin[0]) if known else "",
                distance_nmi=float(where.distance_nmi[0]) if known else None,
                age_h=float(where.age_h[0]) if known else None,
            )
        )
    return tuple(rows)
