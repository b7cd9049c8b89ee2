"""Saying what is thought of a record: correct, retract, dispute, grade, adopt; each a record."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.journal import entries as log_entries
from dashboard.tools.forms import record_form
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.journal.kinds import OPINIONS
from layers.journal.record import Record


def show(seen: Seen, record: Record) -> None:
    """Show the record whole and the forms about it."""
    entry = next((e for e in seen.known.entries(record.kind) if e.id == record.id), None)
    left, right = st.columns([1, 1])
    with left:
        log_entries.whole(
            record,
            entry,
            names=seen.release.names,
            bears=log_entries.bears_on(seen.picture.layers, record.id),
            known=seen.known,
        )
    with right:
        if not seen.writable:
            st.caption("Reading only: the watch records.")
            return
        titles = {kind.name: kind.title for kind in OPINIONS}
        if record.kind in titles:  # an opinion is taken back, never corrected
            titles = {"journal.retract": titles["journal.retract"]}
        else:  # where anything is withheld, typed words are, until their writer lets them go
            titles["watch.let_go"] = "let its words go"
        chosen = st.segmented_control(
            "What is thought of it", list(titles), format_func=titles.__getitem__,
            key=f"opinion_{record.seq}",
        )  # fmt: skip
        if chosen == "journal.correct":
            if entry is None:
                st.caption("It was retracted: there is nothing of it to correct.")
                return
            record_form.show(seen, KINDS[record.kind], correcting=entry, key=str(record.seq))
        elif chosen:
            record_form.show(seen, KINDS[chosen], fixed={"target": record.id}, key=str(record.seq))
