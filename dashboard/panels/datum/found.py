"""An object of search is found: told once, and booked in the muster in the same step."""

from __future__ import annotations

import uuid

import streamlit as st

from dashboard.tools import need
from dashboard.tools.send import send
from dashboard.view import Seen
from layers.datum.result import DatumResult
from layers.earth.errors import MusterplotError
from layers.earth.said.parse import parse_position
from layers.journal.record import Draft, form_identity
from layers.survivors.muster.found import moves_of


def show(seen: Seen) -> None:
    """Show the form; what it sends is recorded whole or not at all."""
    shown = seen.picture.shown("datum")
    result: DatumResult | None = shown.result if shown is not None else None
    names = [one.name for one in result.adrift] if result is not None else []
    if not names:
        need.said(seen, "No object of search is told yet.", "found", "datum.object")
        return
    with st.form("datum_found", clear_on_submit=False):
        name = st.selectbox("Which", names)
        by = st.text_input("Found by")
        left, right = st.columns(2)
        alive = left.number_input("Alive", min_value=0, max_value=1_000, value=0)
        dead = right.number_input("Dead", min_value=0, max_value=1_000, value=0)
        where = st.text_input("Where", help="A position; empty when it was not told")
        all_of_it = st.checkbox("Nobody of it is still out there", value=True)
        booked = st.checkbox("Book them in the muster", value=True)
        if not st.form_submit_button("Record it"):
            return
    payload: dict[str, object] = {
        "object": name, "by": by.strip(), "alive": int(alive), "dead": int(dead),
        "all_of_it": all_of_it,
    }  # fmt: skip
    try:
        if where.strip():
            place = parse_position(where)
            payload |= {"latitude_deg": place.latitude_deg, "longitude_deg": place.longitude_deg}
        drafts = [_draft(seen, "datum.object_found", payload)]
        people = seen.picture.shown("survivors")
        if booked and people is not None and alive + dead:
            reason = f"{name} found by {by.strip()}"
            moves = moves_of(people.result.muster, int(alive), int(dead), reason)
            drafts += [_draft(seen, "survivors.move", move) for move in moves]
        send(seen, drafts)
    except MusterplotError as reason:
        st.error(str(reason))
        return
    st.rerun()


def _draft(seen: Seen, kind: str, payload: dict[str, object]) -> Draft:
    return Draft(
        kind=kind,
        payload=payload,
        valid_at=seen.now,
        heard_at=seen.now,
        source=seen.actor.name,
        identity=form_identity(uuid.uuid4().hex),
    )
