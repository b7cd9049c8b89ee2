"""The weather: what it is, when it lets us work, what it does at the hatch."""

import streamlit as st

from dashboard import follow
from dashboard.panels import (
    time_bar,
    weather_elsewhere,
    weather_error,
    weather_hatch,
    weather_limits,
    weather_meteogram,
    weather_now,
    weather_windows,
)
from dashboard.panels.text import panel, words
from dashboard.view import current
from layers.contract import Unavailable

seen = current()
found = seen.picture.layers.get("weather")
if isinstance(found, Unavailable):
    panel(words(found.reason))
else:
    weather_now.show(seen)
    left, right = st.columns(2, gap="small")
    with left:
        st.markdown("**When the sea lets us work**")
        weather_windows.show(seen)
    with right:
        st.markdown("**Through time at the place**")
        weather_meteogram.show(seen)
    left, right = st.columns(2, gap="small")
    with left:
        st.markdown("**Change a limit, see the window move**")
        weather_limits.show(seen)
        st.markdown("**Forecast against observation**")
        weather_error.show(seen)
    with right:
        st.markdown("**At the hatch**")
        weather_hatch.show(seen)
        st.markdown("**At any place and time**")
        weather_elsewhere.show(seen)
time_bar.show(seen)
follow.changes(seen)
