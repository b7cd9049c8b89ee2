"""A small reckoner beside the searchers: the sweep width to type, by its factors."""

from __future__ import annotations

from typing import Any

import streamlit as st

from dashboard.panels.text import line, panel, words
from layers.datum.search.width import corrected, fastest_kn, over_the_bottom
from layers.earth.errors import InputError
from layers.earth.units import M_PER_NMI

EYES, SONAR = "eyes or radar", "sonar, hull or towed"
SMALL, LARGER = "person in the water or a boat under 9 m", "anything larger"


def show() -> None:
    """Show the fields and what they make: nothing is recorded, the figure is typed above."""
    st.markdown("**Sweep width from your table**")
    first, second, third, fourth = st.columns(4)
    by: Any = first.selectbox("Searches by", (EYES, SONAR), key="datum.width.by")
    try:
        if by == SONAR:
            reach = second.number_input("Sees to (m)", 1.0, 20_000.0, 100.0, key="datum.width.far")
            gap = third.number_input("Gap under it (m)", 0.0, 5_000.0, 10.0, key="datum.width.gap")
            seen = fourth.number_input("Sees what lies there, of 100", 1, 100, 80,
                                       key="datum.width.chance")  # fmt: skip
            above = first.number_input("Above the bottom (m)", 0.0, 11_000.0, 30.0,
                                       key="datum.width.above")  # fmt: skip
            fast = second.number_input("Speed (kn)", 0.1, 40.0, 4.0, key="datum.width.speed")
            length = third.number_input("Length looked for (m)", 0.5, 500.0, 60.0,
                                        key="datum.width.length")  # fmt: skip
            found = over_the_bottom(reach, above, gap, seen / 100.0, fast, length)
            speed = fastest_kn(reach, length)
            more = (
                f" Five pings on {length:g} m want {speed:.1f} kn at most "
                "(common practice, no source)."
            )
        else:
            table = second.number_input("By the table (nmi)", 0.01, 60.0, 1.0,
                                        key="datum.width.table")  # fmt: skip
            sort: Any = third.selectbox("Looks for", (SMALL, LARGER), key="datum.width.sort")
            wind = fourth.number_input("Wind (kn)", 0.0, 90.0, value=None, key="datum.width.wind")
            sea = first.number_input("Sea (m)", 0.0, 15.0, value=None, key="datum.width.sea")
            tired = second.checkbox("Crew much tired", key="datum.width.tired")
            found = corrected(table * M_PER_NMI, sort, wind, sea, tired=tired)
            more = " The table's own figure is by craft, height, visibility and object."
    except InputError as reason:
        panel(words(str(reason)))
        return
    panel(
        line(
            words(
                f"Sweep width {found.metres:.0f} m, {found.metres / M_PER_NMI:.2f} nmi: "
                f"{found.words}.{more}"
            )
        )
    )
