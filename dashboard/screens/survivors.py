"""Survivors: who is where, the air they have, the surface and the way to a hospital."""

import streamlit as st

from dashboard.panels import layer
from dashboard.panels.survivors import (
    air as survivors_air,
)
from dashboard.panels.survivors import (
    muster as survivors_muster,
)
from dashboard.panels.survivors import (
    surface as survivors_surface,
)
from dashboard.view import current

seen = current()
if layer.head(seen, "survivors"):
    left, right = st.columns([1.3, 1.9], gap="small")
    with left:
        survivors_muster.show(seen)
        survivors_surface.show_water(seen)
    with right:
        survivors_air.show(seen)
    survivors_surface.show_hospital(seen)
layer.foot(seen, "survivors")
