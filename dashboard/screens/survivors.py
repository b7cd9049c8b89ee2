"""Survivors: who is where, the air they have, the surface and the way to a hospital."""

import streamlit as st

from dashboard import follow
from dashboard.panels.plot import time_bar
from dashboard.panels.survivors import (
    air as survivors_air,
)
from dashboard.panels.survivors import (
    muster as survivors_muster,
)
from dashboard.panels.survivors import (
    surface as survivors_surface,
)
from dashboard.panels.text import caution, panel, words
from dashboard.view import current
from layers.contract import Unavailable
from layers.survivors.report import PEOPLE_CAUTION

seen = current()
found = seen.picture.layers.get("survivors")
if isinstance(found, Unavailable):
    panel(words(found.reason))
else:
    left, right = st.columns([1.3, 1.9], gap="small")
    with left:
        survivors_muster.show(seen)
        caution(PEOPLE_CAUTION)
        survivors_surface.show_water(seen)
    with right:
        survivors_air.show(seen)
    survivors_surface.show_hospital(seen)
time_bar.show(seen)
follow.changes(seen)
