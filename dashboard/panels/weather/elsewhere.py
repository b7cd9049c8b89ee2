"""The weather at any place and time: a form over the layer's own field."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import caution, panel, table, words
from dashboard.view import Seen
from layers.earth.clock import dtg, parse_time
from layers.earth.errors import InputError
from layers.earth.said.parse import parse_position
from layers.weather.elsewhere import Elsewhere, elsewhere
from layers.weather.result import WeatherResult

HEADS = ("", "Value", "Good to", "From", "Distance (nmi)", "Age (h)")


@st.fragment
def show(seen: Seen) -> None:
    """Show wind, waves and current at a place and time that the viewer types."""
    result: WeatherResult | None = seen.picture.result("weather")
    if result is None:
        return
    left, right = st.columns(2)
    start = "" if result.place is None else str(result.place.position)
    place = left.text_input("Place", start, key="weather.elsewhere.place")
    time = right.text_input("Time", dtg(result.at), key="weather.elsewhere.time")
    if not place.strip():
        panel(words("Type a place, such as 49 50.0N 008 30.0W."))
        return
    try:
        rows = elsewhere(result.field, parse_position(place, "Place"), parse_time(time, "Time"))
    except InputError as reason:
        st.error(str(reason))
        return
    panel(table([_row(each) for each in rows], HEADS, figures=(4, 5)))
    caution(
        "Distance to the nearest point of the forecast's grid, or to the station; age from its "
        "issue or its observation. Where no forecast reaches, the nearest observation stands in, "
        "its uncertainty growing with distance and time (an assumption)."
    )


def _row(each: Elsewhere) -> tuple[str, ...]:
    if each.words is None:
        return each.title, "not known there and then", "", "", "", ""
    return (
        each.title,
        each.words,
        each.sigma,
        each.origin,
        "" if each.distance_nmi is None else f"{each.distance_nmi:.0f}",
        "" if each.age_h is None else f"{each.age_h:.1f}",
    )
