"""What each of the last issues said for the place: how a forecast changed its mind."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import US_PER_H
from layers.earth.units import M_S_PER_KN
from layers.weather.forecast.conditions import WeatherField
from layers.weather.sea.place import WindowPlace

SHOWN = 6
NAMES = ("hs_m", "wind_east_m_s", "wind_north_m_s")


@dataclass(frozen=True, slots=True, kw_only=True)
class IssueSeries:
    """One issue at the place, hourly to its end; arrays of shape (n,), NaN where not known."""

    issued_at: datetime
    at_us: Ints
    hs_m: Floats
    wind_kn: Floats


def last_issues(field: WeatherField, place: WindowPlace | None) -> tuple[IssueSeries, ...]:
    """Return the last issues of the model that speaks for the waves, oldest first."""
    model = field.speaks.get("hs_m") or field.speaks.get("wind_m_s")
    if model is None or place is None:
        return ()
    found = []
    for issue in field.by_model[model][-SHOWN:]:
        start = min(int(piece.times_us[0]) for piece in issue.pieces)
        end = max(int(piece.times_us[-1]) for piece in issue.pieces)
        at_us = np.arange(start, end + 1, int(US_PER_H), dtype=np.int64)
        latitudes = np.full(len(at_us), place.position.latitude_deg)
        longitudes = np.full(len(at_us), place.position.longitude_deg)
        said = issue.at(NAMES, latitudes, longitudes, at_us)
        found.append(
            IssueSeries(
                issued_at=issue.issued_at,
                at_us=at_us,
                hs_m=said[:, 0],
                wind_kn=np.hypot(said[:, 1], said[:, 2]) / M_S_PER_KN,
            )
        )
    return tuple(found)
