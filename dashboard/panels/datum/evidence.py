"""Every report with what it does to the answer; weigh one or suspend it, with a reason."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime

import streamlit as st

from dashboard.panels.text import panel, table as text_table
from dashboard.tools import need
from dashboard.tools.forms import refusal
from dashboard.tools.send import draft_now, send
from dashboard.view import Seen
from layers.datum.result import DatumResult, Evidence
from layers.earth.clock import day_hhmm
from layers.earth.errors import MusterplotError
from layers.earth.table import Cell

# the last two: how far the datum moves, and its 95 % radius, without this report
HEADS = ("Time", "Report", "Counts", "Agreement", "Moves it (nmi)", "95 % without (nmi)")


def show(seen: Seen) -> None:
    """Show the list of reports and, for the watch, the form that weighs one."""
    found = seen.picture.shown("datum")
    if found is None:
        return
    table = found.tables["Evidence"]
    if not table.rows:
        need.said(seen, "No report yet bears on her.", "evidence", "datum.bearing", "datum.range",
                  "datum.sighting", "datum.heard")  # fmt: skip
        return
    with st.container(key="evidence_list"):  # it scrolls; the page must not grow with the reports
        panel(text_table([_row(row) for row in table.rows], HEADS, figures=(4, 5)))
    if seen.writable:
        _weigh(seen, found.result)


def _row(row: Sequence[Cell]) -> tuple[str, ...]:
    """Return one report as it is read; a report that is only noted moves nothing."""
    at, report, counts, agreement, moves, radius = row[:6]
    when = f"{at:%d\N{NO-BREAK SPACE}%H%MZ}" if isinstance(at, datetime) else str(at or "")
    figures = ("–" if value is None else f"{value}" for value in (moves, radius))
    return (when, str(report), str(counts), str(agreement or ""), *figures)


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
        refusal.show("datum.weigh")
        return
    draft = draft_now(
        seen,
        "datum.weighting",
        {"target": key, "weight": weight, "reason": reason.strip()},
        form=form_id,
    )
    try:
        send(seen, [draft])
    except MusterplotError as refused:
        refusal.keep("datum.weigh", refused)
        return
    refusal.forget("datum.weigh")
    del st.session_state["datum.weigh"]
    st.rerun()


def _name(item: Evidence) -> str:
    return f"{day_hhmm(item.at)} {item.says[:80]} ({item.state})"
