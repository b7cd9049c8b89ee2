"""Legs, with the fix and speed each time rests on; and the published ports near the datum."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import panel, table
from dashboard.view import Seen

PUBLISHED = "Published ports near the datum"


def show(seen: Seen) -> None:
    """Show the legs, and the ports of the published table where one was read."""
    found = seen.picture.shown("forward_port")
    if found is None:
        return
    legs = found.tables.get("Legs")
    if legs is not None and legs.rows:
        panel(table(legs.rows, legs.heads, figures=(3, 4)))
    ports = found.tables.get(PUBLISHED)
    if ports is not None:
        with st.expander(PUBLISHED):
            result = found.result.published
            st.caption(
                f"{result.ports} ports read, depth not known of {result.depth_unknown}; "
                f"{result.runway_count} runways, length not known of {result.runway_unknown}. "
                "Only reported, not surveyed."
            )
            panel(table(ports.rows, ports.heads))
    else:
        st.caption(
            "Published ports: add your own copies of the World Port Index and of the runways "
            "table (CSV) to rank them for the datum."
        )
