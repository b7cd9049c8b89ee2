"""Where she most probably is: what moved the answer, what does not fit, and its lines."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import line, panel, table, words
from dashboard.view import Seen


def show(seen: Seen) -> None:
    """Show what moved the answer and what does not fit."""
    result = seen.picture.result("datum")
    if result is None:
        return
    for said in (result.moved, *result.contradictions, result.collapse, *result.notes):
        if said:
            panel(line(words(said)))


def details(seen: Seen) -> None:
    """Show the answer line by line, the other objects of search and the contacts."""
    found = seen.picture.shown("datum")
    if found is None:
        return
    panel(table(found.table.rows, found.table.heads))
    for title in ("Other objects of search", "Contacts on the bottom"):
        if title in found.tables:
            st.subheader(title)
            panel(table(found.tables[title].rows, found.tables[title].heads))
