"""A search leg taken from a ship's track: what was steered, with its jumps and gaps told."""

from __future__ import annotations

import uuid
from typing import Any

import numpy as np
import streamlit as st

from dashboard.away.link import recorded_words
from dashboard.tools.send import draft_now, send
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.clock import dtg, from_us, iso, parse_time
from layers.earth.errors import InputError, MusterplotError
from layers.journal.record import Draft
from layers.tracks.marks import break_words
from layers.tracks.model import TracksResult
from layers.tracks.steered import Steered, steered

KIND = "datum.negative_search"
MOST_POINTS = 400
ID = "response.leg.id"


def show(seen: Seen) -> None:
    """Show the form; a search that saw nothing is recorded by what was really steered."""
    found = seen.picture.shown("tracks")
    if found is None or not seen.writable or KIND not in KINDS:
        return
    result: TracksResult = found.result
    ships = {ship.subject: ship.name for ship in result.ships if ship.role != "other"}
    if not ships:
        return
    with st.expander("Record a search that saw nothing, from a ship's track"):
        with st.form("response.leg"):
            subject = st.selectbox("Ship", list(ships), format_func=ships.__getitem__)
            left, right = st.columns(2)
            start = left.text_input("From", key="response.leg.from", placeholder=dtg(seen.now))
            end = right.text_input("To", key="response.leg.to", placeholder=dtg(seen.now))
            width = left.text_input("Sweep width (m)", key="response.leg.width")
            sensor = right.text_input("Searched with", key="response.leg.sensor")
            cut = st.checkbox("Cut short", key="response.leg.cut")
            sent = st.form_submit_button("Record the leg as steered")
        if not sent:
            return
        try:
            leg = steered(
                seen.known, str(subject), parse_time(start, "from"), parse_time(end, "to")
            )
            draft = _draft(seen, leg, ships[str(subject)], _metres(width), sensor, cut)
            send(seen, [draft])
        except MusterplotError as reason:
            st.error(str(reason))
            return
        st.session_state.pop(ID, None)
        broken = "; ".join(break_words(each) for each in leg.breaks)
        if broken:
            st.warning(f"Recorded, but not seen whole: {broken}")
        else:
            st.toast(recorded_words(f"{leg.length_nmi:.1f} nmi at {leg.mean_speed_kn:.1f} kn"))


def _metres(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InputError(
            f"{text!r} is not a width", where="sweep width", accepted="metres, more than 0"
        ) from None


def _draft(
    seen: Seen, leg: Steered, name: str, width_m: float, sensor: str, cut_short: bool
) -> Draft:
    keep = np.unique(np.linspace(0, len(leg.at_us) - 1, MOST_POINTS).astype(int))
    start_us, end_us = int(leg.at_us[0]), int(leg.at_us[-1])
    payload: dict[str, Any] = {
        "searcher": name,
        "waypoints": [
            {
                "latitude_deg": round(float(leg.latitudes_deg[i]), 6),
                "longitude_deg": round(float(leg.longitudes_deg[i]), 6),
            }
            for i in keep
        ],
        "sweep_width_m": width_m,
        "started_at": _iso(start_us),
        "cut_short": cut_short,
        "sensor": sensor.strip(),
        "note": "; ".join(
            [f"as steered, {leg.length_nmi:.1f} nmi by her track"]
            + [break_words(each) for each in leg.breaks]
        )[:2000],
    }
    return draft_now(
        seen,
        KIND,
        payload,
        form=st.session_state.setdefault(ID, uuid.uuid4().hex),
        source=f"track of {name}",
        valid_at=from_us(end_us),
    )


def _iso(at_us: int) -> str:
    return iso(from_us(at_us))
