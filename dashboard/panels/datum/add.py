"""Add a report that bears on her: a bearing, a range, a sighting, a search that saw nothing."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.datum import found
from dashboard.tools.forms import record_form
from dashboard.view import Seen
from layers.catalogue import KINDS

BUTTONS = {
    "datum.bearing": "Add a bearing",
    "datum.range": "Add a range",
    "datum.sighting": "Add a sighting",
    "datum.heard": "Add something heard",
    "datum.negative_search": "Add a search that saw nothing",
    "datum.not_heard": "Add a listening that heard nothing",
    "datum.loss_time": "Add what fixes the time of loss",
    "datum.contact": "Add a contact on the bottom",
    "datum.time_difference": "Add a time difference",
    "datum.object": "Add an object of search",
    "datum.object_found": "An object is found",
    "datum.search_suspended": "A search is suspended or taken up again",
    "datum.objects_joined": "Two objects are one",
    "datum.searcher": "Add a searcher",
    "datum.localisation_limit": "Set the localisation limit",
    "datum.wrong_chances": "Change what grades mean",
}


def show(seen: Seen) -> None:
    """Show what can be added, and the form of what was chosen."""
    if not seen.writable:
        st.caption("Reading only: the watch records.")
        return
    chosen = st.pills(
        "Add a report", list(BUTTONS), format_func=BUTTONS.__getitem__, key="datum.add.kind"
    )
    if chosen == "datum.object_found":
        found.show(seen)
    elif chosen:
        record_form.show(seen, KINDS[chosen], key="datum")
