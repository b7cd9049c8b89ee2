"""One observation from text: the draft or the reject that a line becomes."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import PurePath
from typing import Any

from pydantic import ValidationError

from layers.contract import Origin
from layers.earth.errors import InputError
from layers.journal.record import Draft, Reject, file_identity
from layers.journal.words.models import refused
from layers.weather.model import NUMBERS, Observation

_STATION = re.compile(r"(?<![0-9A-Za-z])(?=[0-9A-Za-z]*\d)([0-9A-Za-z]{5})(?![0-9A-Za-z])")
LONGEST_KEPT = 400


def station_of_source(source: str) -> str:
    """Return the station that a buoy file's name or address speaks of.

    Buoy text carries no station: its file name does (``44013.txt``), as five letters and
    digits with at least one digit; failing that, the whole stem is the name.
    """
    found = _STATION.search(source)
    return (found.group(1) if found else PurePath(source).stem or source).upper()[:60]


def reject(origin: Origin, number: int | None, text: str, reason: str) -> Reject:
    """Return a reject whose line number counts from the start of the file."""
    line = None if number is None else origin.first_line + number - 1
    return Reject(source=origin.source, line=line, text=text[:LONGEST_KEPT], reason=reason)


def observation(
    origin: Origin, at: datetime, fields: Mapping[str, Any], *, feed: str, raw: str
) -> Draft:
    """Return the draft of one observation.

    A polled buoy file holds every earlier row again, one place further down: the identity is
    therefore the station and the row's own text, not its place in the file.

    Raises
    ------
    InputError
        A value out of the bounds of its field, or nothing measured at all.
    """
    payload = {name: value for name, value in fields.items() if value is not None}
    measured = [n for n in NUMBERS if n in payload and n not in _NOT_MEASURED]
    if not measured:
        raise InputError("nothing was measured on this line")
    try:
        Observation.model_validate(payload)
    except ValidationError as failure:
        raise refused(failure) from None
    same = hashlib.sha256(f"{feed} {payload['station']} {raw.strip()}".encode()).hexdigest()
    return Draft(
        kind="weather.observation",
        payload=payload,
        valid_at=at,
        heard_at=origin.received_at,
        source=origin.source,
        identity=file_identity(same, "row"),
    )


_NOT_MEASURED = frozenset({"latitude_deg", "longitude_deg", "sea_depth_m"})


def day_before(received_at: datetime, day: int, hour: int, minute: int) -> datetime:
    """Return the last time with this day of the month that is not after the receipt.

    Groups of day, hour and minute name no month: it follows from when they were received, an
    hour being allowed for a clock that runs fast.

    Raises
    ------
    InputError
        No such day within the 62 days before.
    """
    latest = received_at + timedelta(hours=1)
    for back in range(62):
        date = (latest - timedelta(days=back)).date()
        if date.day != day:
            continue
        try:
            at = datetime(date.year, date.month, day, hour, minute, tzinfo=received_at.tzinfo)
        except ValueError:
            break
        if at <= latest:
            return at
    raise InputError(
        f"day {day:02d} at {hour:02d}{minute:02d}Z is not a time before the receipt",
        accepted="a day of the month, 00 to 23 hours, 00 to 59 minutes",
    )
