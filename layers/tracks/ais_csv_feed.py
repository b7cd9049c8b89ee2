"""AIS positions in CSV: the two layouts in public archives.

``MMSI, BaseDateTime, LAT, LON, SOG, COG, Heading, VesselName, …`` (the United States coastal
archive) and ``Time, MMSI, Latitude_degrees, Longitude_degrees, COG_degrees, SOG_knots``. A
time without a zone is taken as UTC, which both archives use, and each record says so.
"""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from typing import Any

from layers.contract import Feed, Origin, Reading
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.journal.record import Draft, Reject, file_identity

# What each field is called in the layouts that are read, in lower case.
_NAMES = {
    "mmsi": ("mmsi",),
    "time": ("basedatetime", "time"),
    "latitude": ("lat", "latitude_degrees"),
    "longitude": ("lon", "longitude_degrees"),
    "speed": ("sog", "sog_knots"),
    "course": ("cog", "cog_degrees"),
    "heading": ("heading",),
    "name": ("vesselname",),
    "call_sign": ("callsign",),
    "ship_type": ("vesseltype",),
    "length": ("length",),
    "beam": ("width",),
}
_NEEDED = ("mmsi", "time", "latitude", "longitude")
_NOT_AVAILABLE = {"speed": 102.3, "course": 360.0, "heading": 360.0}


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are AIS positions in CSV."""
    heads = _heads(_text(head.split(b"\n", 1)[0]))
    found = _places(heads)
    return 0.97 if all(need in found for need in _NEEDED) else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return one position a row, and one static report a ship that says its name."""
    reading = Reading()
    text = _text(data)
    first = text.split("\n", 1)[0]
    places = _places(_heads(first))
    missing = [need for need in _NEEDED if need not in places]
    if missing:
        _refuse(reading, origin, 1, first, f"no column for {', '.join(missing)}")
        return reading
    reading.passed_over["column heads"] = 1
    rows = csv.reader(io.StringIO(text), delimiter=_separator(first))
    next(rows)
    said: set[tuple[Any, ...]] = set()
    while True:
        line = origin.first_line + rows.line_num
        try:
            row = next(rows)
        except StopIteration:
            return reading
        except csv.Error as failure:
            _refuse(reading, origin, line, "", f"not a row of CSV ({failure})")
            continue
        if not any(cell.strip() for cell in row):
            continue
        try:
            _row(reading, origin, line, row, places, said)
        except InputError as failure:
            _refuse(reading, origin, line, ",".join(row), str(failure))


FEED = Feed(
    key="ais_csv",
    title="AIS positions in CSV",
    recognise=recognise,
    read=read,
    stale_after_s=86_400.0,
    heading_lines=1,
)


def _row(
    reading: Reading,
    origin: Origin,
    line: int,
    row: list[str],
    places: dict[str, int],
    said: set[tuple[Any, ...]],
) -> None:
    def cell(field: str) -> str:
        place = places.get(field)
        return row[place].strip() if place is not None and place < len(row) else ""

    where = f"{origin.source} line {line}"
    mmsi = cell("mmsi")
    if not (
        len(mmsi) < 10
        and mmsi.isascii()
        and mmsi.isdigit()
        and 1_000_000 <= int(mmsi) <= 999_999_999
    ):
        raise InputError(f"{mmsi[:40]!r} is not an MMSI", where=where, accepted="up to nine digits")
    subject = f"mmsi:{int(mmsi):09d}"
    valid_at, time_from = _time(cell("time"), where)
    payload = {
        "subject": subject,
        "latitude_deg": _angle(cell("latitude"), 90.0, f"{where}, latitude"),
        "longitude_deg": _angle(cell("longitude"), 180.0, f"{where}, longitude"),
        "speed_kn": _optional(cell("speed"), "speed", where),
        "course_true_deg": _optional(cell("course"), "course", where),
        "heading_true_deg": _optional(cell("heading"), "heading", where),
        "time_from": time_from,
        "said_by": "AIS CSV",
    }

    def draft(kind: str, payload: dict[str, Any], place: str) -> Draft:
        return Draft(
            kind=kind,
            payload=payload,
            valid_at=valid_at,
            heard_at=origin.received_at,
            source=origin.source,
            identity=file_identity(origin.digest, place),
        )

    reading.drafts.append(draft("tracks.position", payload, str(line)))
    static = {
        "subject": subject,
        "name": cell("name")[:40] or None,
        "call_sign": cell("call_sign")[:20] or None,
        "ship_type": int(cell("ship_type")[:4]) if cell("ship_type").isdecimal() else None,
        "length_m": _size(cell("length"), 600.0),
        "beam_m": _size(cell("beam"), 130.0),
    }
    key = tuple(static.values())
    if any(value is not None for value in key[1:]) and key not in said:
        said.add(key)
        reading.drafts.append(draft("tracks.static", static, f"{line}static"))


def _time(text: str, where: str) -> tuple[datetime, str]:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return parse_time(text, f"{where}, time"), "file"
    if at.tzinfo is None:
        return at.replace(tzinfo=UTC), "file, no zone stated, taken as UTC"
    return at.astimezone(UTC), "file"


def _angle(text: str, limit: float, where: str) -> float:
    accepted = f"degrees, {-limit:.0f} to {limit:.0f}"
    number = _number(text, where, accepted)
    if not -limit <= number <= limit:
        raise InputError(f"{text!r} is out of range", where=where, accepted=accepted)
    return round(number, 7)


def _optional(text: str, field: str, where: str) -> float | None:
    if not text:
        return None
    number = _number(text, f"{where}, {field}", "a number, or nothing")
    return number if 0.0 <= number < _NOT_AVAILABLE[field] else None


def _size(text: str, most: float) -> float | None:
    try:
        number = float(text)
    except ValueError:
        return None
    return number if 0.0 < number <= most else None


def _number(text: str, where: str, accepted: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = float("nan")
    if number != number or abs(number) == float("inf"):
        raise InputError(f"{text!r} is not a number", where=where, accepted=accepted)
    return number


def _text(data: bytes) -> str:
    try:
        return data.decode("utf-8-sig").replace("\0", "�")
    except UnicodeDecodeError:
        return data.decode("latin-1").replace("\0", "�")


def _separator(first: str) -> str:
    return max((",", ";", "\t"), key=first.count)


def _heads(first: str) -> list[str]:
    cells = first.strip().split(_separator(first))
    return [cell.strip().strip('"').lower() for cell in cells]


def _places(heads: list[str]) -> dict[str, int]:
    return {
        field: heads.index(name)
        for field, names in _NAMES.items()
        for name in names
        if name in heads
    }


def _refuse(reading: Reading, origin: Origin, line: int, text: str, reason: str) -> None:
    reading.rejects.append(Reject(source=origin.source, line=line, text=text[:400], reason=reason))
