"""The watch's page: what is due as hours, alarms, the last decisions; the lists are folded."""

from collections.abc import Callable
from functools import partial

import streamlit as st

from dashboard.panels import events, layer
from dashboard.panels.journal.entries import kept_back
from dashboard.panels.text import panel, words
from dashboard.panels.watch import (
    book as watch_book,
    desk as watch_desk,
    exercise_clock,
    handover as watch_handover,
    incidents,
    outsiders,
)
from dashboard.view import current

seen = current()
parts: dict[str, Callable[[], object]] = {}
if reason := kept_back(seen):  # the watch's own words may tell anything
    panel(words(reason))
else:
    left, right = st.columns([1, 1], gap="medium")
    with left:
        watch = events.show(seen)
        events.alarms(seen, watch)
    with right:
        watch_book.last_decisions(seen, watch)
        watch_book.open_points(seen, watch)

    def doing() -> None:
        """Show who does what, who listens when, and the checklists."""
        watch_book.tasks(seen, watch)
        watch_book.listening(seen, watch)
        watch_book.checklists(seen, watch)

    parts = {
        "Handover": partial(watch_handover.show, seen, watch),
        "Tasks, listening times and checklists": doing,
        "Every decision": partial(watch_book.decisions, seen, watch),
        "Replay for an inquiry": partial(watch_handover.replayed, seen),
        "Who is called, asked, promised": partial(watch_desk.show, seen, watch.desk),
    }
    if seen.writable:
        parts["Write into the watch's book"] = partial(watch_book.forms, seen)
        parts["Outsiders"] = partial(outsiders.show, seen)
        if seen.journal.exercise:
            parts["Exercise clock"] = partial(exercise_clock.show, seen)
        parts["Incidents"] = partial(incidents.show, seen)
layer.foot(seen, "watch", parts)
