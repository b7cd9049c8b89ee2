"""The box beside the chart: what matters now, measuring, layers, chart, or adding a report."""

from __future__ import annotations

import streamlit as st

from dashboard import state
from dashboard.panels.plot import (
    chart_choice,
    five_lines,
    layer_switches,
    situation,
    snapshot as snapshot_panel,
    two_clocks,
)
from dashboard.state import Key
from dashboard.tools import drop, measure
from dashboard.tools.forms import record_form
from dashboard.view import Seen


def _now(seen: Seen) -> None:
    five_lines.show(seen)
    two_clocks.small(seen)


def _add(seen: Seen) -> None:
    """Show both ways to add to the journal: drop a file, or type a report."""
    drop.show(seen)
    record_form.choose(seen, key="plot")


BOXES = {
    "Now": _now,
    "State": situation.show,
    "Measure": measure.show,
    "Add": _add,
    "Layers": layer_switches.show,
    "Chart": chart_choice.show,
    "Export": snapshot_panel.show,
}


def changes_whole(seen: Seen) -> bool:
    """Whether all that changes beside the chart is swapped in: the page need not be run again."""
    return not seen.writable and state.get(Key.SIDE) == "Now"


def show(seen: Seen) -> None:
    """Show the box chosen."""
    chosen = st.segmented_control(
        "Beside the chart",
        tuple(BOXES),
        default=state.get(Key.SIDE),
        key="side_choice",
        label_visibility="collapsed",
    )
    box = chosen or "Now"
    state.put(Key.SIDE, box)
    BOXES[box](seen)
