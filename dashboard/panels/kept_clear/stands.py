"""Who is under water, and what goes on, has stopped, or is not known to have stopped."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import panel, table, words
from dashboard.tools import need
from dashboard.view import Seen
from layers.earth.clock import clock_words
from layers.kept_clear.compute import Kept
from layers.kept_clear.report import fix_words

STATE = {True: "stopped", False: "GOES ON", None: "not known"}


def show(seen: Seen) -> None:
    """Show the two tables that are asked first, and who is in the area."""
    kept: Kept | None = seen.picture.result("kept_clear")
    if kept is None:
        return
    left, right = st.columns(2, gap="small")
    with left:
        st.markdown("**Who is under water**")
        rows = [
            (one.who, one.sort, "–" if one.persons is None else str(one.persons),
             clock_words(one.since, kept.at), one.said)
            for one in kept.under
        ]  # fmt: skip
        if rows:
            panel(table(rows, ("Who", "What", "Persons", "Since", "By")))
        else:
            need.said(seen, "Nobody is told to be under water. That is no proof that nobody is.",
                      "below", "kept_clear.below")  # fmt: skip
    with right:
        st.markdown("**Stopped while anybody is under water**")
        rows_3 = [(one.what, STATE[one.safe], one.said) for one in kept.stopped]
        panel(table(rows_3, ("What", "State", "In words")))
    st.markdown("**In the area, or steering into it within two hours**")
    several = len(kept.grounds) > 1
    ships = [
        (one.name, one.role, f"{one.off_nmi:.1f}",
         "is inside" if one.enters is None else f"comes in {clock_words(one.enters, kept.at)}",
         fix_words(one, kept), *((one.area,) if several else ()))
        for one in kept.ships
    ]  # fmt: skip
    if ships:
        heads = ("Ship", "Role", "From its middle (nmi)", "Where", "Her place")
        panel(table(ships, (*heads, *(("Area",) if several else ()))))
    else:
        panel(words("No ship is known to be in it or to steer into it."))
