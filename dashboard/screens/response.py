"""The response: through which port, with which ship, when is first rescue, what holds it up."""

import streamlit as st

from dashboard.panels import layer
from dashboard.panels.forward_port import (
    chain as forward_port_chain,
    fit as forward_port_fit,
    legs as forward_port_legs,
    options as forward_port_options,
    record as forward_port_record,
)
from dashboard.panels.plot import five_lines
from dashboard.panels.tracks import leg as tracks_leg, ships as tracks_ships
from dashboard.view import current

seen = current()
five_lines.first_out(seen)
if layer.head(seen, "forward_port"):
    forward_port_options.show(seen)
    st.markdown("**The chain**")
    forward_port_chain.show(seen)
    st.markdown("**Does it fit**")
    forward_port_fit.show(seen)
    st.markdown("**Legs: from which fix, at which speed**")
    forward_port_legs.show(seen)
st.markdown("**Ships and aircraft**")
if layer.head(seen, "tracks"):
    tracks_ships.show(seen)
tracks_leg.show(seen)
forward_port_record.show(seen)
layer.foot(seen, "response")
