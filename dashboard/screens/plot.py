"""The plot: the chart, the five lines and the two clocks beside it."""

import streamlit as st

from dashboard import follow
from dashboard.panels.plot import chart, side
from dashboard.tools import measure
from dashboard.view import current

seen = current()
left, right = st.columns([2.6, 1], gap="small")
with right:
    side.show(seen)
with left:
    clicked = chart.show(seen, measure.marks(seen))
    if clicked is not None and measure.take(clicked):
        st.rerun()
follow.changes(seen)
