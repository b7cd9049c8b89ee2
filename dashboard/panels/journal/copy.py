"""A copy of the whole journal with its hash chain, for the watch to hand out; itself a record."""

from __future__ import annotations

import streamlit as st

from dashboard import state
from dashboard.panels.plot.snapshot import note, stamp_of
from dashboard.state import Key
from dashboard.view import Seen
from layers.earth.errors import MusterplotError
from layers.journal.copies.copied import copy_zip
from layers.scene.release import Release


def show(seen: Seen) -> None:
    """Show the button, and the copy once it is made; it holds everything, so only the watch may."""
    if not seen.writable:
        return
    to = st.text_input("To whom it may go", "operations room", key="copy_to")
    if st.button("Make the copy", key="make_copy"):
        release = Release(names=True, to=to.strip() or "not stated")
        try:
            content = copy_zip(seen.pen, stamp_of(seen, "Journal", release).lines())
            name = f"journal-{seen.now:%d%H%M}Z.zip"
            note(seen, name, release, content)
        except MusterplotError as reason:
            st.error(str(reason))
            return
        state.put(Key.EXPORT, (name, content))
    held = state.get(Key.EXPORT)
    if held and held[0].startswith("journal-"):
        st.download_button(f"Save {held[0]}", held[1], file_name=held[0], key="save_copy")
    st.caption("Every record as it was hashed, and check.py, which needs Python alone.")
