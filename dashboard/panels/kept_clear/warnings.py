"""The warnings to shipping and to airmen, as text to be sent on by those whose task it is."""

from __future__ import annotations

import streamlit as st

from dashboard.tools import need
from dashboard.view import Seen
from layers.kept_clear.compute import Kept
from layers.kept_clear.report import to_airmen, to_shipping


def show(seen: Seen) -> None:
    """Show both drafts; a blank stands where nobody has entered what belongs there."""
    kept: Kept | None = seen.picture.result("kept_clear")
    if kept is None:
        return
    exercise = seen.exercise
    st.markdown("**Warning to shipping, a draft**")
    st.code(to_shipping(kept, exercise), language=None, wrap_lines=True)
    airmen = to_airmen(kept, exercise)
    st.markdown("**Notice to airmen, a draft**")
    if airmen:
        st.code(airmen, language=None, wrap_lines=True)
    else:
        need.said(seen, "No ceiling is recorded with the area: no airspace is asked for.",
                  "ceiling", "kept_clear.area")  # fmt: skip
