"""The tidal stream through time, from an hourly table about high water or from constants."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import US_PER_H, to_us
from layers.earth.sea.tides import Constant, principal_absent, sums
from layers.earth.units import M_S_PER_KN
from layers.journal.known import Entry, Known
from layers.weather.model import TidalStream

NMI_PER_DEG = 60.0
HOURS_ABOUT_HIGH_WATER = 6.5  # half a tide and a little: beyond it no high water was entered


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """One tidal stream in force, with the record it came from."""

    value: TidalStream
    rests_on: str

    def covers(self, latitudes_deg: Floats, longitudes_deg: Floats) -> Floats:
        """Return whether each place lies within the radius that the record states."""
        narrow = np.cos(np.radians(self.value.latitude_deg))
        east = ((longitudes_deg - self.value.longitude_deg + 180.0) % 360.0 - 180.0) * narrow
        off_nmi = np.hypot(latitudes_deg - self.value.latitude_deg, east) * NMI_PER_DEG
        return np.asarray(off_nmi <= self.value.radius_nmi)

    @property
    def lacks(self) -> str:
        """What a list of constants is without; empty where it is whole, or a table."""
        if not self.value.constants:
            return ""
        absent = principal_absent(one.name for one in self.value.constants)
        if not absent:
            return ""
        return f"the stream of {self.value.place} has no {', '.join(absent)} in its list"

    def at(self, at_us: Ints) -> tuple[Floats, Floats]:
        """Return the stream towards east and north, metres per second, shape (n,).

        NaN where not known: beyond the high waters of a table, or of a list that is not whole,
        for at springs it may run half as fast again as such a list tells.
        """
        if self.lacks:
            unknown = np.full(len(at_us), np.nan)
            return unknown, unknown.copy()
        if self.value.constants:
            return _harmonic(self.value, at_us)
        return _hourly(self.value, at_us)


def streams(known: Known, at: datetime) -> dict[str, tuple[Stream, ...]]:
    """Return the streams in force by level; of one place and level the newest, or the adopted."""
    held: dict[tuple[str, str], Entry] = {}
    for entry in known.entries("weather.tidal_stream"):
        key = (entry.value.level, entry.value.place)
        before = held.get(key)
        if entry.record.valid_at <= at and (
            before is None
            or (entry.adopted, entry.record.valid_at) >= (before.adopted, before.record.valid_at)
        ):
            held[key] = entry
    found: dict[str, list[Stream]] = {"surface": [], "seat": []}
    for (level, _), entry in held.items():
        found[level].append(Stream(value=entry.value, rests_on=entry.id))
    return {level: tuple(these) for level, these in found.items()}


def _hourly(value: TidalStream, at_us: Ints) -> tuple[Floats, Floats]:
    """Return the stream of a table: straight between its hours, by the range of the tide.

    The rate is taken in proportion to the tide's range, which is how such tables are worked
    (common practice, no source). East and north components are interpolated, so that the
    stream turns through slack and not through its mean direction.
    """
    waters = sorted((to_us(water.at), water.range_m) for water in value.high_waters)
    water_us = np.array([at for at, _ in waters], dtype=np.float64)
    ranges = np.array([range_m for _, range_m in waters])
    times = at_us.astype(np.float64)
    nearest = np.abs(times[:, None] - water_us[None, :]).argmin(axis=1)
    hour = (times - water_us[nearest]) / US_PER_H
    assert value.spring_range_m is not None
    assert value.neap_range_m is not None
    spring = (ranges[nearest] - value.neap_range_m) / (value.spring_range_m - value.neap_range_m)
    table = sorted(value.hours, key=lambda h: h.hour)
    hours = np.array([h.hour for h in table], dtype=np.float64)
    towards = np.radians([h.set_true_deg for h in table])
    parts = []
    for turn in (np.sin(towards), np.cos(towards)):
        neap = np.interp(hour, hours, turn * [h.neap_kn for h in table])
        full = np.interp(hour, hours, turn * [h.spring_kn for h in table])
        part = (neap + spring * (full - neap)) * M_S_PER_KN
        parts.append(np.where(np.abs(hour) <= HOURS_ABOUT_HIGH_WATER, part, np.nan))
    return parts[0], parts[1]


def _harmonic(value: TidalStream, at_us: Ints) -> tuple[Floats, Floats]:
    """Return the stream of harmonic constants."""
    if value.zero_at is None:
        return _greenwich(value, at_us)
    hours = (at_us - to_us(value.zero_at)) / US_PER_H
    east, north = np.zeros(len(at_us)), np.zeros(len(at_us))
    for part in value.constants:
        angle = np.radians((part.speed_deg_per_h or 0.0) * hours)
        east += part.east_kn * np.cos(angle - np.radians(part.east_phase_deg))
        north += part.north_kn * np.cos(angle - np.radians(part.north_phase_deg))
    return east * M_S_PER_KN, north * M_S_PER_KN


def _greenwich(value: TidalStream, at_us: Ints) -> tuple[Floats, Floats]:
    """Return the stream of constants as printed: Greenwich phases, node factors, arguments."""
    east = [
        Constant(name=c.name, amplitude=c.east_kn, phase_deg=c.east_phase_deg)
        for c in value.constants
    ]
    north = [
        Constant(name=c.name, amplitude=c.north_kn, phase_deg=c.north_phase_deg)
        for c in value.constants
    ]
    return sums(east, at_us) * M_S_PER_KN, sums(north, at_us) * M_S_PER_KN


def carried_down(height_above_bed_m: float, water_depth_m: float) -> float:
    """Return the share of the surface stream at a height above the bed.

    One-seventh power law with the mean at 0.32 of the depth, 1.07 times the mean above half
    depth (Soulsby, Dynamics of marine sands, 1997, eq. 26; from memory, not checked against
    the page).
    """
    if height_above_bed_m >= 0.5 * water_depth_m:
        return 1.0
    mean_share = (height_above_bed_m / (0.32 * water_depth_m)) ** (1.0 / 7.0)
    return float(mean_share / 1.07)
