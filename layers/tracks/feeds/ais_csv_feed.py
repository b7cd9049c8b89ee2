"""AIS positions in CSV: whatever the columns of an export are called, and in their units.

Known are the heads of the public archives (``MMSI, BaseDateTime, LAT, LON, SOG, COG, …``;
``# Timestamp, Type of mobile, MMSI, Latitude, Longitude, …``; ``sourcemmsi, speedoverground, t,
…``) and the plain words for the same. A unit beside a name is honoured (``sog (m/s)``). A time
without a zone is taken as UTC, which the archives use, and each record says so; seconds since 1970
and dates in figures are times too, and where a date can be two days it is asked.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import islice
from typing import Any

from layers.contract import Feed, Origin, Reading
from layers.contract.cells import plain_number
from layers.contract.heads import (
    DEGREES,
    EAST,
    KNOTS,
    NORTH,
    UTC_WORDS,
    parted,
    squeezed,
    units_below,
)
from layers.contract.rows import MISSING, NoFact, Row, bare_text, heads_of, read_rows, refuse, sheet
from layers.earth.clock import parse_time, to_us
from layers.earth.errors import InputError
from layers.earth.said import figure_dates
from layers.earth.said.parse import parse_position
from layers.journal.record import Draft
from layers.tracks.feeds.ais_drafts import NO_POSITION
from layers.tracks.feeds.log_dates import FIRST
from layers.tracks.feeds.same_fix import fix_identity, said_identity

# What each field is called in the layouts that are read; small letters and figures are compared.
_NAMES = {
    "mmsi": ("mmsi", "sourcemmsi", "userid", "mmsinumber"),
    "time": ("basedatetime", "time", "timestamp", "datetime", "t", "msgtime", "date_time",
             "time_stamp", "epoch", "unixtime", "received", "dateandtime"),
    "latitude": ("lat", "latitude"),
    "longitude": ("lon", "long", "longitude", "lng"),
    "day": ("date", "utcdate", "dateutc"),
    "north_south": ("ns", "nsindicator", "latns", "latdir", "lathemisphere", "northsouth",
                    "latitudehemisphere", "latitudedirection"),
    "east_west": ("ew", "ewindicator", "lonew", "londir", "lonhemisphere", "eastwest",
                  "longitudehemisphere", "longitudedirection"),
    "minutes": ("latmin", "lonmin", "latminutes", "lonminutes", "latitudemin", "longitudemin",
                "latitudeminutes", "longitudeminutes"),
    "speed": ("sog", "speed", "speedoverground"),
    "course": ("cog", "course", "courseoverground"),
    "heading": ("heading", "trueheading", "hdg"),
    "name": ("vesselname", "name", "shipname"),
    "call_sign": ("callsign",),
    "ship_type": ("vesseltype", "shiptype"),
    "length": ("length",),
    "beam": ("width", "beam"),
    "mobile": ("typeofmobile",),
}  # fmt: skip
_NEEDED = ("mmsi", "time", "latitude", "longitude")
_UNITS = {"speed": KNOTS, "course": DEGREES, "heading": DEGREES,
          "latitude": DEGREES | NORTH, "longitude": DEGREES | EAST}  # fmt: skip
_EPOCH = re.compile(r"^1\d{9}(\.\d+)?$|^1\d{12}$")  # seconds or milliseconds since 1970
_HALF_DAY = re.compile(
    r"^(?P<day>\S+[ T])(?P<hour>\d{1,2})(?P<rest>:\d{2}(?::\d{2}(?:\.\d{1,6})?)?)"
    r" ?(?P<half>[AaPp])\.?[Mm]\.?$"
)
_HOUR = re.compile(r"^\d{1,2}:\d{2}")
# ITU-R M.585: 00 begins the identity of a station ashore, 99 that of an aid to navigation
_NO_SHIP = {"Base Station": "a station ashore", "AtoN": "an aid to navigation"}
_NO_SHIPS = {"00": "Base Station", "99": "AtoN"}
# "not available" before it was scaled (ITU-R M.1371), and as many write it
_NINES = (511.0, 1023.0, 3600.0, 999.0, 999.9, 9999.0)
_NOT_AVAILABLE = {"speed": 102.3, "course": 360.0, "heading": 360.0}
_AIRCRAFT_KN = 1023.0  # message 9 counts whole knots; ITU-R M.585: 111 begins an aircraft's number
_UNSAID = frozenset({"unknown", "undefined"})  # what an archive writes where nothing was said
ACCEPTED = "columns MMSI, Time, Latitude and Longitude; SOG, COG, Heading and more if known"


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are AIS positions in CSV."""
    heads = {name for head in heads_of(head) for name in (squeezed(head), parted(head)[0])}
    known = all(heads & {squeezed(alias) for alias in _NAMES[need]} for need in _NEEDED)
    return 0.97 if known else 0.0


