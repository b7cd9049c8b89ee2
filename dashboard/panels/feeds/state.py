"""Each feed's age, stale mark, counts and last error; and every source that was ever read."""

from __future__ import annotations

from datetime import datetime

from dashboard import settings
from dashboard.panels import health
from dashboard.panels.feeds import rooms
from dashboard.panels.text import line, panel, table, words
from dashboard.view import Seen
from layers.earth.clock import dtg, duration_words
from layers.feeds.state import FeedState, read_states, stale_after_s
from layers.journal.words.stations import station_names

SHOWN = 40
HEADS = ("Feed", "Last heard", "Silent for", "State", "New records", "Rejects", "Trouble")
SOURCE_HEADS = ("Source", "Newest observed", "Age", "Read", "State", "Records", "Rejects")


def show(seen: Seen) -> None:
    """Show the reader's health, the feeds that are set up, and the sources in the journal."""
    if seen.release.guarded:
        panel(words("Which feeds there are is withheld here."))
        return
    states, trouble = read_states(settings.incident_folder())
    said = health.sentences(seen)
    if trouble:
        said.append(f"The settings of the feeds: {trouble}; the feeds go on as they were.")
    if said:
        panel("".join(line(f"<b>{words(text)}</b>") for text in said))
    if states:
        panel(table([_feed(state, seen.now) for state in states], HEADS, figures=(4, 5)))
    else:
        panel(words("No feed is set up yet: set one up beside this, or drop a file."))
    rooms.show(seen, _feed, HEADS)
    rows = _sources(seen, states)
    if rows:
        panel(table(rows, SOURCE_HEADS, figures=(5, 6)))


def _feed(state: FeedState, now: datetime) -> tuple[object, ...]:
    heard = state.heard_at
    kinds = f" ({', '.join(state.formats)})" if state.formats else ""
    trouble = "; ".join(state.troubles())
    if trouble and state.next_at is not None and state.next_at > now:
        trouble += f"; asked again in {duration_words(state.next_at - now)}"
    return (
        f"{state.name}{kinds}",
        dtg(heard) if heard else "never",
        duration_words(now - heard) if heard else "",
        "STALE" if state.stale(now) else "fresh" if heard else "waiting",
        state.records,
        state.rejects,
        trouble,
    )


def _state(followed: bool, stale: bool) -> str:
    """Return what a source is: one that was read once is old too when what it says is old."""
    if followed:
        return "STALE" if stale else "fresh"
    return "once, old" if stale else "once"


def _sources(seen: Seen, states: list[FeedState]) -> list[tuple[object, ...]]:
    counts = seen.journal.reject_counts()
    followed = {source.source for source in seen.journal.followed()}
    held = [source for source in seen.journal.sources() if source.by_feed]
    held.sort(key=lambda source: source.last_heard_at, reverse=True)
    called = station_names(seen.known, (source.source for source in held))
    rows: list[tuple[object, ...]] = []
    for source in held[:SHOWN]:
        age = seen.now - source.observed_at
        stale = age.total_seconds() > stale_after_s(source.source, states)
        rows.append(
            (
                called.get(source.source, source.source),
                dtg(source.observed_at),
                duration_words(age),
                dtg(source.last_heard_at),
                _state(source.source in followed, stale),
                source.records,
                counts.pop(source.source, 0),
            )
        )
    # what gave nothing but rejects is a source too
    rows += [(name, "", "", "", "no records", 0, count) for name, count in sorted(counts.items())]
    return rows[: 2 * SHOWN]
