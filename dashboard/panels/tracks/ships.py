"""Ships and aircraft taking part: last fix, age, where expected, when at the datum."""

from __future__ import annotations

from collections.abc import Mapping

import streamlit as st

from dashboard.panels.text import panel, table
from dashboard.view import Seen
from layers.tracks.model import ShipTrack, TracksResult
from layers.tracks.report import eta_words

HEADS = ("Ship", "Role", "Last fix", "Age", "Position", "Moving", "ETA at the datum", "Remarks")


def show(seen: Seen) -> None:
    """Show the ships, and what does not hold together in their tracks."""
    found = seen.picture.shown("tracks")
    if found is None:
        return
    result: TracksResult = found.result
    rows = found.table.as_dicts()
    shown = [
        _row(ship, row)
        for ship, row in zip(result.ships, rows, strict=True)
        if ship.role != "other"
    ]
    if shown:
        panel(table(shown, HEADS))
    broken = found.tables["Jumps and gaps"]
    if broken.rows:
        with st.expander(f"Jumps and gaps in the tracks ({len(broken.rows)})"):
            panel(table(broken.rows, broken.heads))
    near = found.tables["Closest approach, course and speed held"]
    if near.rows:
        with st.expander("Closest approach"):
            panel(table(near.rows, near.heads, figures=(2, 3)))


def _row(ship: ShipTrack, row: Mapping[str, object]) -> tuple[object, ...]:
    moving = (
        "not known"
        if ship.speed_kn is None
        else "stopped"
        if ship.speed_kn < 0.5
        else f"{ship.speed_kn:.1f} kn"
        if ship.course_true_deg is None
        else f"{ship.course_true_deg:03.0f}°T, {ship.speed_kn:.1f} kn"
    )
    arrives = eta_words(ship) if row["Range to datum (nmi)"] else "no datum yet"
    return (
        ship.name,
        ship.role,
        row["Last fix (Z)"],
        f"{ship.age_s / 60:.0f} min",
        row["Position"],
        moving,
        arrives,
        row["Remarks"],
    )
