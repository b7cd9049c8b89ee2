"""Every line and file that could not be read: source, line, text and the reason."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import panel, table, words
from dashboard.view import Seen
from layers.earth.clock import dtg
from layers.journal.words.fields import in_plain_words

EVERY = "every source"
SHOWN = 500


def show(seen: Seen) -> None:
    """Show the newest rejects, of one source or of all."""
    counts = seen.journal.reject_counts()
    if not counts:
        panel(words("Nothing was rejected: every line that came was read."))
        return
    names = [EVERY, *sorted(counts, key=lambda name: -counts[name])]
    chosen = st.selectbox(
        "Rejected lines of",
        names,
        format_func=lambda name: (
            f"{name} ({counts[name] if name in counts else sum(counts.values())})"
        ),
        key="feeds_rejects_of",
    )
    found = seen.journal.rejects(source=None if chosen == EVERY else chosen, limit=SHOWN)
    rows = [
        (
            dtg(reject.recorded_at)[:7],
            reject.source,
            "" if reject.line is None else str(reject.line),
            reject.text,
            in_plain_words(reject.reason),
        )
        for reject in found
    ]
    heads = ("Kept at", "Source", "Line", "Text", "Reason")
    st.html(
        '<div class="mp-log" tabindex="0" role="region" aria-label="Rejects">'
        f"{table(rows, heads)}</div>"
    )
