"""The forecast round the place at the time shown: a lattice for shading, barbs and arrows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.clock import to_us
from layers.earth.position import Position
from layers.weather.forecast.conditions import WeatherField, knots, towards_deg
from layers.weather.forecast.issues import Issue

HALF_HEIGHT_DEG = 1.5
CELLS = 18
BARB_EVERY = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """A lattice of cells of the model that speaks for the waves (failing that, the wind).

    ``corner_*`` have shape (ny + 1, nx + 1), values (ny, nx); barbs and arrows stand at the
    middle of every fourth cell, shape (n,).
    """

    model: str
    issued_at: datetime
    corner_latitudes_deg: Floats
    corner_longitudes_deg: Floats
    hs_m: Floats
    barb_latitudes_deg: Floats
    barb_longitudes_deg: Floats
    wind_kn: Floats
    wind_from_true_deg: Floats
    current_kn: Floats
    current_set_deg: Floats
    wave_from_true_deg: Floats
    rests_on: str


def around(field: WeatherField, place: Position | None, at: datetime) -> Around | None:
    """Return the forecast round a place at a time, None where no forecast reaches it."""
    model = field.speaks.get("hs_m") or field.speaks.get("wind_m_s")
    if model is None or place is None:
        return None
    issue = field.by_model[model][-1]
    south, north, west, east = _extent(issue, place)
    latitudes, longitudes = np.linspace(south, north, CELLS + 1), np.linspace(west, east, CELLS + 1)
    lat, lon = np.meshgrid(
        (latitudes[:-1] + latitudes[1:]) / 2, (longitudes[:-1] + longitudes[1:]) / 2, indexing="ij"
    )
    at_us = np.full(lat.size, to_us(at), dtype=np.int64)
    hs = field.variable("hs_m", "hs_m", lat.ravel(), lon.ravel(), at_us).reshape(lat.shape)
    each = (slice(BARB_EVERY // 2, None, BARB_EVERY),) * 2
    barb_lat, barb_lon = lat[each].ravel(), lon[each].ravel()
    u, v = (
        field.variable(name, "wind_m_s", barb_lat, barb_lon, at_us[: barb_lat.size])
        for name in ("wind_east_m_s", "wind_north_m_s")
    )
    here = field.conditions(barb_lat, barb_lon, at_us[: barb_lat.size])
    wave_east, wave_north = (
        field.variable(name, "hs_m", barb_lat, barb_lon, at_us[: barb_lat.size])
        for name in ("wave_from_east", "wave_from_north")
    )
    corner_lat, corner_lon = np.meshgrid(latitudes, longitudes, indexing="ij")
    return Around(
        model=model,
        issued_at=issue.issued_at,
        corner_latitudes_deg=corner_lat,
        corner_longitudes_deg=corner_lon,
        hs_m=hs,
        barb_latitudes_deg=barb_lat,
        barb_longitudes_deg=barb_lon,
        wind_kn=knots(u, v),
        wind_from_true_deg=(towards_deg(u, v) + 180.0) % 360.0,
        current_kn=knots(here.current_east_m_s, here.current_north_m_s),
        current_set_deg=towards_deg(here.current_east_m_s, here.current_north_m_s),
        wave_from_true_deg=towards_deg(wave_east, wave_north),
        rests_on=" ".join(issue.rests_on),
    )


def _extent(issue: Issue, place: Position) -> tuple[float, float, float, float]:
    """Return the part of the issue's first grid that lies near the place."""
    piece = issue.pieces[0]
    half_width = HALF_HEIGHT_DEG / max(0.1, float(np.cos(np.radians(place.latitude_deg))))
    west_edge, east_edge = piece.longitudes_deg[0], piece.longitudes_deg[-1]
    here = west_edge + (place.longitude_deg - west_edge) % 360.0
    return (
        float(max(piece.latitudes_deg[0], place.latitude_deg - HALF_HEIGHT_DEG)),
        float(min(piece.latitudes_deg[-1], place.latitude_deg + HALF_HEIGHT_DEG)),
        float(max(west_edge, here - half_width)),
        float(min(east_edge, here + half_width)),
    )
