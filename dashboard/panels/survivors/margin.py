"""The margin: the two clocks, the sentence, each refuge's figures, the caution beside them."""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from dashboard.panels.survivors.clocks import two_clocks
from dashboard.panels.text import caution, line, panel, table, wide, words
from dashboard.view import Seen
from layers.earth.clock import clock_words
from layers.survivors.lifts.margin_model import Outlook
from layers.survivors.lifts.report import (
    CAUTION,
    level_table,
    margin_sentence,
    refuge_table,
)

OLDER_THAN = timedelta(minutes=6)  # it is worked out anew every five

__all__ = ["known", "outlook_of", "show", "show_small", "two_clocks"]


def known(seen: Seen) -> bool:
    """Return whether there is a margin to show."""
    shown = seen.picture.shown("margin")
    return shown is not None and not shown.result.outlook.unavailable


def outlook_of(seen: Seen) -> Outlook | None:
    """Return what is known of lifts and margin, or show why there is nothing."""
    found = seen.picture.layers.get("margin")
    shown = seen.picture.shown("margin")
    if shown is None:
        panel(words(getattr(found, "reason", "no margin yet")))
        return None
    outlook: Outlook = shown.result.outlook
    if outlook.unavailable:
        panel(words(f"No margin yet. {outlook.unavailable}"))
        return None
    return outlook


def show(seen: Seen) -> None:
    """Show the margin in full."""
    outlook = outlook_of(seen)
    if outlook is None:
        return
    said = line(words(margin_sentence(outlook)))
    panel(said + _older(seen) + two_clocks(outlook, seen.ink, "full"))
    for remark in outlook.remarks:
        panel(line(words(remark)))
    held = refuge_table(outlook)
    panel(table(held.rows, held.heads))
    with st.expander("Level by level, with each level's source"):
        levels = level_table(outlook)
        panel(_scrolled(table(levels.rows, levels.heads)))
    caution(
        f"{CAUTION} From {outlook.draws} draws of everything uncertain together (seed "
        f"{outlook.seed}). Out: the hatch is shut behind the last of them; on deck is later."
    )


def show_small(seen: Seen) -> None:
    """Show the two clocks beside the chart, with the margin in words."""
    shown = seen.picture.shown("margin")
    if shown is None:
        why = getattr(seen.picture.layers.get("margin"), "reason", "not worked out yet")
        panel(line(words(f"No margin: {why}", "mp-quiet")))
        return
    outlook: Outlook = shown.result.outlook
    if outlook.unavailable:
        panel(line(words(f"No margin yet. {outlook.unavailable}", "mp-quiet")))
    elif outlook.clocks is not None:
        key = "above: persons who can last; below: persons out; bar: the margin between"
        panel(two_clocks(outlook, seen.ink, "small") + _older(seen) + line(words(key, "mp-quiet")))


def _older(seen: Seen) -> str:
    """Return of when the margin is, when it is an older one that stands while a new one is made."""
    shown = seen.picture.shown("margin")
    if shown is None or seen.moment.at - shown.result.at <= OLDER_THAN:
        return ""
    return line(words(f"worked out as of {clock_words(shown.result.at, seen.moment.at)}"))


def _scrolled(inner: str) -> str:
    return wide(inner)
