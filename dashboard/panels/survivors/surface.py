"""People in the water and the way to a hospital."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import caution, line, panel, table, words
from dashboard.tools import record_form
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.table import Cell, Table
from layers.survivors.muster.cold_water import NEVER_A_REASON, SOURCE
from layers.survivors.muster.hospital import HospitalOutlook
from layers.survivors.muster.people_report import flight_table, hospital_table, reach_table
from layers.survivors.muster.surface import WaterGroup

TYPED = (
    "survivors.in_water",
    "survivors.craft",
    "survivors.hospital",
    "survivors.flight_limit",
)


def show_water(seen: Seen) -> None:
    """Show the groups in the water and who can reach them."""
    found = seen.picture.shown("survivors")
    if found is not None:
        _water(found.result.surface)


def show_hospital(seen: Seen) -> None:
    """Show the patients, the flights and the places, and the forms."""
    found = seen.picture.shown("survivors")
    if found is None:
        return
    _hospital(found.result.hospital, guarded=found.result.guarded)
    if seen.writable:
        _forms(seen)


def _water(groups: tuple[WaterGroup, ...]) -> None:
    st.markdown("**In the water**")
    if not groups:
        panel(words("Nobody is recorded as in the water; add a group when one is seen."))
    for group in groups:
        parts = [line(words(group.words))]
        if group.position is not None:
            radius = (group.radius_95_m or 0.0) / 1852.0
            where = f"expected at {group.position}, 95 % within {radius:.1f} nmi (datum layer)"
            parts.append(line(words(where, "mp-quiet")))
        else:
            parts.append(line(words("the datum layer has no drift for this group", "mp-quiet")))
        panel("".join(parts))
    if any(group.reach for group in groups):
        _shown(reach_table(groups))
    caution(f"{NEVER_A_REASON} Predicted times: {SOURCE}; light clothing and lifejacket, sea "
            "0 to 18 °C, mean of a few people: some live far longer.")  # fmt: skip


def _hospital(hospital: HospitalOutlook, *, guarded: bool) -> None:
    st.markdown("**To hospital**")
    for said in hospital.said:
        panel(words(f"! {said}"))
    if not hospital.hospitals:
        panel(words("No hospital is recorded; add one with the places it has free."))
        return
    if guarded:
        _shown(hospital_table(hospital, flights=False))
        return
    if hospital.flights:
        _shown(flight_table(hospital))
    else:
        panel(words("Nobody on deck, picked up or in a chamber is injured or on a stretcher."))
    if hospital.not_placed:
        panel(words(f"{hospital.not_placed} have no place in any hospital recorded", "mp-late"))
    _shown(hospital_table(hospital))
    limit = hospital.limit
    told = (
        f"After more than {limit.above_bar_abs:g} bar absolute: not above {limit.height_m:g} m "
        f"for {limit.after_pressure_h:g} h; {limit.source}, entered by {limit.entered_by}. "
        if limit
        else ""
    )
    caution(
        f"{told}A first order, sickest first to the nearest with room; the medical officer "
        "decides. Places are as told, not held."
    )


def _shown(found: Table) -> None:
    panel(table([[_said(cell) for cell in row] for row in found.rows], found.heads))


def _said(cell: Cell) -> Cell:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return "" if cell is None else cell


def _forms(seen: Seen) -> None:
    with st.expander("Add people in the water, a craft, a hospital, a limit for flying"):
        kind = st.selectbox(
            "What is reported",
            TYPED,
            format_func=lambda name: KINDS[name].title,
            key="survivors.surface.kind",
        )
        if record_form.show(seen, KINDS[kind], key="survivors.surface"):
            st.rerun()
