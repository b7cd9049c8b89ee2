"""Dates in figures alone: 31/12/2026 is the last of December, 03/04/2026 may be two days.

Which figure is the day is told by one that is over 12, anywhere in the same file; where none is,
it is asked, unless something says about when it was.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta, timezone
from typing import Literal

from layers.earth.errors import InputError

Order = Literal["day first", "month first", ""]
PATTERN = (
    r"\d{1,2}[/.-]\d{1,2}[/.-]\d{4}[T ,]{1,2}\d{1,2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?"
    r"(?: ?(?:Z|UTC|GMT|[+-]\d{2}:?\d{2}))?"
)
_WHOLE = re.compile(
    r"^(?P<a>\d{1,2})[/.-](?P<b>\d{1,2})[/.-](?P<year>\d{4})[T ,]{1,2}(?P<hour>\d{1,2}):"
    r"(?P<minute>\d{2})(?::(?P<second>\d{2})(?:\.(?P<part>\d{1,6}))?)?"
    r" ?(?P<zone>Z|UTC|GMT|[+-]\d{2}:?\d{2})?$"
)
ASKED = (
    "its dates can be read two ways ({text}: the day first, or the month); say about when it was "
    "recorded and read it again"
)


def in_figures(text: str) -> bool:
    """Return whether a time is written so."""
    return _WHOLE.match(text) is not None


def order_of(texts: Iterable[str]) -> Order:
    """Return which figure is the day, by those of a file that can be read one way only.

    Raises
    ------
    InputError
        Some are only possible the one way, others only the other.
    """
    days, months = "", ""
    for text in texts:
        found = _WHOLE.match(text)
        if found is None:
            continue
        if int(found["a"]) > 12:
            days = days or text
        elif int(found["b"]) > 12:
            months = months or text
    if days and months:
        raise InputError(
            f"{days!r} has the day first, {months!r} the month", accepted="one order in one file"
        )
    return "day first" if days else "month first" if months else ""


def two_ways(text: str) -> bool:
    """Return whether a date in figures can be read as two different days."""
    found = _WHOLE.match(text)
    return (
        found is not None
        and found["a"] != found["b"]
        and max(int(found["a"]), int(found["b"])) < 13
    )


def read_figures(text: str, order: Order, near: datetime | None = None) -> tuple[datetime, bool]:
    """Return the time, UTC, and whether the text itself says its zone.

    Parameters
    ----------
    text : str
        A time that `in_figures` knows.
    order : {"day first", "month first", ""}
        As `order_of` found it; ``""``: the reading that lies nearest to ``near`` is taken.
    near : datetime, optional
        About when it was; needed only where two readings are left.

    Raises
    ------
    InputError
        No day of the calendar, or two of them and nothing that tells which.
    """
    found = _WHOLE.match(text)
    if found is None:
        raise InputError(f"{text!r} is not a time in figures")
    first, second = int(found["a"]), int(found["b"])
    pairs = {"day first": [(first, second)], "month first": [(second, first)]}.get(
        order, [(first, second), (second, first)]
    )
    read = [at for day, month in pairs if (at := _made(found, day, month)) is not None]
    if not read:
        raise InputError(f"{text!r} is not a day of the calendar")
    if len(set(read)) > 1 and near is None:
        raise InputError(ASKED.format(text=text))
    at = read[0] if near is None else min(read, key=lambda one: abs(one - near))
    return at, found["zone"] is not None


def _made(found: re.Match[str], day: int, month: int) -> datetime | None:
    zone = found["zone"] or "Z"
    offset = timedelta(0)
    if zone[0] in "+-":
        hours, minutes = int(zone[1:3]), int(zone[-2:])
        offset = timedelta(hours=hours, minutes=minutes) * (-1 if zone[0] == "-" else 1)
    try:
        return datetime(
            int(found["year"]), month, day, int(found["hour"]), int(found["minute"]),
            int(found["second"] or 0), int((found["part"] or "0").ljust(6, "0")),
            tzinfo=timezone(offset),
        ).astimezone(UTC)  # fmt: skip
    except ValueError:
        return None
