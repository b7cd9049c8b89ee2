"""Put a search that saw nothing back in, by what was steered according to the ship's own fixes."""

from __future__ import annotations

import uuid
from datetime import timedelta

import streamlit as st

from dashboard.tools import need
from dashboard.tools.send import draft_now, send
from dashboard.view import Seen
from layers.datum.search.steered import steered
from layers.earth.clock import dtg, parse_time
from layers.earth.errors import InputError, MusterplotError
from layers.tracks.steered import fixes_of


def show(seen: Seen) -> None:
    """Show the form; what is refused keeps what was typed."""
    if seen.picture.shown("datum") is None:
        return
    found = seen.picture.shown("tracks")
    if found is None or found.result is None or not found.result.ships:
        need.said(seen, "No ship's track is known; type the corners instead.", "steered",
                  "datum.negative_search", "tracks.position")  # fmt: skip
        return
    if not seen.writable:
        st.caption("Reading only: the watch records.")
        return
    ships = {ship.name: ship for ship in found.result.ships}
    form_id = st.session_state.setdefault("datum.steered", uuid.uuid4().hex)
    name = f"datum.steered.{form_id}"
    with st.form(name):
        who, start, end = st.columns(3)
        ship = ships[who.selectbox("Searcher", list(ships), key=f"{name}.ship")]
        begin = start.text_input(
            "Search began", dtg(seen.moment.at - timedelta(hours=2)), key=f"{name}.from"
        )
        stop = end.text_input("Search ended", dtg(seen.moment.at), key=f"{name}.to")
        width, sensor = st.columns(2)
        sweep = width.text_input("Sweep width (m)", "", key=f"{name}.sweep")
        with_what = sensor.text_input("Sensor", "", key=f"{name}.sensor")
        sent = st.form_submit_button("Record the search that saw nothing")
    if not sent:
        return
    try:
        ended = parse_time(stop, "Search ended")
        fixes = fixes_of(seen.known, ship, min(seen.moment.at, seen.moment.as_of))
        payload = steered(
            fixes.at_us,
            fixes.latitudes_deg,
            fixes.longitudes_deg,
            parse_time(begin, "Search began"),
            ended,
            ship.name,
            _metres(sweep),
            with_what,
        )
        draft = draft_now(
            seen,
            "datum.negative_search",
            payload,
            form=form_id,
            source=f"track of {ship.name}",
            valid_at=ended,
        )
        send(seen, [draft])
    except MusterplotError as refusal:
        st.error(str(refusal))
        return
    del st.session_state["datum.steered"]
    st.rerun()


def _metres(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InputError(
            f"{text!r} is not a sweep width",
            where="Sweep width",
            accepted="metres, for this object, sensor and sea",
        ) from None
