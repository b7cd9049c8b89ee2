"""Layers on and off, each with its sentence or why it has none."""

from __future__ import annotations

import streamlit as st

from dashboard import state
from dashboard.panels.text import panel, words
from dashboard.state import Key
from dashboard.view import Seen
from layers.catalogue import LAYERS
from layers.contract import Shown


def show(seen: Seen) -> None:
    """Show a switch a layer and what it says."""
    hidden = set(state.get(Key.HIDDEN))
    for layer in reversed(LAYERS):
        found = seen.picture.layers.get(layer.key)
        on = st.toggle(layer.title, value=layer.key not in hidden, key=f"layer_{layer.key}")
        hidden = hidden - {layer.key} if on else hidden | {layer.key}
        if isinstance(found, Shown):
            panel(words(found.sentence))
        elif found is not None:
            panel(words(f"Not shown: {found.reason}", "mp-quiet"))
    shaded = st.toggle(
        "Shade the sea by forecast fields", value=state.get(Key.SHADED), key="shade_choice"
    )
    every = st.toggle(
        "Older evidence and rings of hearing, also while a fix holds",
        value=state.get(Key.EVERY_MARK),
        key="every_mark_choice",
    )
    if (shaded, every) != (state.get(Key.SHADED), state.get(Key.EVERY_MARK)):
        state.put(Key.SHADED, shaded)
        state.put(Key.EVERY_MARK, every)
        st.rerun()
    if hidden != set(state.get(Key.HIDDEN)):
        state.put(Key.HIDDEN, tuple(sorted(hidden)))
        st.rerun()
