"""The wall: the large view for the room. It shows now, always; nothing on it can be pressed."""

import streamlit as st

from dashboard import follow, wall_turn
from dashboard.panels import wall
from dashboard.view import current

seen = current(wall=True)
wall.style(seen.ink, clocks_large=wall_turn.clocks_large())
wall.head(seen)
left, right = st.columns([1.2, 1], gap="small")
with right:
    place = wall.answers(seen)
with left:
    wall_turn.show(seen)
wall.changed(seen, place)
follow.changes(seen)
