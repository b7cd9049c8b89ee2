"""Times as people say them: the hour alone, day and hour, so long ago, or whole.

A time of day is taken on the day that puts it nearest to now, a day of the month in the month that
does; what is worked out this way is shown with its day. What was heard, seen or done can not lie
ahead of now.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from layers.earth.clock import day_hhmm, dtg, parse_time
from layers.earth.errors import InputError

SLACK = timedelta(minutes=5)  # a clock that is a little fast is not a report from the future
DAY = timedelta(days=1)
ACCEPTED = "now, 1044, 1044Z, 10:44, 281044Z, -20 min, or a whole date such as 281044Z NOV 26"
_MONTHS = ["JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC"]
_ZONE = r"(?P<zone>Z|UTC|GMT|ZULU|LOCAL|[A-IK-Y])?"
_CLOCK = re.compile(
    rf"(?:(?P<say>YESTERDAY|TODAY|TOMORROW)\s*,?\s*)?(?:AT\s+)?"
    rf"(?:(?P<h>\d{{2}})(?P<m>\d{{2}})|(?P<h2>\d{{1,2}}):(?P<m2>\d{{2}}))\s*{_ZONE}"
    r"(?:\s+(?P<later>YESTERDAY|TODAY|TOMORROW))?",
    re.ASCII,
)
_DAY = re.compile(
    rf"(?P<d>\d{{1,2}})(?:\s*/?\s*)(?P<h>\d{{2}}):?(?P<m>\d{{2}})\s*{_ZONE}"
    r"(?:\s*(?P<month>[A-Z]{3})[A-Z]*)?(?:\s+(?P<year>\d{4}|\d{2}))?",
    re.ASCII,
)
_DATED = re.compile(  # 1 DEC 0200, as a date is written
    rf"(?P<d>\d{{1,2}})\s*(?P<month>[A-Z]{{3}})[A-Z]*(?:\s*(?P<year>\d{{4}}))?,?\s+(?:AT\s+)?"
    rf"(?P<h>\d{{2}}):?(?P<m>\d{{2}})\s*{_ZONE}",
    re.ASCII,
)
_AGO = re.compile(
    r"(?P<sign>[+-]|IN\s+)?\s*(?:(?P<hours>\d{1,3}(?:\.\d+)?)\s*(?:H|HR|HRS|HOURS?))?\s*"
    r"(?:(?P<minutes>\d{1,4}(?:\.\d+)?)\s*(?:MIN|MINS|MINUTES?|M))?\s*(?P<ago>AGO)?",
    re.ASCII,
)
_SAID = {"YESTERDAY": -1, "TODAY": 0, "TOMORROW": 1}
# letters of the zones, hours that the clock there is ahead of UTC (ACP 121)
ZONES = {letter: hours for hours, letter in enumerate("ABCDEFGHIKLM", 1)}
ZONES |= {letter: -hours for hours, letter in enumerate("NOPQRSTUVWXY", 1)}
ZONES |= {"Z": 0, "UTC": 0, "GMT": 0, "ZULU": 0}


def told_time(
    text: str, now: datetime, where: str = "time", *, ahead: timedelta | None = None
) -> datetime:
    """Return the UTC time that a person said.

    Parameters
    ----------
    text : str
        ``now``, ``1044``, ``1044Z``, ``10:44``, ``281044Z``, ``28 1044Z``, ``-20 min``,
        ``20 min ago``, ``yesterday 1044``, or a whole date and time with its zone.
    now : datetime
        The clock it is said by, UTC.
    where : str
        Field or part of the line, for a refusal.
    ahead : timedelta, optional
        How far it may lie after ``now``; `SLACK` for what was heard, seen or done. None: as far
        as one likes, for what is due or planned.

    Raises
    ------
    InputError
        No time, a zone that is not said, or ahead of now where that can not be; then the day
        before is offered.
    """
    at = _read(text, now, where)
    if ahead is not None and at - now > ahead:
        before = at - DAY
        offered = before if before - now <= ahead else now
        raise InputError(
            f"{day_hhmm(at)} lies ahead of now ({day_hhmm(now)}); {day_hhmm(offered)} meant?",
            where=where,
            accepted=f"a time up to {dtg(now)}",
        )
    return at


def other_day(text: str, at: datetime, now: datetime) -> datetime | None:
    """Return the same hour on the other side of now, where an hour is told without its day.

    ``at`` is the day that was taken; at the hour itself there is no other.
    """
    plain = _plain(text)
    found = _CLOCK.fullmatch(plain)
    if found is None or found["say"] or found["later"] or at == now:
        return None
    return at + (DAY if at < now else -DAY)


def _plain(text: str) -> str:
    return " ".join(text.strip().upper().replace("−", "-").split())


def _read(text: str, now: datetime, where: str) -> datetime:
    plain = _plain(text)
    if plain in ("NOW", ""):
        return now
    if (found := _CLOCK.fullmatch(plain)) is not None:
        return _of_a_day(found, now, text, where)
    if (found := _AGO.fullmatch(plain)) is not None and (found["hours"] or found["minutes"]):
        return _from_now(found, now, text, where)
    if (found := _DAY.fullmatch(plain)) is not None:
        return _of_a_month(found, now, text, where)
    if (found := _DATED.fullmatch(plain)) is not None:
        years = (f"{now.year + n}" for n in (-1, 0, 1))
        if not found["year"] and not found["zone"] and plain.endswith(tuple(years)):
            raise InputError(f"{text[:40]!r}: is that the year, or the hour?", where=where,
                             accepted="1 DEC 0200, 1 DEC 20:26, or 1 DEC 2026 0200")  # fmt: skip
        return _of_a_month(found, now, text, where)
    try:
        return parse_time(text, where)
    except InputError as failure:
        if "zone" in failure.what:
            raise
        raise InputError(f"{text[:40]!r} is not a time", where=where, accepted=ACCEPTED) from None


def _of_a_day(found: re.Match[str], now: datetime, text: str, where: str) -> datetime:
    hours, minutes = int(found["h"] or found["h2"]), int(found["m"] or found["m2"])
    _checked(hours, minutes, text, where)
    shift = _zone(found["zone"], text, where)
    base = datetime(now.year, now.month, now.day, tzinfo=UTC)
    of_day = timedelta(hours=hours, minutes=minutes) - shift
    said = found["say"] or found["later"]
    if said:
        return base + _SAID[said] * DAY + of_day
    # nearest to now; at exactly twelve hours the earlier
    return min((base + n * DAY + of_day for n in (-2, -1, 0, 1, 2)),
               key=lambda at: (abs(at - now), at))  # fmt: skip


def _of_a_month(found: re.Match[str], now: datetime, text: str, where: str) -> datetime:
    hours, minutes, day = int(found["h"]), int(found["m"]), int(found["d"])
    _checked(hours, minutes, text, where)
    shift = _zone(found["zone"], text, where)
    if found["month"] and found["month"] not in _MONTHS:
        raise InputError(f"{text[:40]!r}: {found['month']} is no month", where=where,
                         accepted=ACCEPTED)  # fmt: skip
    wanted = _MONTHS.index(found["month"]) + 1 if found["month"] else None
    years = (now.year - 1, now.year, now.year + 1)
    if found["year"]:
        years = (int(found["year"]) + (2000 if len(found["year"]) == 2 else 0),) * 3
    options = []
    for year in dict.fromkeys(years):
        for month in (wanted,) if wanted else range(1, 13):
            try:
                local = datetime(year, month, day, hours, minutes, tzinfo=UTC)
            except ValueError:  # a day that this month lacks
                continue
            options.append(local - shift)
    if not options:
        raise InputError(f"{text[:40]!r} is not a time", where=where, accepted=ACCEPTED)
    return min(options, key=lambda at: (abs(at - now), at))


def _from_now(found: re.Match[str], now: datetime, text: str, where: str) -> datetime:
    sign = (found["sign"] or "").strip()
    if not sign and not found["ago"]:
        raise InputError(
            f"{text[:40]!r}: ago, or from now?", where=where, accepted="-20 min, or in 20 min"
        )
    span = timedelta(hours=float(found["hours"] or 0), minutes=float(found["minutes"] or 0))
    return now - span if sign == "-" or found["ago"] else now + span


def _checked(hours: int, minutes: int, text: str, where: str) -> None:
    if hours > 23 or minutes > 59:
        raise InputError(f"{text.strip()[:40]!r} is not a time: hours to 23, minutes to 59",
                         where=where, accepted=ACCEPTED)  # fmt: skip


def _zone(said: str | None, text: str, where: str) -> timedelta:
    """Return how far the clock spoken of is ahead of UTC; none said is UTC."""
    if said == "LOCAL":
        raise InputError(
            f"{text.strip()[:40]!r}: which zone is local?", where=where,
            accepted="a time with Z, or with the letter of its zone",
        )  # fmt: skip
    return timedelta(hours=ZONES.get(said or "Z", 0))
