"""The plot: the chart, five lines and two clocks beside it; before all, the first report."""

import streamlit as st

from dashboard import follow
from dashboard.panels.plot import chart, first_card, side
from dashboard.tools import measure
from dashboard.view import current

seen = current()
if first_card.wanted(seen):
    first_card.show(seen)
else:
    left, right = st.columns([2.6, 1], gap="small")
    with right:
        side.show(seen)
    with left:
        clicked = chart.show(seen, measure.marks(seen))
        if clicked is not None and measure.take(clicked):
            st.rerun()
follow.changes(seen, whole=side.changes_whole(seen))
