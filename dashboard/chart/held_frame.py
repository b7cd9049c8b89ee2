"""A page's own frame, held while it still shows what is asked for.

What a page is about moves a little with each report. A chart whose frame changes is built anew in
the browser: it loads twice, and what was looked at is lost.
"""

from __future__ import annotations

import streamlit as st

from dashboard import state
from dashboard.cache import opened
from dashboard.view import Seen
from layers.earth.chart.frames import ChartFrame
from layers.earth.geodesy import inverse

OFF_CENTRE = 0.25  # of the half width, that what it is about may lie from the middle
LARGER, SMALLER = 1.25, 0.5  # what is asked for may be so much larger or smaller


def still_shows(held: ChartFrame, wanted: ChartFrame) -> bool:
    """Whether a frame that stands may stay for one that is asked for."""
    if held.name is not wanted.name:
        return False
    if not SMALLER * held.half_width_m <= wanted.half_width_m <= LARGER * held.half_width_m:
        return False
    a, b = held.centre, wanted.centre
    apart = inverse(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
    return bool(apart.distance_m <= OFF_CENTRE * min(held.half_width_m, wanted.half_width_m))


def held_frame(seen: Seen, key: str, wanted: ChartFrame) -> ChartFrame:
    """Return the frame of a chart: the one that stands, or from now on the one asked for.

    Of each release by itself: where a chart lay when more was seen is not told when less is.
    """
    place = f"{state.FRAME_OF}{key} as {opened.key_of(seen.release)}"
    held: ChartFrame | None = st.session_state.get(place)
    if held is None or not still_shows(held, wanted):
        st.session_state[place] = held = wanted
    return held
