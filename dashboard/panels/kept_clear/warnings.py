"""The warnings to shipping and to airmen, as text to be sent on by those whose task it is."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import panel, words
from dashboard.tools import need
from dashboard.view import Seen
from layers.kept_clear.compute import Kept
from layers.kept_clear.report import to_airmen, to_shipping


def show(seen: Seen) -> None:
    """Show both drafts; a blank stands where nobody has entered what belongs there."""
    kept: Kept | None = seen.picture.result("kept_clear")
    if kept is None:
        return
    for ground in kept.grounds:
        of = f" of the {ground.area.name}" if len(kept.grounds) > 1 else ""
        st.markdown(f"**Warning to shipping{of}, a draft**")
        if ground.area.ends <= kept.at:
            panel(words("The area has ended: there is nothing to warn of."))
            continue
        st.code(to_shipping(kept, ground, seen.exercise), language=None, wrap_lines=True)
        airmen = to_airmen(kept, ground, seen.exercise)
        st.markdown(f"**Notice to airmen{of}, a draft**")
        if airmen:
            st.code(airmen, language=None, wrap_lines=True)
        else:
            need.said(seen, "No ceiling is recorded with the area: no airspace is asked for.",
                      f"ceiling {ground.area.name}", "kept_clear.area")  # fmt: skip
