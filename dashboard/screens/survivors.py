"""Survivors: everybody as a mark, one row a refuge with what ends first, who is in the water."""

from collections.abc import Callable
from functools import partial

import streamlit as st

from dashboard.panels import layer
from dashboard.panels.survivors import air, muster, rows, surface
from dashboard.panels.text import caution
from dashboard.tools import need
from dashboard.view import current
from layers.catalogue import BY_KEY
from layers.contract import Shown
from layers.survivors.air.formulas import AirOutlook

AIR = "Air is an estimate and no medical advice; its levels are those the medical officer entered."
seen = current()


def reckoned(outlook: AirOutlook) -> None:
    """Show how the air was reckoned, under its layer's whole caution."""
    layer.cautions("margin")
    air.show_reckoned(seen, outlook)


held = seen.picture.layers.get("survivors")
if isinstance(held, Shown):
    folded: dict[str, Callable[[], None]] = {}
    left, right = st.columns([3.1, 1], gap="small")
    with left:
        who = muster.show(seen)
        assert who is not None
        outlook = rows.show(seen, muster.then(seen, who))
        if outlook is not None:
            air.show_missing(outlook)
            folded["Stores and pods"] = partial(air.show_stores, outlook)
        folded["Escape or wait"] = partial(surface.show_escape, seen)
        folded["To hospital"] = partial(surface.show_hospital, seen)
        folded["By place"] = partial(muster.show_table, seen, who)
        if outlook is not None:
            folded["How reckoned"] = partial(reckoned, outlook)
        if seen.writable:
            folded["Move people"] = partial(muster.show_form, seen, who)
            folded["Add a reading"] = partial(air.show_forms, seen)
            folded["Add craft"] = partial(surface.show_forms, seen)
        layer.foot(seen, "survivors", folded)
    with right:
        surface.show_water(seen)
        surface.show_ready(seen)
    caution(f"{BY_KEY['survivors'].caution} {AIR}")
else:
    reason = held.reason if held else "Nobody is counted yet."
    need.said(seen, reason, "survivors")
    layer.foot(seen, "survivors")
