"""The way home: who has what, when it is home and ready again, who must be told; its forms."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import panel, table, words
from dashboard.tools.forms import record_form
from dashboard.tools.send import draft_now, pressed
from dashboard.view import Seen
from layers.earth.clock import dtg
from layers.earth.errors import MusterplotError
from layers.forward_port.home.begin import way_back
from layers.forward_port.home.report import WHO_HAS, places_table, things_table
from layers.forward_port.result import ForwardPortResult

FORMS = ("forward_port.held", "forward_port.ready_again", "forward_port.told_coming")
WITHHELD = "The way home is withheld here."


def show(seen: Seen) -> None:
    """Show both tables, then what begins the way home, then the three forms."""
    found = seen.picture.shown("forward_port")
    result: ForwardPortResult | None = found.result if found else None
    if seen.release.guarded:
        panel(words(WITHHELD, "mp-quiet"))
        return
    home = result.home if result else None
    if home is None or not home.things:
        panel(words(f"Not known yet: {WHO_HAS}.", "mp-quiet"))
    if home is not None and result is not None:
        for made in (things_table(home, result.now), places_table(home, result.now)):
            if made.rows:
                panel(table(made.rows, made.heads))
    if not seen.writable:
        st.caption("Reading only: the watch records.")
        return
    if result is not None:
        _begin(seen, result)
    record_form.show_one_of(seen, FORMS, chooser="response.home", key="home")


def _begin(seen: Seen, result: ForwardPortResult) -> None:
    """Offer the chain home while none is there; it is the way that was followed, turned round."""
    main = result.main()
    if main is None or not main.activities:
        st.caption("The chain home is made of the chain out: its activities come first.")
        return
    if any(each.option.purpose == "return" for each in result.options):
        return
    keys = [each.option.key for each in result.options]
    try:
        payload = way_back(seen.known, main, seen.now, keys)
    except MusterplotError as reason:
        st.caption(str(reason))
        return
    label = f"Begin the way home: {main.option.title}, turned round, from {dtg(seen.now)}"
    if st.button(label, key="response.home.begin"):
        pressed(seen, draft_now(seen, "forward_port.option", payload), key="response.home.begin")
