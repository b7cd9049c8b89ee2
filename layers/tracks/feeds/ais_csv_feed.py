"""AIS positions in CSV: the two layouts in public archives.

``MMSI, BaseDateTime, LAT, LON, SOG, COG, Heading, VesselName, …`` (the United States coastal
archive) and ``Time, MMSI, Latitude_degrees, Longitude_degrees, COG_degrees, SOG_knots``. A
time without a zone is taken as UTC, which both archives use, and each record says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from layers.contract import Feed, Origin, Reading
from layers.contract.cells import plain_number
from layers.contract.rows import Row, heads_of, read_rows
from layers.earth.clock import parse_time, to_us
from layers.earth.errors import InputError
from layers.journal.record import Draft
from layers.tracks.feeds.same_fix import fix_identity, said_identity

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
ACCEPTED = "columns MMSI, BaseDateTime or Time, LAT and LON; SOG, COG, Heading and more if known"


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are AIS positions in CSV."""
    heads = set(heads_of(head))
    return 0.97 if all(heads & set(_NAMES[need]) for need in _NEEDED) else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return one position a row, and one static report a ship that says its name."""
    said: set[str] = set()
    return read_rows(
        data,
        origin,
        lambda row: _drafts(row, origin, said),
        names=_NAMES,
        needed=_NEEDED,
        accepted=ACCEPTED,
    )


FEED = Feed(
    key="ais_csv",
    title="AIS positions in CSV",
    recognise=recognise,
    read=read,
    stale_after_s=86_400.0,
    heading_lines=1,
)


def _drafts(row: Row, origin: Origin, said: set[str]) -> Iterator[Draft]:
    mmsi = row.get("mmsi")
    if not (
        len(mmsi) < 10
        and mmsi.isascii()
        and mmsi.isdigit()
        and 1_000_000 <= int(mmsi) <= 999_999_999
    ):
        raise InputError(
            f"{mmsi[:40]!r} is not an MMSI", where=row.where, accepted="up to nine digits"
        )
    subject = f"mmsi:{int(mmsi):09d}"
    valid_at, time_from = _time(row.get("time"), row.where)
    payload = {
        "subject": subject,
        "latitude_deg": round(row.number("latitude", -90.0, 90.0, "degrees"), 7),
        "longitude_deg": round(row.number("longitude", -180.0, 180.0, "degrees"), 7),
        "speed_kn": _optional(row, "speed"),
        "course_true_deg": _optional(row, "course"),
        "heading_true_deg": _optional(row, "heading"),
        "time_from": time_from,
        "said_by": "AIS CSV",
    }
    yield _draft(origin, "tracks.position", payload, valid_at,
                 fix_identity(subject, to_us(valid_at), payload))  # fmt: skip
    static = {
        "subject": subject,
        "name": row.get("name")[:40] or None,
        "call_sign": row.get("call_sign")[:20] or None,
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


def _time(text: str, where: str) -> tuple[datetime, str]:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return parse_time(text, f"{where}, time"), "file"
    if at.tzinfo is None:
        return at.replace(tzinfo=UTC), "file, no zone stated, taken as UTC"
    return at.astimezone(UTC), "file"


def _optional(row: Row, field: str) -> float | None:
    number = row.maybe(field, -1e9, 1e9)
    return number if number is not None and 0.0 <= number < _NOT_AVAILABLE[field] else None


def _size(text: str, most: float) -> float | None:
    try:
        number = plain_number(text)
    except ValueError:
        return None
    return number if 0.0 < number <= most else None