@dataclass(slots=True)
class _Table:
    """What holds for every row of one table: its units, its clock, which figure is the day."""

    origin: Origin
    scale: Mapping[str, float]
    zone_said: bool
    order: figure_dates.Order
    near: datetime | None
    units_line: int  # of the row below the heads that holds their units, else 0
    fields: Collection[str]
    left_out: Counter[str] = field(default_factory=Counter)


def read(data: bytes, origin: Origin) -> Reading:
    """Return one position a row, and one static report a ship that says its name."""
    said: set[str] = set()
    reading = Reading()
    try:
        table, asks = _table(data, origin, reading)
    except InputError as reason:
        refuse(reading, origin, origin.first_line, bare_text(data[:400]), str(reason))
        return reading
    found = read_rows(
        data,
        origin,
        lambda row: _drafts(row, table, said),
        names=_NAMES,
        needed=_NEEDED,
        accepted=ACCEPTED,
    )
    found.rejects[:0] = reading.rejects
    found.asks = asks
    found.doubts = dict(table.left_out)
    return found


def _table(data: bytes, origin: Origin, reading: Reading) -> tuple[_Table, str]:
    """Return what holds for every row, and what has to be asked before one is recorded.

    Raises
    ------
    InputError
        Places in a unit that is not known, times of a place's own clock, days and months mixed.
    """
    found = sheet(data, origin, names=_NAMES, needed=_NEEDED, accepted=ACCEPTED)
    if "minutes" in found.fields:
        said = "its places stand in degrees and minutes of two columns"
        raise InputError(said, where=origin.source, accepted="one column each: 57.1 or 5706.0N")
    first = next(iter(found.rows(Reading())), None)
    stated = dict(found.units)
    units_line = _units_below(first, stated)
    scale: dict[str, float] = {}
    for name, units in _UNITS.items():
        unit = stated.get(name, "")
        if unit in units:
            scale[name] = units[unit]
            continue
        said = f"the unit {unit!r} of the column of {name} is not known"
        if name in _NEEDED:
            raise InputError(said, where=origin.source, accepted="degrees")
        accepted = "kn, m/s, km/h, mph or 0.1 kn" if name == "speed" else "degrees"
        refuse(reading, origin, found.first_line - 1, unit,
               f"{said}, so that it is left out; accepted: {accepted}")  # fmt: skip
    clock = stated.get("time", "")
    if clock not in UTC_WORDS:
        raise InputError(f"its times are in {clock.upper()!r}, not UTC", where=origin.source,
                         accepted="UTC, or each time with its offset: 10:00+02:00")  # fmt: skip
    table = _Table(origin, scale, bool(clock), "", origin.recorded_at, units_line, found.fields)
    rows = (row for row in found.rows(Reading()) if row.line != units_line)
    times = [_said_time(row) for row in islice(rows, 1)]
    if times and figure_dates.in_figures(times[0]):
        times += [_said_time(row) for row in rows]
    table.order = figure_dates.order_of(times)
    if table.near is None and origin.stream:
        table.near = origin.received_at
    twofold = next((text for text in times if figure_dates.two_ways(text)), "")
    if not twofold or table.order or table.near:
        return table, ""
    table.near = origin.received_at  # only for the drafts that wait with the question
    return table, f"when was this recorded? {figure_dates.ASKED.format(text=twofold)}"


