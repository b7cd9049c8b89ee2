"""The watch's page: what is due, tasks, listening, checklists, decisions, handover, alarms."""

import streamlit as st

from dashboard import follow
from dashboard.panels import events
from dashboard.panels.watch import book as watch_book
from dashboard.panels.watch import exercise_clock
from dashboard.panels.watch import handover as watch_handover
from dashboard.view import current

seen = current()
left, right = st.columns([1, 1], gap="medium")
with left:
    watch = events.show(seen)
    events.alarms(seen, watch)
    watch_book.tasks(seen, watch)
    watch_book.listening(seen, watch)
    watch_book.checklists(seen, watch)
    watch_book.forms(seen)
    exercise_clock.show(seen)
with right:
    watch_book.decisions(seen, watch)
    watch_book.open_points(seen, watch)
    watch_handover.show(seen, watch)
follow.changes(seen)
