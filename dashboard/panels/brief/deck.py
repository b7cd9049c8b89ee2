"""One click makes the slide deck; it is a record, then it can be saved."""

from __future__ import annotations

import streamlit as st

from dashboard import state
from dashboard.panels.plot.snapshot import as_read, choose, note, release_of, stamp_of, take
from dashboard.state import Key
from dashboard.view import Seen
from layers.earth.errors import MusterplotError
from layers.scene.deck import deck
from layers.scene.release import Release


def show(seen: Seen) -> None:
    """Show the button, and the deck once it is made."""
    to = st.text_input("To whom it may go", "operations room", key="deck_to")
    name = choose(seen, "deck_release")
    if st.button("Make the slides", key="make_deck"):
        release = release_of(seen, name, to)
        try:
            content = build(seen, release)
            name = f"brief-{seen.moment.at:%d%H%M}Z.pptx"
            note(seen, name, release, content)
        except MusterplotError as reason:
            st.error(str(reason))
            return
        state.put(Key.DECK, (name, content))
    held = state.get(Key.DECK)
    if held:
        st.download_button(f"Save {held[0]}", held[1], file_name=held[0], key="save_deck")
        st.caption(
            "Each slide one message, dated, with text, tables and charts that can be edited."
        )


def build(seen: Seen, release: Release) -> bytes:
    """Return the deck of what this viewer sees."""
    plot = take(seen, "png", "day", release, for_slide=True)
    shown = as_read(seen, release)
    stamp = stamp_of(shown, "Brief", release)
    return deck(shown.picture, shown.answers, shown.watch, stamp, plot.content)
