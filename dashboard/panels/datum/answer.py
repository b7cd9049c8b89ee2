"""Where she most probably is: the sentence, what moved it, what does not fit."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import caution, line, panel, table, words
from dashboard.view import Seen
from layers.catalogue import BY_KEY
from layers.contract import Unavailable


def show(seen: Seen) -> None:
    """Show the answer, or what would make one."""
    found = seen.picture.layers.get("datum")
    if found is None or isinstance(found, Unavailable):
        panel(words(found.reason if found else "The datum is not computed here."))
        return
    result = found.result
    panel(line(words(found.sentence)))
    for said in (result.moved, *result.contradictions, result.collapse, *result.notes):
        if said:
            panel(line(words(said)))
    caution(BY_KEY["datum"].caution)


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
