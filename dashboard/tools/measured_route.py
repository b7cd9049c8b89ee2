"""The points measured on the plot, recorded as a route, once the coast is found clear of it."""

from __future__ import annotations

import uuid
from collections.abc import Sequence

import streamlit as st

from dashboard.away.link import recorded_words
from dashboard.cache import opened
from dashboard.tools.forms import refusal
from dashboard.tools.send import draft_now, send
from dashboard.view import Seen
from layers.earth.errors import InputError, MusterplotError
from layers.earth.position import Position
from layers.forward_port.legs import coast
from layers.journal.record import Draft

KIND = "tracks.route"
FORM = "measure.route.id"


def show(seen: Seen, places: Sequence[Position]) -> None:
    """Show the name and the button; the points are the waypoints, in their order."""
    if not seen.writable or len(places) < 2:
        return
    form_id = st.session_state.setdefault(FORM, uuid.uuid4().hex)
    with st.form("measure_route", border=True):
        name = st.text_input("Name of the route", key=f"{form_id}.name")
        sent = st.form_submit_button("Record these points as a route")
    if not sent:
        refusal.show(FORM)
        return
    try:
        coast.use(opened.land())
        draft = route_draft(seen, name, places, form_id)
        coast.refuse_over_land(places, f"route {name.strip()}")
        send(seen, [draft])
    except MusterplotError as reason:
        refusal.keep(FORM, reason)
        return
    refusal.forget(FORM)
    del st.session_state[FORM]
    tested = "clear of the coast" if coast.tested() else "not tested: the coast is not cut yet"
    st.toast(recorded_words(f"route {name.strip()}, {len(places)} waypoints, {tested}"))
    st.rerun()


def route_draft(seen: Seen, name: str, places: Sequence[Position], form_id: str) -> Draft:
    """Return the route as a record to be taken; its legs are rhumb lines, as a ship steers.

    Raises
    ------
    InputError
        When it has no name.
    """
    if not name.strip():
        raise InputError("the route has no name", where="name of the route", accepted="any name")
    waypoints = [
        {"latitude_deg": place.latitude_deg, "longitude_deg": place.longitude_deg}
        for place in places
    ]
    return draft_now(
        seen,
        KIND,
        {"name": name.strip(), "from_format": "measured", "waypoints": waypoints},
        form=form_id,
    )
