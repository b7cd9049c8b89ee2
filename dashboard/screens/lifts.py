"""The lifts: the two clocks and the margin, what gains most, the plan, the sortie under way."""

from functools import partial

import streamlit as st

from dashboard.panels import layer
from dashboard.panels.survivors import (
    gain as survivors_gain,
    lifts as survivors_lifts,
    margin as survivors_margin,
    sortie as survivors_sortie,
)
from dashboard.view import current

seen = current()
if survivors_margin.known(seen):
    left, right = st.columns([2.35, 1], gap="small")
    with left:
        survivors_margin.show(seen)
    with right:
        st.markdown("**Sortie under way**")
        survivors_sortie.show(seen)
        st.markdown("**What gains most**")
        survivors_gain.show(seen)
    layer.foot(
        seen,
        "lifts",
        {
            "Lift by lift": partial(survivors_lifts.show, seen),
            "Chambers": partial(survivors_lifts.show_chambers, seen),
            "Every figure": partial(survivors_lifts.show_figures, seen),
            "Level by level": partial(survivors_margin.tables, seen),
            "Decisions": partial(survivors_gain.folded, seen),
            "Fill from the muster": partial(survivors_lifts.show_proposed, seen),
            "Change the plan": partial(survivors_lifts.forms, seen),
        },
    )
else:
    survivors_margin.show(seen)
    layer.foot(seen, "lifts", {"Change the plan": partial(survivors_lifts.forms, seen)})
