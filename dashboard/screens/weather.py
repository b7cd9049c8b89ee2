"""The weather: may a whole sortie begin, the waves against the limits, each limit against now."""

from collections.abc import Callable
from functools import partial

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
parts: dict[str, Callable[[], object]] = {}
if layer.head(seen, "weather"):
    weather_sortie.show_bar(seen)
    left, right = st.columns([1.5, 1], gap="small")
    with left:
        weather_meteogram.show_waves(seen)
    with right:
        weather_sortie.show_against(seen)
    parts = {
        "Every limit against now": partial(weather_sortie.show_limits, seen),
        "Windows by operation": partial(weather_windows.show, seen),
        "Wind and current": partial(weather_meteogram.show, seen),
        "Stations": partial(weather_now.show, seen),
        "Try a limit": partial(weather_limits.show, seen),
        "At the hatch": partial(weather_hatch.show, seen),
        "Elsewhere": partial(weather_elsewhere.show, seen),
        "Forecast error": partial(weather_error.show, seen),
    }
layer.foot(seen, "weather", parts)
