"""What comes next and what is overdue: reports, listening times, stages, answers; and alarms."""

from __future__ import annotations

from datetime import datetime, timedelta

import streamlit as st

from dashboard.live.place import place
from dashboard.panels import health
from dashboard.panels.text import line, panel, words
from dashboard.tools.send import draft_now, pressed
from dashboard.view import Seen
from layers.earth.clock import clock_words
from layers.journal.signature import read_signature
from layers.watch.result import AlarmState, Event, WatchState, most_pressing

PART = "alarms"
MOST = 3
LATELY = timedelta(hours=1)


def show(seen: Seen) -> WatchState:
    """Show overdue things and the next three; return the watch's state."""
    watch = seen.watch
    parts = [_due(event, seen.moment.at) for event in watch.overdue[:MOST]]
    if len(watch.overdue) > MOST:
        parts.append(line(words(f"and {len(watch.overdue) - MOST} more overdue", "mp-quiet")))
    parts += [_due(event, seen.moment.at) for event in watch.ahead[:MOST]]
    if not parts:
        parts = [line(words("Nothing is due. Tasks and listening times appear here.", "mp-quiet"))]
    panel("".join(parts))
    return watch


def _due(event: Event, now: datetime) -> str:
    """Return an event with its hour first, an overdue one reversed."""
    css = "mp-due late" if event.presses(now) else "mp-due"
    when = event.when_words(now)
    said = f"{event.sort}: {event.who}, {event.what}"
    return (
        f'<div class="{css}"><b>{words(clock_words(event.at, now))}</b><i>{words(when)}</i>'
        f"<span>{words(said)}</span></div>"
    )


def untaken(watch: WatchState) -> list[AlarmState]:
    """Return the alarms that nobody has acknowledged, the most pressing first."""
    return [one for one in most_pressing(watch.alarms, watch.at) if one.taken is None]


def alarms(seen: Seen, watch: WatchState, *, key: str = "take", most: int = MOST) -> None:
    """Show alarms that nobody has acknowledged; the watch takes them by name."""
    shown = untaken(watch)[:most]
    if not seen.writable:  # a reader's page is one piece: there are many readers
        place(PART, seen, told_html(seen))
        return
    for alarm in shown:
        said, act = st.columns([2.7, 1.4], vertical_alignment="center")
        said.html(_told(alarm, seen.moment.at))
        if act.button("Acknowledge", key=f"{key}_{alarm.alarm.id}"):
            _take(seen, alarm)
    if taken := taken_lately(seen, watch):
        st.html("".join(line(words(text, "mp-quiet")) for text in taken))


def taken_lately(seen: Seen, watch: WatchState) -> list[str]:
    """Return the alarms acknowledged within the last hour: what, by whom, in which room."""
    found = []
    for alarm in reversed(watch.alarms):
        if alarm.taken is None or seen.moment.at - alarm.taken.record.valid_at > LATELY:
            continue
        by, room = alarm.taken.value.by, read_signature(alarm.taken.record.author).room
        where = f", room {room}" if room else ""
        at = clock_words(alarm.taken.record.valid_at, seen.moment.at)
        found.append(f"acknowledged {at} by {by}{where}: {alarm.words(seen.moment.at)}")
    return found[:MOST]


def told_html(seen: Seen) -> str:
    """Return the alarms that nobody has acknowledged, as a reader sees them."""
    return "".join(_told(alarm, seen.moment.at) for alarm in untaken(seen.watch)[:MOST])


def _told(alarm: AlarmState, now: datetime) -> str:
    said = words(alarm.words(now))
    return f'<div class="mp-alarm" role="alert">{said}</div>'


def _take(seen: Seen, alarm: AlarmState) -> None:
    taken = {"target": alarm.alarm.id, "by": seen.actor.name}
    pressed(seen, draft_now(seen, "watch.alarm_taken", taken))


def altered(seen: Seen) -> None:
    """Show what the check of the journal found; the watch takes note of it by a record."""
    for fault in health.altered(seen):
        said, act = st.columns([2.7, 1.4], vertical_alignment="center")
        told = fault.words()
        said.html(f'<div class="mp-alarm" role="alert">{words(told)}</div>')
        if act.button("Take note", key=f"altered_{fault.key}"):
            payload = {"fault": fault.key, "told": told, "by": seen.actor.name}
            pressed(seen, draft_now(seen, "watch.altered_taken", payload))
