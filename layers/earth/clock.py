"""Time: UTC only, stored as integer microseconds, shown as date-time groups.

No function here reads the clock; the caller brings the time.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from layers.earth.errors import InputError

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
US_PER_H, US_PER_MIN = 3_600e6, 60e6
MICROSECOND = timedelta(microseconds=1)
ACCEPTED_TIMES = (
    "a time with its zone, such as 2027-03-15T23:40Z, 2027-03-15 23:40:00+00:00 "
    "or the date-time group 152340Z MAR 27"
)
_MONTHS = ("JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC")
_DTG = re.compile(r"^(\d{2})(\d{2})(\d{2})Z\s*([A-Z]{3})\s*(\d{2}|\d{4})$")


def utc(at: datetime, where: str = "time") -> datetime:
    """Return ``at`` in UTC; refuse a time without a zone."""
    if at.tzinfo is None:
        raise InputError(f"{at.isoformat()} has no time zone", where=where, accepted=ACCEPTED_TIMES)
    return at.astimezone(UTC)


def to_us(at: datetime) -> int:
    """Return integer microseconds since 1970-01-01T00:00Z, exactly."""
    return (utc(at) - EPOCH) // MICROSECOND


def from_us(at_us: int) -> datetime:
    """Return the UTC time of integer microseconds since 1970."""
    return EPOCH + timedelta(microseconds=int(at_us))


def parse_time(text: str, where: str = "time") -> datetime:
    """Return the UTC time that a person or a feed wrote.

    Parameters
    ----------
    text : str
        ISO 8601 with a zone, or a date-time group (ACP 121) in zone Z.

    Raises
    ------
    InputError
        No zone, or not a time.
    """
    trimmed = text.strip()
    group = _DTG.match(trimmed.upper())
    try:
        if group:
            day, hour, minute, month, year = group.groups()
            full_year = int(year) if len(year) == 4 else 2000 + int(year)
            return datetime(
                full_year, _MONTHS.index(month) + 1, int(day), int(hour), int(minute), tzinfo=UTC
            )
        at = datetime.fromisoformat(trimmed.upper())  # a small z is UTC too (RFC 3339)
    except ValueError:
        raise InputError(f"{text!r} is not a time", where=where, accepted=ACCEPTED_TIMES) from None
    return utc(at, where)


def iso(at: datetime) -> str:
    """Return a time as files and records write it: ``2027-03-13T12:00:00Z``."""
    return at.isoformat().replace("+00:00", "Z")


def iso_s(at: datetime) -> str:
    """Return a time as files write it, to the whole second."""
    return at.isoformat(timespec="seconds").replace("+00:00", "Z")


def dtg(at: datetime) -> str:
    """Return the date-time group, e.g. ``152340Z MAR 27`` (ACP 121)."""
    t = utc(at)
    return f"{t:%d%H%M}Z {_MONTHS[t.month - 1]} {t:%y}"


def hhmm(at: datetime) -> str:
    """Return hours and minutes, e.g. ``2340Z``."""
    return f"{utc(at):%H%M}Z"


def day_hhmm(at: datetime) -> str:
    """Return day, hours and minutes, e.g. ``152340Z``: a time that may be another day's."""
    return f"{utc(at):%d%H%M}Z"


def clock_words(at: datetime, now: datetime) -> str:
    """Return hours and minutes, with the day where it is not today's."""
    return hhmm(at) if utc(at).date() == utc(now).date() else day_hhmm(at)


def duration_words(span: timedelta) -> str:
    """Return a duration as it is said: ``35 min``, ``7 h 05``, ``2 d 14 h``.

    A negative duration carries a minus sign in front.
    """
    minutes = round(abs(span.total_seconds()) / 60.0)
    sign = "−" if span.total_seconds() < 0 and minutes else ""
    days, rest = divmod(minutes, 1440)
    hours, left = divmod(rest, 60)
    if days:
        return f"{sign}{days} d {hours} h"
    if hours:
        return f"{sign}{hours} h {left:02d}"
    return f"{sign}{left} min"


def relative_words(at: datetime, now: datetime) -> str:
    """Return ``in 35 min``, ``7 h 05 ago`` or ``now``."""
    gap = at - now
    if abs(gap) < timedelta(seconds=30):
        return "now"
    words = duration_words(abs(gap))
    return f"in {words}" if gap > timedelta(0) else f"{words} ago"
