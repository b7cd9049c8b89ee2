"""The brief for people outside the room: slides and the situation report."""

import streamlit as st

from dashboard.panels.brief import deck as brief_deck, sitrep as brief_sitrep
from dashboard.view import current

seen = current()
left, right = st.columns([1, 1.3], gap="medium")
with left:
    brief_deck.show(seen)
with right:
    brief_sitrep.show(seen)
