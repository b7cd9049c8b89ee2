"""Waves, wind and current at the place through time, with the limits drawn in."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import caution, panel, words
from dashboard.panels.weather.charts import meteogram
from dashboard.tools import need
from dashboard.view import Seen
from layers.weather.result import WeatherResult

WAVES_PX = 210
PLACE = ("weather.place_of_work",)  # a forecast comes as a file


def show_waves(seen: Seen) -> None:
    """Show the waves alone, with the limits: what a dive hangs on first."""
    found = seen.picture.shown("weather")
    if found is None:
        return
    if found.result.ahead is None:
        if found.result.place is None:
            need.said(seen, "No waves ahead: they need a place of work and a forecast.", "waves",
                      *PLACE)  # fmt: skip
        else:
            panel(words(f"No waves ahead {found.result.place.words}: they need a forecast."))
        return
    title, spec = next(iter(meteogram(found.result, seen.ink).items()))
    st.html(words(title, "mp-quiet"))
    st.vega_lite_chart({**spec, "height": WAVES_PX}, theme=None, width="stretch")


def show(seen: Seen) -> None:
    """Show what is expected, what was measured, and the limits."""
    result: WeatherResult | None = seen.picture.result("weather")
    if result is None:
        return
    if result.ahead is None:
        placed = result.place is not None
        lacking = "" if placed else "a place of work and "
        kinds = ("weather.tidal_stream",) if placed else (*PLACE, "weather.tidal_stream")
        need.said(seen, f"No meteogram: it needs {lacking}a forecast or a tidal stream.",
                  "meteogram", *kinds)  # fmt: skip
        return
    for title, spec in meteogram(result, seen.ink).items():
        st.html(words(title, "mp-quiet"))
        st.vega_lite_chart(spec, theme=None, width="stretch")
    tail = "" if not result.ahead.seat_estimated else (
        " The current at the seat is the surface stream carried down by a one-seventh power law "
        "(from memory, not checked against the page)."
    )  # fmt: skip
    caution(
        "Shaded: dark. Dotted upright: the time shown. Single waves may reach twice Hs. Stations "
        "lie some way off: their dots run before or after the line." + tail
    )
