"""The situation report in the lettered paragraphs of the IAMSAR form, ready to copy."""

from __future__ import annotations

import streamlit as st

from dashboard import state
from dashboard.panels.journal.entries import kept_back
from dashboard.panels.plot.snapshot import as_read, choose, note, release_of, stamp_of
from dashboard.panels.text import a, line, panel, words
from dashboard.view import Seen
from layers.earth.errors import MusterplotError
from layers.scene.sitrep import Told, citations, sitrep


def show(seen: Seen) -> None:
    """Show what the staff adds, and the text."""
    st.markdown("**Situation report (SITREP)**")
    one, two, three = st.columns(3)
    told = Told(
        number=int(one.number_input("Number", 1, 999, 1, key="sitrep_number")),
        from_whom=two.text_input("From", key="sitrep_from"),
        to_whom=three.text_input("To", key="sitrep_to"),
        identity=st.text_input("Identity of casualty", key="sitrep_identity"),
        assistance=st.text_input("Assistance required", key="sitrep_assistance"),
        description=st.text_input("Description of casualty", key="sitrep_description"),
    )
    full = st.toggle("Full form", value=True, key="sitrep_full")
    release = release_of(seen, choose(seen, "sitrep_release"), told.to_whom)
    shown = as_read(seen, release)
    stamp = stamp_of(shown, "SITREP", release)
    text = sitrep(shown.picture, shown.known, stamp, release, told, full=full)
    st.code(text, language=None, wrap_lines=True)
    if not kept_back(seen) and (links := "".join(map(_links, citations(text).items()))):
        panel(words("Records cited, as they stand in the log", "mp-quiet") + links)
    if st.button("Note that it was sent", key="sitrep_sent"):
        try:
            note(seen, f"SITREP {told.number}", release, text.encode())
        except MusterplotError as reason:
            st.error(str(reason))
        else:
            st.toast("Noted in the journal")


def _links(cited: tuple[str, tuple[int, ...]]) -> str:
    letter, numbers = cited
    return line(
        words(f"{letter}."),
        *(a(state.link("log", record=str(number)), str(number)) for number in numbers),
    )
