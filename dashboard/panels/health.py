"""How old what is shown is: the feed reader, the computing process, and each feed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from dashboard import settings
from dashboard.cache import opened, pictures
from dashboard.faults import altered_now, found_now
from dashboard.panels.feeds import rooms
from dashboard.panels.text import line, words
from dashboard.view import Seen
from layers import alive
from layers.earth.clock import duration_words
from layers.feeds.state import FeedState, read_states, stale_after_s
from layers.journal.integrity.fault import Fault
from layers.journal.words.stations import station_names


def sentences(seen: Seen) -> list[str]:
    """Return what is wrong with the processes and the clock, empty when all is well."""
    now = datetime.now(UTC)
    found = [
        alive.gone_words(settings.incident_folder(), name, now)
        for name in alive.NAMES
        if not pictures.still_starting(name, pictures.SAID_AFTER)  # no fault: it comes after a view
    ]
    found.append(seen.journal.clock_behind())
    if not seen.release.guarded:
        found = [
            *found_now(),
            *rooms.sentences(),
            *(fault.words() for fault in altered(seen)),
            *found,
        ]
    return [text[:1].upper() + text[1:] for text in found if text]


def altered(seen: Seen) -> list[Fault]:
    """Return what the last check of the journal found and nobody has taken note of."""
    found = altered_now()
    if not found:
        return []
    taken = {entry.value.fault for entry in seen.known.entries("watch.altered_taken")}
    return [fault for fault in found if fault.key not in taken]


def counts(seen: Seen) -> tuple[int, int, tuple[timedelta, str] | None]:
    """Return how many feeds are fresh, how many there are, and the age and name of the oldest."""
    ages, stale = _ages(seen)
    return len(ages) - len(stale), len(ages), stale[0] if stale else None


def silent_words(age: timedelta, name: str) -> str:
    """Return which feed has been silent for how long."""
    return f"{name} silent {duration_words(age)}"


def lines(seen: Seen, most: int = 4) -> str:
    """Return the trouble first, then how many sources are fresh and the oldest ones, as HTML."""
    parts = [line(f"<b>{words(text)}</b>") for text in sentences(seen)]
    ages, stale = _ages(seen)
    now = "" if seen.follows_now else "now "  # the feeds are what they are, whatever time is shown
    if seen.release.guarded:
        return "".join([*parts, line(words("Feeds: withheld here"))])
    parts.append(line(words(f"{now}{len(ages) - len(stale)} of {len(ages)} feeds fresh")))
    parts += [
        line(words(f"{now}stale: {name}, {duration_words(age)} old", "mp-quiet"))
        for age, name in stale[:most]
    ]
    return "".join(parts)


def _ages(seen: Seen) -> tuple[list[tuple[timedelta, str]], list[tuple[timedelta, str]]]:
    """Return every feed's age, and the ages of those that are stale, the oldest first."""
    if seen.release.guarded:  # what a feed is called was typed by somebody
        return [], []
    states, _ = read_states(settings.incident_folder())
    heard = _streams_heard([*states, *(each for room in rooms.others() for each in room.states)])
    ages = [
        (seen.now - max(source.observed_at, heard.get(source.source, source.observed_at)),
         source.source)
        for source in opened.followed(seen.revision)
    ]  # fmt: skip
    called = station_names(seen.known, (name for _, name in ages))
    stale = [
        (age, called.get(name, name)) for age, name in ages
        if age.total_seconds() > stale_after_s(name, states)
    ]  # fmt: skip
    return ages, sorted(stale, reverse=True)


def _streams_heard(states: Sequence[FeedState]) -> dict[str, datetime]:
    """Return when each stream was heard: what another receiver told first is heard all the same."""
    return {
        source: state.heard_at
        for state in states
        if state.heard_at is not None and state.address.startswith(("udp:", "tcp:"))
        for source in state.sources or ()
    }
