"""The weather: what it is, when it lets us work, what it does at the hatch."""

import streamlit as st

from dashboard.panels import layer
from dashboard.panels.weather import (
    elsewhere as weather_elsewhere,
    error as weather_error,
    hatch as weather_hatch,
    limits as weather_limits,
    meteogram as weather_meteogram,
    now as weather_now,
    sortie as weather_sortie,
    windows as weather_windows,
)
from dashboard.view import current

seen = current()
if layer.head(seen, "weather"):
    weather_sortie.show(seen)
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
layer.foot(seen, "weather")
