"""A fix by least squares from chosen bearings, ranges and time differences."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import caution, line, panel, table, words
from dashboard.tools import need
from dashboard.view import Seen
from layers.datum.lines.fix import FixSolution, fix
from layers.datum.lines.fix_lines import line_of
from layers.earth.clock import day_hhmm
from layers.earth.errors import InputError
from layers.earth.said.quantity import figure
from layers.earth.said.written import dm_text
from layers.journal.known import Entry

KINDS = ("datum.bearing", "datum.range", "datum.time_difference")


def show(seen: Seen) -> None:
    """Show the lines to choose from, and the fix they give."""
    if seen.picture.shown("datum") is None:  # nothing known yet, or her place is withheld
        why = seen.picture.owed("datum")
        panel(words(why or "No fix can be shown here while there is no datum to be seen."))
        return
    entries = {
        entry.id: entry
        for kind in KINDS
        for entry in seen.known.entries(kind)
        if entry.record.valid_at <= seen.moment.at and entry.value.object == "DISSUB"
    }
    if not entries:
        need.said(seen, "No bearing, range or time difference is recorded yet.", "fix", *KINDS)
        return
    chosen = st.multiselect(
        "Lines that make the fix",
        list(entries),
        default=list(entries),
        format_func=lambda name: _name(entries[name]),
        key="datum.fix.lines",
    )
    try:
        found = fix([line_of(entries[key].value, entries[key].record.valid_at, None,
                             _name(entries[key])) for key in chosen])  # fmt: skip
    except InputError as reason:
        panel(words(str(reason)))
        return
    for number, solution in enumerate(found, start=1):
        _solution(solution, f"Solution {number}: " if len(found) > 1 else "")
    if len(found) > 1:
        panel(words("The lines allow two places; another line must tell which."))
    caution("Every line counts in full here, the suspended ones too if they are chosen.")


def _name(entry: Entry) -> str:
    kind = entry.record.kind.partition(".")[2].replace("_", " ")
    return f"{day_hhmm(entry.record.valid_at)} {kind}, {entry.value.observer}"


def _solution(found: FixSolution, name: str) -> None:
    ellipse = found.ellipse_95
    panel(
        line(
            words(
                f"{name}{dm_text(found.position)}, 95 % ellipse "
                f"{figure(ellipse.semi_major_m, 0)} m by "
                f"{figure(ellipse.semi_minor_m, 0)} m (semi-axes, the longer towards "
                f"{ellipse.bearing_true_deg:03.0f}°T), CEP {figure(found.cep_m, 0)} m, best cut "
                f"{found.cut_deg:.0f}°; {found.remark}."
            )
        )
    )
    rows = [
        (
            item.name,
            f"{figure(item.residual, 1, plus=True)} {'°' if item.unit == 'deg' else 'm'}",
            f"{item.standardised:+.1f}",
            None if item.without_z is None else f"{item.without_z:+.1f}",
            "suspect" if item.name == found.suspect else "",
        )
        for item in found.residuals
    ]
    panel(
        table(
            rows,
            ("Line", "Residual", "In its own error", "Against the others (in its own error)", ""),
            (1, 2, 3),
        )
    )
