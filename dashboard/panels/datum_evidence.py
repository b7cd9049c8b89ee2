"""Every report with what it does to the answer; weigh one or suspend it, with a reason."""

from __future__ import annotations

import uuid

import pandas as pd
import streamlit as st

from dashboard.panels.text import panel, words
from dashboard.view import Seen
from layers.datum.result import DatumResult, Evidence
from layers.earth.clock import hhmm
from layers.earth.errors import MusterplotError
from layers.journal.record import Draft, form_identity


def show(seen: Seen) -> None:
    """Show the list of reports and, for the watch, the form that weighs one."""
    found = seen.picture.shown("datum")
    if found is None:
        return
    table = found.tables["Evidence"]
    frame = pd.DataFrame(table.as_dicts(), columns=list(table.heads))
    st.dataframe(
        frame,
        hide_index=True,
        width="stretch",
        height=min(38 + 35 * max(len(frame), 1), 520),
        column_config={
            "Time (UTC)": st.column_config.DatetimeColumn(format="DD HHmm[Z]", timezone="UTC"),
            "Report": st.column_config.TextColumn(width=250),
            "Counts": st.column_config.TextColumn(width=70),
            "Agreement": st.column_config.TextColumn(width=110),
            "Datum moves without it (nmi)": st.column_config.NumberColumn(
                "Moves it (nmi)", help="how far the datum moves without this report", width=95
            ),
            "95 % radius without it (nmi)": st.column_config.NumberColumn(
                "95 % without (nmi)", help="the 95 % radius without this report", width=120
            ),
        },
    )
    if not table.rows:
        panel(words("No report yet bears on her. Add a bearing, a range or a sighting below."))
        return
    if seen.writable:
        _weigh(seen, found.result)


def _weigh(seen: Seen, result: DatumResult) -> None:
    by_key = {item.key: item for item in result.evidence}
    form_id = st.session_state.setdefault("datum.weigh", uuid.uuid4().hex)
    with st.form(f"datum.weigh.{form_id}"):
        key = st.selectbox(
            "Report",
            list(by_key),
            format_func=lambda name: _name(by_key[name]),
            key=f"datum.weigh.{form_id}.target",
        )
        left, right = st.columns([1, 3])
        weight = left.number_input(
            "Weight, 0 to 1",
            min_value=0.0,
            max_value=1.0,
            value=0.0,
            step=0.1,
            help="0 suspends it, 1 counts it in full",
            key=f"datum.weigh.{form_id}.weight",
        )
        reason = right.text_input("Reason", key=f"datum.weigh.{form_id}.reason")
        sent = st.form_submit_button("Count it with this weight")
    if not sent:
        return
    draft = Draft(
        kind="datum.weighting",
        payload={"target": key, "weight": weight, "reason": reason.strip()},
        valid_at=seen.now,
        heard_at=seen.now,
        source=seen.actor.name,
        identity=form_identity(form_id),
    )
    try:
        seen.pen.append(seen.actor, [draft])
    except MusterplotError as refusal:
        st.error(str(refusal))
        return
    del st.session_state["datum.weigh"]
    st.rerun()


def _name(item: Evidence) -> str:
    return f"{hhmm(item.at)} {item.says[:80]} ({item.state})"
