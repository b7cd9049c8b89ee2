"""Of which day an hour is that was said without its day, and how a time is written back."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime, timedelta

from layers.earth.errors import InputError
from layers.earth.said.times import other_day, told_time
from layers.heard.parts import Doubt
from layers.journal.words.heard import Slot

# an hour that is due or planned and lies farther off than this on the nearest day is asked for its
# day: common practice, no source
FAR_BACK, FAR_AHEAD = timedelta(hours=6), timedelta(hours=10)


def which_day(role: Slot, text: str, at: datetime, now: datetime) -> tuple[Doubt, ...]:
    """Ask for the day of an hour that is due or planned, where the nearest lies far off.

    Heard late in the evening, *report due 1214* may be of today or of tomorrow: either lies some
    twelve hours off, and one of them tells of a boat that is overdue since noon.
    """
    other = other_day(text, at, now)
    if not role.ahead or other is None or -FAR_BACK <= at - now <= FAR_AHEAD:
        return ()
    days = sorted((at, other))
    readings = tuple(f"{day:%d%H%M}Z" for day in days)
    about = f"{role.title} {text}: of which day, {' or '.join(readings)}?"
    return (Doubt(about=about, readings=readings),)


def shown_time(at: datetime, now: datetime, ahead: timedelta | None) -> str:
    """Return a time as people write it where that reads back to the same, else in full."""
    with suppress(InputError):
        if told_time(short := f"{at:%d%H%MZ}", now, "time", ahead=ahead) == at:
            return short
    whole = at.isoformat(timespec="auto" if at.second or at.microsecond else "minutes")
    return whole.replace("+00:00", "Z")
