"""The line on top of every page: exercise, stage of alert, time, and which time it is."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import words
from dashboard.view import Seen
from layers.earth.clock import dtg


def show(seen: Seen) -> None:
    """Show the line."""
    parts = []
    if seen.exercise:
        name = seen.exercise.removeprefix("Exercise ").upper()
        parts.append(words(f"EXERCISE {name}", "mp-exercise"))
    parts.append(words(seen.watch.stage_words()))
    parts.append(f"<b>{words(dtg(seen.moment.at))}</b>")
    parts.append(words(seen.time_words(), "" if seen.follows_now else "mp-moved"))
    if not seen.writable:
        parts.append(words("reading only", "mp-quiet"))
    st.html(f'<div class="mp-head" role="status">{"".join(parts)}</div>')
