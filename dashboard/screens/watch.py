"""The watch's page: what is due, tasks, listening, checklists, decisions, handover, alarms."""

import streamlit as st

from dashboard import follow
from dashboard.panels import events
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
if reason := kept_back(seen):  # the watch's own words may tell anything
    panel(words(reason))
else:
    left, right = st.columns([1, 1], gap="medium")
    with left:
        watch = events.show(seen)
        events.alarms(seen, watch)
    with right:
        watch_book.decisions(seen, watch)
        watch_book.open_points(seen, watch)
    with left:  # last: the picture of the last handover may have to be worked out first
        watch_handover.show(seen, watch)
    with st.expander("Tasks, listening times and checklists"):
        watch_book.tasks(seen, watch)
        watch_book.listening(seen, watch)
        watch_book.checklists(seen, watch)
    if seen.writable:
        with st.expander("Write into the watch's book"):
            watch_book.forms(seen)
    with st.expander("Who is called, what was asked and promised"):
        watch_desk.show(seen, watch.desk)
    outsiders.show(seen)
    exercise_clock.show(seen)
    incidents.show(seen)
follow.changes(seen)
