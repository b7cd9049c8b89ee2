"""The wall: the large view for the room. It shows now, always; nothing on it can be pressed."""

import streamlit as st

from dashboard import follow, wall_turn
from dashboard.panels import sound, wall
from dashboard.view import current

seen = current(wall=True)
wall.style(clocks_large=wall_turn.clocks_large())
wall.top(seen)
clocks, chart = st.columns(2, gap=None)
wall_turn.show(seen, clocks, chart)
wall.foot(seen)
sound.listen(seen, wall=True)
follow.changes(seen, whole=True, wall=True)
