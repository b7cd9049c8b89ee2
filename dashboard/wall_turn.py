"""The wall's lower half: the two clocks beside the chart, each wide in turn when asked.

``?turn=30`` turns every thirty seconds between a large chart and large clocks.
"""

from __future__ import annotations

from datetime import timedelta

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from dashboard import state
from dashboard.panels.plot import chart, two_clocks
from dashboard.state import Key
from dashboard.view import Seen
from layers.earth.units import M_PER_NMI

VIEWS = ("chart", "clocks")
LEAST_S, MOST_S = 5, 600


def seconds() -> int | None:
    """Return the seconds a view stands, None when the wall does not turn."""
    text = st.query_params.get("turn", "")
    if not text.isdigit() or len(text) > 4:
        return None
    return min(max(int(text), LEAST_S), MOST_S)


def clocks_large() -> bool:
    """Whether it is the clocks' turn to be the large one of the two."""
    return seconds() is not None and VIEWS[state.get(Key.TURN) % len(VIEWS)] == "clocks"


def show(seen: Seen, left: DeltaGenerator, right: DeltaGenerator) -> None:
    """Show clocks and chart; the one whose turn it is is large. Both always listen and show."""
    with left:
        two_clocks.wall(seen)
    with right:
        chart.show(seen, key="wall_chart", wall=True, half_m=_work_half_m(seen))
    turn = seconds()
    if turn:
        _next_after(turn)


def _work_half_m(seen: Seen) -> float:
    """Return half the width of the chart of the work: two miles about her, once she is found."""
    found = seen.picture.shown("datum")
    return M_PER_NMI if found is not None and getattr(found.result, "is_fix", False) else 0.0


def _next_after(turn: int) -> None:
    @st.fragment(run_every=timedelta(seconds=turn))
    def tick() -> None:
        if state.get(Key.TURN_TICK):
            state.put(Key.TURN_TICK, False)
            state.put(Key.TURN, state.get(Key.TURN) + 1)
            st.rerun()
        state.put(Key.TURN_TICK, True)

    tick()