def _units_below(first: Row | None, stated: dict[str, str]) -> int:
    """Take the units that stand in a row of their own below the heads; return its line, else 0."""
    if first is None or not units_below(first.cells.values()):
        return 0
    for name, unit in first.cells.items():
        if not stated.get(name) and unit.lower() not in MISSING:
            stated[name] = unit.lower().replace(" ", "")
    return first.line


FEED = Feed(
    key="ais_csv",
    title="AIS positions in CSV",
    recognise=recognise,
    read=read,
    stale_after_s=86_400.0,
    heading_lines=1,
)


def _drafts(row: Row, table: _Table, said: set[str]) -> Iterator[Draft]:
    if row.line == table.units_line:
        raise NoFact("column units")
    origin, mmsi = table.origin, row.get("mmsi").removesuffix(".0")
    if not (
        len(mmsi) < 10
        and mmsi.isascii()
        and mmsi.isdigit()
        and 1_000_000 <= int(mmsi) <= 999_999_999
    ):
        raise InputError(
            f"{mmsi[:40]!r} is not an MMSI", where=row.where, accepted="up to nine digits"
        )
    mobile = _NO_SHIPS.get(f"{int(mmsi):09d}"[:2], row.get("mobile"))
    if mobile in _NO_SHIP:
        raise NoFact(f"AIS position of {_NO_SHIP[mobile]}, not of a ship")
    subject = f"mmsi:{int(mmsi):09d}"
    valid_at, time_from = _time(_said_time(row), row.where, table)
    if valid_at < FIRST:
        raise InputError(f"a time of {valid_at.year}, from a clock that is not set",
                         where=f"{row.where}, time", accepted=f"{FIRST.year} or later")  # fmt: skip
    latitude, longitude = _place(row, table)
    if latitude == 91.0 or longitude == 181.0:  # ITU-R M.1371: not available
        raise NoFact(NO_POSITION)
    if not (-90.0 <= latitude <= 90.0 and -180.0 <= longitude <= 180.0):
        raise InputError(f"{latitude:g}, {longitude:g} is out of range", where=row.where,
                         accepted="-90 to 90 and -180 to 180 degrees")  # fmt: skip
    payload = {
        "subject": subject,
        "latitude_deg": round(latitude, 7),
        "longitude_deg": round(longitude, 7),
        "speed_kn": _optional(
            row, "speed", table, _AIRCRAFT_KN if int(mmsi) // 10**6 == 111 else 0.0
        ),
        "course_true_deg": _optional(row, "course", table),
        "heading_true_deg": _optional(row, "heading", table),
        "time_from": time_from,
        "said_by": "AIS CSV",
    }
    yield _draft(origin, "tracks.position", payload, valid_at,
                 fix_identity(subject, to_us(valid_at), payload))  # fmt: skip
    static = {
        "subject": subject,
        "name": _text(row, "name", 40),
        "call_sign": _text(row, "call_sign", 20),
        "ship_type": int(row.get("ship_type")[:4]) if row.get("ship_type").isdecimal() else None,
        "length_m": _size(row.get("length"), 600.0),
        "beam_m": _size(row.get("beam"), 130.0),
    }
    identity = said_identity("tracks.static", subject, to_us(valid_at), static)
    if any(value is not None for value in list(static.values())[1:]) and identity not in said:
        said.add(identity)
        yield _draft(origin, "tracks.static", static, valid_at, identity)


