"""The plot: the chart, the muster beside it, the time below."""

import streamlit as st

from dashboard import follow
from dashboard.panels.plot import chart, muster, side, time_bar, two_clocks
from dashboard.tools import measure
from dashboard.view import current

seen = current()
left, right = st.columns([2.6, 1], gap="small")
with right:
    muster.show(seen)
    two_clocks.small(seen)
    side.show(seen)
with left:
    clicked = chart.show(seen, measure.marks(seen))
    if clicked is not None and measure.take(clicked):
        st.rerun()
    time_bar.show(seen)
follow.changes(seen)
