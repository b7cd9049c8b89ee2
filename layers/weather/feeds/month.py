"""The month of reports that bear a day and an hour only: from when they came, or asked.

A report just heard is of the last such day. A file may be older than it looks: where its newest
report would be more than `FRESH` old, where its reports would lie weeks apart, or where its own
name bears another date, nobody can tell the month from it, and it asks.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from layers.contract import Origin
from layers.earth.clock import dtg
from layers.earth.errors import InputError

LOOKS_BACK = 62  # days: two months hold every day of a month that there is
FRESH = timedelta(days=7)
APART = timedelta(days=16)  # two reports of one file further apart are of two months, or in doubt
FAST = timedelta(hours=1)  # allowed to a clock that runs ahead
INFERRED = "month and year from the time of receipt"
TOLD = "month and year as told"
_DATE = re.compile(r"(?<!\d)((?:19|20)\d\d)[-_.]?(0[1-9]|1[0-2])[-_.]?([0-2]\d|3[01])(?!\d{7})")


class Months:
    """The dates of one file or piece of a stream whose reports name no month."""

    def __init__(self, origin: Origin) -> None:
        self.origin = origin
        self._first: datetime | None = None
        self._last: datetime | None = None

    @property
    def words(self) -> str:
        """Where the month comes from, as it stands in each record."""
        return TOLD if self.origin.recorded_at else INFERRED

    def dated(self, day: int, hour: int, minute: int) -> datetime:
        """Return when a report is of: the day nearest before it came, or nearest to what was told.

        Raises
        ------
        InputError
            No such day.
        """
        told = self.origin.recorded_at
        near = self.origin.received_at + FAST if told is None else told
        days = range(LOOKS_BACK) if told is None else sorted(range(-31, 32), key=abs)
        for back in days:
            date = (near - timedelta(days=back)).date()
            if date.day != day:
                continue
            try:
                at = datetime(date.year, date.month, day, hour, minute, tzinfo=UTC)
            except ValueError:
                break
            if told is None and at > near:
                continue
            self._first = min(self._first or at, at)
            self._last = max(self._last or at, at)
            return at
        raise InputError(
            f"day {day:02d} at {hour:02d}{minute:02d}Z is not a time before the receipt",
            accepted="a day of the month, 00 to 23 hours, 00 to 59 minutes",
        )

    def asks(self) -> str:
        """Return what a person has to say before these reports may be kept; empty where nothing."""
        here, first, last = self.origin, self._first, self._last
        if here.recorded_at or here.stream or here.live or first is None or last is None:
            return ""
        why = ""
        named = _named(here.source, here.received_at)
        if named is not None and abs(named - last) > FRESH:
            why = f"its name says {named:%d %b %Y}, and by when it came it would end {dtg(last)}"
        elif last - first > APART:
            why = f"by when it came it would run from {dtg(first)} to {dtg(last)}"
        elif here.received_at - last > FRESH:
            why = f"by when it came its newest report would be of {dtg(last)}"
        if not why:
            return ""
        return (
            f"when was this recorded? Its reports name no month: {why}; say the time and read it "
            "again"
        )


def _named(source: str, received_at: datetime) -> datetime | None:
    """Return the day that a file's name bears, None where it bears none that has been."""
    found = _DATE.search(source)
    if found is None:
        return None
    try:
        at = datetime(int(found[1]), int(found[2]), int(found[3]), 12, tzinfo=UTC)
    except ValueError:
        return None
    return at if at <= received_at + timedelta(days=1) else None