def _draft(
    origin: Origin, kind: str, payload: dict[str, Any], at: datetime, identity: str
) -> Draft:
    return origin.draft(kind, payload, at, identity=identity)


def _place(row: Row, table: _Table) -> tuple[float, float]:
    """Return latitude and longitude, degrees, with the letters of their hemispheres."""
    written = [row.get("latitude"), row.get("longitude")]
    if any(map(_has_hemisphere, written)) and table.scale["latitude"] == 1.0:
        place = parse_position(" ".join(written), row.where)
        return place.latitude_deg, place.longitude_deg
    found = []
    for name, most, letters in (("latitude", 91.0, "NS"), ("longitude", 181.0, "EW")):
        scale = table.scale[name]
        angle = row.number(name, -most / scale, most / scale, "degrees") * scale
        column = {"latitude": "north_south", "longitude": "east_west"}[name]
        if column in table.fields and angle != most:
            letter = row.need(column, f"{letters[0]} or {letters[1]}").upper()[:1]
            if letter not in letters or angle < 0.0:
                said = f"{row.get(name)} {row.get(column)}"
                accepted = f"degrees without a sign, and {letters[0]} or {letters[1]}"
                raise InputError(said, where=f"{row.where}, {name}", accepted=accepted)
            angle = -angle if letter in "SW" else angle
        found.append(angle)
    return found[0], found[1]


def _has_hemisphere(text: str) -> bool:
    """Whether a figure has its hemisphere's letter before or behind it."""
    return bool(set("NSEW") & {text[:1].upper(), text[-1:].upper()}) and any(
        letter.isdigit() for letter in text
    )


def _said_time(row: Row) -> str:
    """Return when a row says it was, its day and its hour in one, by the clock of 24 hours."""
    day, text = row.get("day"), row.get("time")
    return _whole_day(f"{day} {text}" if day and _HOUR.match(text) else text)


def _whole_day(text: str) -> str:
    """Return a time of the 12-hour clock in that of 24; any other as it is."""
    found = _HALF_DAY.match(text)
    if found is None or not 1 <= int(found["hour"]) <= 12:
        return text
    hour = int(found["hour"]) % 12 + (12 if found["half"].upper() == "P" else 0)
    return f"{found['day']}{hour:02d}{found['rest']}"


def _time(text: str, where: str, table: _Table) -> tuple[datetime, str]:
    zone = "file" if table.zone_said else "file, no zone stated, taken as UTC"
    if _EPOCH.match(text):
        return datetime.fromtimestamp(float(text) / (1e3 if len(text) == 13 else 1.0), UTC), "file"
    if figure_dates.in_figures(text):
        at, said = figure_dates.read_figures(text, table.order, table.near)
        return at, "file" if said else zone
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return parse_time(text, f"{where}, time"), "file"
    if len(text) <= 10:
        raise InputError(f"{text!r} is a day without an hour", where=f"{where}, time")
    if at.tzinfo is None:
        return at.replace(tzinfo=UTC), zone
    return at.astimezone(UTC), "file"


def _text(row: Row, name: str, most: int) -> str | None:
    said = row.get(name)[:most]
    return None if said.lower() in _UNSAID else said or None


def _optional(row: Row, name: str, table: _Table, most: float = 0.0) -> float | None:
    scale, most = table.scale.get(name), most or _NOT_AVAILABLE[name]
    number = row.maybe(name, -1e9, 1e9)
    if scale is None or number is None:
        return None
    number = round(number * scale, 4) if scale != 1.0 else number
    if 0.0 <= number < most and number != _NOT_AVAILABLE[name]:
        return number
    if number > 0.0 and number not in (_NOT_AVAILABLE[name], *_NINES):
        table.left_out[f"{name} beyond {most:g}, which none is: left out"] += 1
    return None


def _size(text: str, most: float) -> float | None:
    try:
        number = plain_number(text)
    except ValueError:
        return None
    return number if 0.0 < number <= most else None
