"""Tracks of drifting buoys in CSV: where each was, how warm the sea, which way it was carried.

The form of the data servers of oceanography: a line of heads, often one of units below it, then a
row a fix. A velocity in the file is used; where it brings none, the drift from one fix to the next
stands for the current, and the note says so: a buoy that lost its drogue goes with the wind too.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np

from layers.contract import Feed, Origin, Reading
from layers.contract.heads import UTC_WORDS, parted, squeezed
from layers.contract.rows import Row, TextTable, bare_text, heads_of, refuse, sheet
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.units import M_S_PER_KN
from layers.weather.feeds.lines import add_observation
from layers.weather.forecast.variables import converted

_NAMES = {
    "station": ("id", "platformid", "platform", "buoyid", "drifterid", "wmo", "platformcode"),
    "time": ("time", "timestamp", "datetime", "date_time"),
    "latitude": ("latitude", "lat"),
    "longitude": ("longitude", "lon"),
    "sea_c": ("sst", "temp", "temperature", "seasurfacetemperature"),
    "east_m_s": ("ve", "u", "eastwardvelocity"),
    "north_m_s": ("vn", "v", "northwardvelocity"),
}
_NEEDED = ("station", "time", "latitude", "longitude")
_MEASURED = ("sea_c", "east_m_s", "north_m_s")
_BUOYS = ("platform", "buoy", "drifter", "wmo")
ACCEPTED = "columns ID, time, latitude, longitude, and sst or ve and vn, with their units"
LEAST, MOST = timedelta(minutes=15), timedelta(hours=12)  # between fixes that give a drift


def recognise(head: bytes, name: str) -> float:
    """Return how surely this is the track of a drifting buoy, and none of a ship."""
    heads = heads_of(head)
    known = {name for head in heads for name in (squeezed(head), parted(head)[0])}
    if "mmsi" in known or not all(known & set(_NAMES[need]) for need in _NEEDED):
        return 0.0
    buoy = any(word in head for head in heads for word in _BUOYS)
    return 0.93 if buoy or any(known & set(_NAMES[what]) for what in _MEASURED) else 0.0


@dataclass(slots=True)
class _Track:
    """A file on its way: the units of its columns, and each buoy's last fix."""

    origin: Origin
    reading: Reading
    units: dict[str, str]
    last: dict[str, tuple[datetime, Position]] = field(default_factory=dict)


def read(data: bytes, origin: Origin) -> Reading:
    """Return one observation a fix, or the reason why there is none."""
    reading = Reading()
    try:
        found = sheet(data, origin, names=_NAMES, needed=_NEEDED, accepted=ACCEPTED)
    except InputError as reason:
        refuse(reading, origin, origin.first_line, bare_text(data[:400]), str(reason))
        return reading
    reading.passed_over["column heads"] = 1
    track = _Track(origin, reading, dict(found.units))
    rows = found.rows(reading)
    for row in _below_units(rows, found, track):
        try:
            _row(row, track)
        except InputError as reason:
            refuse(reading, origin, row.line, row.text, str(reason))
    return reading


def _below_units(rows: Iterator[Row], found: TextTable, track: _Track) -> Iterator[Row]:
    first = next(rows, None)
    if first is not None and first.get("latitude").lower().startswith("degree"):
        track.reading.passed_over["column units"] = 1
        for name in found.fields:
            track.units[name] = first.get(name)
    elif first is not None:
        yield first
    for name in _MEASURED:
        if name in found.fields and not track.units.get(name):
            said = f"column {name} states no unit, so that it is left out; accepted: degC, m/s"
            refuse(track.reading, track.origin, found.first_line - 1, name, said)
    yield from rows


def _row(row: Row, track: _Track) -> None:
    station = row.need("station")[:60]
    at = _time(row, track)
    here = Position(
        row.number("latitude", -90.0, 90.0, "degrees"),
        row.number("longitude", -180.0, 360.0, "degrees"),
    )
    fields: dict[str, object] = {
        "station": station,
        "sort": "buoy",
        "latitude_deg": here.latitude_deg,
        "longitude_deg": here.longitude_deg,
        "sea_c": _value(row, "sea_c", track),
    }
    east, north = _value(row, "east_m_s", track), _value(row, "north_m_s", track)
    if east is not None and north is not None:
        fields |= _current(math.hypot(east, north), math.degrees(math.atan2(east, north)))
    elif not {"east_m_s", "north_m_s"} & track.units.keys() and station in track.last:
        fields |= _drift(track.last[station], (at, here))
    if station not in track.last or track.last[station][0] < at:
        track.last[station] = (at, here)
    if not {"sea_c", "current_kn"} & {name for name, value in fields.items() if value is not None}:
        said = "fix at which nothing was measured"
        track.reading.passed_over[said] = track.reading.passed_over.get(said, 0) + 1
        return
    place = {"latitude_deg": here.latitude_deg, "longitude_deg": here.longitude_deg}
    number = row.line - track.origin.first_line + 1
    add_observation(track.reading, track.origin, number, row.text, at, fields, place)


def _time(row: Row, track: _Track) -> datetime:
    text, zone = row.need("time"), track.units.get("time", "").lower()
    if zone not in UTC_WORDS:
        raise InputError(f"its times are in {zone!r}, not UTC", where=row.where, accepted="UTC")
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        at = None
    if at is not None and at.tzinfo is None and zone and len(text) > 10:
        text += "+00:00"
    return parse_time(text, f"{row.where}, time")


def _value(row: Row, name: str, track: _Track) -> float | None:
    text, unit = row.get(name), track.units.get(name, "")
    if not text or not unit or text.lower() == "nan":
        return None
    number = row.number(name, -1e6, 1e6)
    if number <= -999.0:  # "not measured", as these servers write it
        return None
    plain = {"c": "degC", "degree_c": "degC", "degreec": "degC", "k": "K", "degc": "degC"}
    return round(float(converted(name, np.array(number), plain.get(unit.lower(), unit))), 4)


def _drift(before: tuple[datetime, Position], now: tuple[datetime, Position]) -> dict[str, object]:
    """Return the mean drift since the last fix, as the current over that time."""
    gap = now[0] - before[0]
    if not LEAST <= gap <= MOST:
        return {}
    distance_m, towards, _ = between(before[1], now[1])
    found = _current(distance_m / gap.total_seconds(), towards)
    hours = gap.total_seconds() / 3600.0
    note = f"current from its drift over {hours:.1f} h; without a drogue it goes with the wind too"
    return found | {"note": note}


def _current(speed_m_s: float, towards_deg: float) -> dict[str, object]:
    towards = None if math.isnan(towards_deg) or not speed_m_s else round(towards_deg % 360.0, 1)
    return {"current_kn": round(speed_m_s / M_S_PER_KN, 3), "current_set_true_deg": towards}


FEED = Feed(
    key="drifter",
    title="tracks of drifting buoys (CSV)",
    recognise=recognise,
    read=read,
    stale_after_s=43_200.0,
)
