"""The two clocks: how long they can last, and when the last will be out; small and large."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.survivors import margin as survivors_margin
from dashboard.panels.survivors.clocks import two_clocks
from dashboard.panels.text import words
from dashboard.view import Seen
from layers.contract import Shown, Unavailable


def small(seen: Seen) -> None:
    """Show them beside the chart."""
    survivors_margin.show_small(seen)


def wall(seen: Seen) -> None:
    """Show them under the wall's chart; the style sheet gives them their height."""
    shown = seen.picture.layers.get("margin")
    inner = two_clocks(shown.result, seen.ink, "wall") if isinstance(shown, Shown) else ""
    if not inner:
        reason = "no lift plan yet" if shown is None else _reason(shown)
        inner = f'<div class="mp-w">{words(f"The two clocks: {reason}", "quiet")}</div>'
    st.markdown(f'<div class="mp-clocks">{inner}</div>', unsafe_allow_html=True)


def _reason(shown: Shown | Unavailable) -> str:
    return shown.reason if isinstance(shown, Unavailable) else str(shown.result.outlook.unavailable)
