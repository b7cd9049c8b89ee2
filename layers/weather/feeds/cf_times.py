"""Times of CF files: numbers since a reference time, which may stand in a zone of its own."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any

from layers.earth.arrays import Array
from layers.earth.clock import to_us
from layers.earth.errors import InputError

CALENDARS = ("standard", "gregorian", "proleptic_gregorian")  # CF 4.4.1: those of real dates
UNREAL = ("noleap", "365_day", "all_leap", "366_day", "360_day", "none")
# CF 1.11, 4.4: "seconds since 1992-10-8 15:15:42.5 -6:00". The decoder passes over what it does
# not understand behind the time, a zone written so among it.
_SINCE = re.compile(
    r"\s*(?P<before>\w+\s+since\s+[+-]?\d+(-\d{1,2}(-\d{1,2})?)?"
    r"([T\s]+\d{1,2}(:\d{1,2}(:\d{1,2}(\.\d*)?)?)?)?)"
    r"\s*(?P<zone>Z|UTC|GMT|(?P<sign>[+-])(?P<hours>\d{1,2})(:?(?P<minutes>\d{2}))?)?\s*",
    re.IGNORECASE,
)


def moments(numbers: Array, units: str, calendar: str) -> list[int]:
    """Return times in microseconds UTC; a reference before our calendar began is no hindrance.

    Raises
    ------
    InputError
        A calendar without real dates, or a unit, a zone or numbers that are no times.
    """
    import netCDF4

    if calendar.lower() not in CALENDARS:
        fault = "has no real dates" if calendar.lower() in UNREAL else "is not read"
        said = f"its times are in the calendar {calendar[:30]!r}, which {fault}"
        raise InputError(said, accepted=", ".join(CALENDARS))
    told = _SINCE.fullmatch(units)
    try:
        if told is None:
            raise ValueError
        dates: Any = netCDF4.num2date(numbers, told["before"], calendar=calendar.lower())
        found = [datetime.fromisoformat(date.isoformat()) for date in dates]
        ahead = timedelta(hours=int(told["hours"] or 0), minutes=int(told["minutes"] or 0))
        ahead = -ahead if told["sign"] == "-" else ahead
        return [to_us(date.replace(tzinfo=UTC) - ahead) for date in found]
    except (ValueError, OverflowError, TypeError):
        meant = "hours since 2027-03-16T06:00:00Z, or the like"
        raise InputError("its times cannot be read", where=units[:80], accepted=meant) from None
