"""Survivors: everybody as a mark, one row a refuge with what ends first, who is in the water."""

from collections.abc import Callable
from functools import partial

import streamlit as st

from dashboard.panels import layer
from dashboard.panels.survivors import air, muster, rows, surface
from dashboard.panels.text import panel, words
from dashboard.view import current
from layers.contract import Shown

seen = current()
held = seen.picture.layers.get("survivors")
if isinstance(held, Shown):
    left, right = st.columns([3.1, 1], gap="small")
    with left:
        who = muster.show(seen)
        assert who is not None
        outlook = rows.show(seen, who)
        folded: dict[str, Callable[[], None]] = {}
        if outlook is not None:
            air.show_missing(outlook)
            folded["Stores and pods"] = partial(air.show_stores, outlook)
        folded["Escape against waiting"] = partial(surface.show_escape, seen)
        folded["To hospital"] = partial(surface.show_hospital, seen)
        folded["By place and fitness"] = partial(muster.show_table, seen, who)
        if outlook is not None:
            folded["How reckoned"] = partial(air.show_reckoned, seen, outlook)
        if seen.writable:
            folded["Move people"] = partial(muster.show_form, seen, who)
            folded["Add a reading"] = partial(air.show_forms, seen)
            folded["Add craft, people in the water"] = partial(surface.show_forms, seen)
        opened = st.pills("More", list(folded), key="survivors.more", label_visibility="collapsed")
        if opened:
            folded[opened]()
        layer.cautions("survivors", "margin")
    with right:
        surface.show_water(seen)
        surface.show_ready(seen)
else:
    panel(words(held.reason if held else "Nobody is counted yet."))
layer.foot(seen, "survivors")
