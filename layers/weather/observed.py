"""Every placed observation as arrays: what forecasts are held against, and stand in for them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from layers.earth.arrays import Array, Floats, Ints
from layers.earth.clock import to_us
from layers.earth.plausible import LIMITS, doubtful
from layers.earth.units import M_S_PER_KN
from layers.journal.known import Entry, Known
from layers.weather.scales import wind_at_10_m
from layers.weather.stations import standing, station_entries

ASHORE = ("airfield", "land")


@dataclass(frozen=True, slots=True, kw_only=True)
class ObservedSea:
    """Observations with a position; all arrays of shape (n,), in order of time.

    Wind is brought to 10 m where the anemometer's height is known. Components point to where
    wind and current go; NaN where not measured. ``at_sea`` is false for airfields and land
    stations, whose wind is not the sea's. ``hs_doubted_m`` and ``wind_doubted_kn`` hold what lies
    outside what has ever been found: no part of ``hs_m`` and ``wind_kn``, yet enough to forbid.
    """

    at_us: Ints
    latitude_deg: Floats
    longitude_deg: Floats
    hs_m: Floats
    tp_s: Floats
    wind_kn: Floats
    wind_east_m_s: Floats
    wind_north_m_s: Floats
    current_east_m_s: Floats
    current_north_m_s: Floats
    visibility_nmi: Floats
    station: Array
    at_sea: Array
    hs_doubted_m: Floats | None = None
    wind_doubted_kn: Floats | None = None

    def since(self, start_us: int) -> ObservedSea:
        """Return those from a time on."""
        return self.only(self.at_us >= start_us)

    def only(self, keep: Array) -> ObservedSea:
        """Return those that are kept, a boolean for each."""
        held: dict[str, Any] = {}
        for name in self.__slots__:
            values = getattr(self, name)
            held[name] = None if values is None else values[keep]
        return ObservedSea(**held)


def observed(known: Known, at: datetime) -> ObservedSea:
    """Return every observation of ``at`` or before that has a position."""
    measured = standing(known)
    columns = _sound(measured)
    described = station_entries(known, at)
    latitude, longitude, factor = _placed(columns, described)
    rows = np.flatnonzero((columns["valid_at_us"] <= to_us(at)) & ~np.isnan(latitude))
    rows = rows[np.argsort(columns["valid_at_us"][rows], kind="stable")]
    wind_kn = columns["wind_kn"] * factor
    going = np.radians(columns["wind_from_true_deg"] + 180.0)
    setting = np.radians(columns["current_set_true_deg"])
    drift = columns["current_kn"] * M_S_PER_KN
    wind = wind_kn * M_S_PER_KN
    return ObservedSea(
        at_us=columns["valid_at_us"][rows],
        latitude_deg=latitude[rows],
        longitude_deg=longitude[rows],
        hs_m=columns["hs_m"][rows],
        tp_s=columns["tp_s"][rows],
        wind_kn=wind_kn[rows],
        wind_east_m_s=(wind * np.sin(going))[rows],
        wind_north_m_s=(wind * np.cos(going))[rows],
        current_east_m_s=(drift * np.sin(setting))[rows],
        current_north_m_s=(drift * np.cos(setting))[rows],
        visibility_nmi=columns["visibility_nmi"][rows],
        station=columns["station"][rows],
        at_sea=_at_sea(columns, described)[rows],
        hs_doubted_m=_doubted("hs_m", measured)[rows],
        wind_doubted_kn=_doubted("wind_kn", measured)[rows],
    )


def _sound(columns: Mapping[str, Array]) -> dict[str, Array]:
    """Return the columns with NaN for what lies outside what has ever been found."""
    sound = dict(columns)
    for name in LIMITS:
        if name in sound and (outside := doubtful(name, sound[name])).any():
            sound[name] = np.where(outside, np.nan, sound[name])
    return sound


def _doubted(name: str, columns: Mapping[str, Array]) -> Floats:
    return np.where(doubtful(name, columns[name]), columns[name], np.nan)


def _placed(
    columns: Mapping[str, Array], described: Mapping[str, Entry]
) -> tuple[Floats, Floats, Floats]:
    """Return each row's position, its own or its station's, and its factor to 10 m wind."""
    latitude = columns["latitude_deg"].astype(np.float64, copy=True)
    longitude = columns["longitude_deg"].astype(np.float64, copy=True)
    factor = np.ones(len(latitude))
    for name, entry in described.items():
        rows = columns["station"] == name
        bare = rows & np.isnan(latitude)
        latitude[bare], longitude[bare] = entry.value.latitude_deg, entry.value.longitude_deg
        if entry.value.anemometer_m is not None:
            factor[rows] = wind_at_10_m(1.0, entry.value.anemometer_m)
    return latitude, longitude, factor


def _at_sea(columns: Mapping[str, Array], described: Mapping[str, Entry]) -> Array:
    """Return whether each row was measured at sea, by its station's record or its own sort."""
    at_sea = ~np.isin(columns["sort"].astype(str), ASHORE)
    for name, entry in described.items():
        at_sea[columns["station"] == name] = entry.value.sort not in ASHORE
    return np.asarray(at_sea)
