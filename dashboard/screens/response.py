"""The response: through which port, with which ship, when is first rescue, what holds it up."""

import streamlit as st

from dashboard import follow
from dashboard.panels import (
    forward_port_chain,
    forward_port_fit,
    forward_port_legs,
    forward_port_options,
    forward_port_record,
    time_bar,
    tracks_leg,
    tracks_ships,
)
from dashboard.panels.text import panel, words
from dashboard.view import current
from layers.contract import Unavailable

seen = current()
found = seen.picture.layers.get("forward_port")
if isinstance(found, Unavailable):
    panel(words(found.reason))
else:
    forward_port_options.show(seen)
    st.markdown("**The chain**")
    forward_port_chain.show(seen)
    st.markdown("**Does it fit**")
    forward_port_fit.show(seen)
    st.markdown("**Legs: from which fix, at which speed**")
    forward_port_legs.show(seen)
st.markdown("**Ships and aircraft**")
tracks_ships.show(seen)
tracks_leg.show(seen)
forward_port_record.show(seen)
time_bar.show(seen)
follow.changes(seen)
