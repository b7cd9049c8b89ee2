"""Saying what is thought of a record: correct, retract, dispute, grade, adopt; each a record."""

from __future__ import annotations

import json
import uuid

import streamlit as st

from dashboard.panels.journal import entries as log_entries
from dashboard.tools import record_form
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.errors import InputError, MusterplotError
from layers.journal.kinds import OPINIONS
from layers.journal.record import Draft, Record, form_identity


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
        )
    with right:
        if not seen.writable:
            st.caption("Reading only: the watch records.")
            return
        titles = {kind.name: kind.title for kind in OPINIONS}
        chosen = st.segmented_control(
            "What is thought of it", list(titles), format_func=titles.__getitem__,
            key=f"opinion_{record.seq}",
        )  # fmt: skip
        if chosen == "journal.correct":
            _correct(seen, record)
        elif chosen and record_form.show(
            seen, KINDS[chosen], given={"target": record.id}, key=str(record.seq)
        ):
            st.rerun()


def _correct(seen: Seen, record: Record) -> None:
    """Offer the payload as it stands, to be changed; only what changed is recorded."""
    form_id = st.session_state.setdefault(f"correct.{record.id}", uuid.uuid4().hex)
    with st.form(f"correct.{form_id}"):
        text = st.text_area(
            "The record as it should read",
            json.dumps(record.payload, indent=1, ensure_ascii=False),
            height=260,
            key=f"correct.{form_id}.text",
        )
        reason = st.text_input("Reason", key=f"correct.{form_id}.reason")
        sent = st.form_submit_button("Record the correction")
    if not sent:
        return
    try:
        seen.pen.append(seen.actor, [_draft(seen, record, text, reason, form_id)])
    except MusterplotError as refusal:
        st.error(str(refusal))
        return
    del st.session_state[f"correct.{record.id}"]
    st.rerun()


def _draft(seen: Seen, record: Record, text: str, reason: str, form_id: str) -> Draft:
    try:
        wanted = json.loads(text)
    except ValueError as failure:
        raise InputError(
            f"line {getattr(failure, 'lineno', '?')} cannot be read",
            where="the record as it should read",
            accepted="JSON, as it stood when the form opened",
        ) from None
    if not isinstance(wanted, dict):
        raise InputError("not a set of fields", where="the record as it should read")
    fields = {
        name: value
        for name, value in wanted.items()
        if name not in record.payload or record.payload[name] != value
    }
    if not fields:
        raise InputError("nothing was changed", where="the record as it should read")
    return Draft(
        kind="journal.correct",
        payload={"target": record.id, "fields": fields, "reason": reason},
        valid_at=seen.now,
        heard_at=seen.now,
        source=seen.actor.name,
        identity=form_identity(form_id),
    )
