"""The two clocks: how long they can last, and when the last will be out; small and large."""

from __future__ import annotations

from dashboard.panels import survivors_margin
from dashboard.panels.survivors_clocks import two_clocks
from dashboard.panels.text import panel
from dashboard.view import Seen


def small(seen: Seen) -> None:
    """Show them beside the chart."""
    survivors_margin.show_small(seen)


def large(seen: Seen) -> None:
    """Show them over the large half of the wall."""
    outlook = survivors_margin.outlook_of(seen)
    if outlook is not None:
        panel(f'<div style="height:82vh">{two_clocks(outlook, seen.ink, "wall")}</div>')
