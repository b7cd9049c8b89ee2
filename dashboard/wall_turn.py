"""What the wall's large half shows: the chart, or views in turn when the address asks for it.

``?turn=30`` turns every thirty seconds through the chart and the two clocks.
"""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from dashboard import state
from dashboard.panels import chart, two_clocks
from dashboard.state import Key
from dashboard.view import Seen

VIEWS = ("chart", "clocks")
LEAST_S, MOST_S = 5, 600


def seconds() -> int | None:
    """Return the seconds a view stands, None when the wall does not turn."""
    text = st.query_params.get("turn", "")
    if not text.isdigit() or len(text) > 4:
        return None
    return min(max(int(text), LEAST_S), MOST_S)


def show(seen: Seen) -> None:
    """Show the view whose turn it is."""
    turn = seconds()
    view = VIEWS[state.get(Key.TURN) % len(VIEWS)] if turn else VIEWS[0]
    if view == "clocks":
        two_clocks.large(seen)
    else:
        chart.show(seen, key="wall_chart")
    if turn:
        _next_after(turn)


def _next_after(turn: int) -> None:
    @st.fragment(run_every=timedelta(seconds=turn))
    def tick() -> None:
        if state.get(Key.TURN_TICK):
            state.put(Key.TURN_TICK, False)
            state.put(Key.TURN, state.get(Key.TURN) + 1)
            st.rerun()
        state.put(Key.TURN_TICK, True)

    tick()
