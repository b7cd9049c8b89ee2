"""The two clocks: how long they can last, and when the last will be out; small and large."""

from __future__ import annotations

import streamlit as st

from dashboard.panels import survivors_margin
from dashboard.panels.survivors_clocks import two_clocks
from dashboard.view import Seen


def small(seen: Seen) -> None:
    """Show them beside the chart."""
    survivors_margin.show_small(seen)


def wall(seen: Seen) -> None:
    """Show them under the wall's chart; the style sheet gives them their height."""
    shown = seen.picture.shown("margin")
    if shown is not None and not shown.result.outlook.unavailable:
        st.html(
            f'<div class="mp-clocks">{two_clocks(shown.result.outlook, seen.ink, "wall")}</div>'
        )
