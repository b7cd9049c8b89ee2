"""The chart frame, its centre and reach, and night or day."""

from __future__ import annotations

import streamlit as st

from dashboard import state
from dashboard.panels.text import words
from dashboard.state import DEFAULTS, Key
from dashboard.view import Seen, recentre
from layers.earth.chart.frames import FrameName
from layers.earth.errors import InputError
from layers.earth.said.parse import parse_position
from layers.earth.units import nmi_to_m

NAMES = {
    FrameName.RANGE_TRUE: "Range-true: ranges and bearings from the centre are straight",
    FrameName.MERCATOR: "Mercator: rhumb lines are straight",
    FrameName.UTM: "UTM: metres near the seabed",
    FrameName.POLAR: "Polar stereographic: above 72°",
}
REACHES_NMI = (0.1, 0.5, 2.0, 5.0, 13.5, 30.0, 100.0, 300.0, 1_000.0, 2_700.0)
REACH = "reach_choice"


def show(seen: Seen) -> None:
    """Show the choices."""
    names = list(NAMES)
    frame = st.radio(
        "Frame",
        names,
        index=names.index(FrameName(state.get(Key.FRAME))),
        format_func=lambda name: NAMES[name],
        key="frame_choice",
    )
    now_nmi = state.get(Key.HALF_WIDTH) / nmi_to_m(1.0)
    # the slider stands at the nearest of its steps: only a press on it chooses that step
    st.session_state[REACH] = min(REACHES_NMI, key=lambda reach: abs(reach - now_nmi))
    st.select_slider("Reach from the centre (nmi)", REACHES_NMI, key=REACH, on_change=_reached)
    centre = st.text_input(
        "Centre, empty for the datum", value=state.get(Key.CENTRE_TEXT), key="centre_choice"
    )
    if st.button("Centre on the datum shown", key="recentre"):
        recentre()
        st.rerun()
    ink = st.radio(
        "Colours",
        ("night", "day"),
        index=("night", "day").index(state.get(Key.INK)),
        horizontal=True,
        key="ink_choice",
    )
    wanted = {
        Key.FRAME: frame.value,
        Key.INK: ink,
        Key.CENTRE_TEXT: centre,
    }
    if centre.strip():
        try:
            place = parse_position(centre, "centre of the chart")
        except InputError as reason:
            st.html(words(reason, "mp-quiet"))
            return
        wanted[Key.CENTRE] = f"{place.latitude_deg} {place.longitude_deg}"
    elif state.get(Key.CENTRE_TEXT).strip():
        wanted[Key.CENTRE] = DEFAULTS[Key.CENTRE]
    if any(state.get(key) != value for key, value in wanted.items()):
        for key, value in wanted.items():
            state.put(key, value)
        st.rerun()


def _reached() -> None:
    state.put(Key.HALF_WIDTH, nmi_to_m(st.session_state[REACH]))
