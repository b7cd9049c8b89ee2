"""Of which day an hour is that was said without its day."""

from __future__ import annotations

from datetime import datetime, timedelta

from layers.earth.said.times import other_day
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
