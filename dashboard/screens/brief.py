"""The brief for people outside the room: the situation report as it would go, the slides."""

from functools import partial

import streamlit as st

from dashboard.panels import layer
from dashboard.panels.brief import deck as brief_deck, sitrep as brief_sitrep
from dashboard.view import current

seen = current()
left, right = st.columns([1, 1.3], gap="medium")
with left:
    st.markdown("**Situation report (SITREP)**")
    asked = brief_sitrep.ask(seen)
with right:
    cited = brief_sitrep.show(seen, asked)
parts = {"Slides": partial(brief_deck.show, seen)}
if cited:
    parts["Records cited"] = partial(brief_sitrep.show_cited, cited)
layer.foot(seen, "brief", parts)
