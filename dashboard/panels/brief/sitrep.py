"""The situation report in the lettered paragraphs of the IAMSAR form, ready to copy."""

from __future__ import annotations

import streamlit as st

from dashboard import state
from dashboard.panels.journal.entries import kept_back
from dashboard.panels.plot.snapshot import as_read, choose, note, release_of, stamp_of
from dashboard.panels.text import a, line, panel, words
from dashboard.tools.forms.kept import kept, remembered
from dashboard.view import Seen
from layers.earth.errors import MusterplotError
from layers.scene.sitrep import StaffWords, citations, next_number, precedence, sitrep
from layers.survivors.muster.boat import boat_of

PRECEDENCES = ("DISTRESS", "URGENCY", "ROUTINE")
HEADER = ("number", "priority", "from_whom", "to_whom", "identity", "assistance", "coordinator",
          "description")  # fmt: skip


def show(seen: Seen) -> None:
    """Show what the staff adds, and the text."""
    st.markdown("**Situation report (SITREP)**")
    held = kept("sitrep")
    known = seen.known
    for name, begins in (
        ("number", str(next_number(known))), ("priority", precedence(seen.watch)),
        *((name, "") for name in HEADER[2:]),
    ):  # fmt: skip
        remembered(held, name, f"sitrep_{name}", begins)
    boat = boat_of(known, seen.moment.at)
    one, two, three, four = st.columns([0.6, 1, 1.2, 1.2])
    one.text_input("Number", key="sitrep_number")
    two.selectbox("Precedence", PRECEDENCES, key="sitrep_priority")
    three.text_input("From", key="sitrep_from_whom")
    four.text_input("To", key="sitrep_to_whom")
    left, right = st.columns(2)
    left.text_input("Identity of casualty", key="sitrep_identity", placeholder=boat.name or "")
    right.text_input("Co-ordinating RCC", key="sitrep_coordinator",
                     placeholder="as in the watch's list")  # fmt: skip
    left.text_input("Assistance required", key="sitrep_assistance",
                    placeholder="what was asked for and is not there")  # fmt: skip
    right.text_input("Description of casualty", key="sitrep_description",
                     placeholder=boat.words())  # fmt: skip
    typed = {name: str(st.session_state.get(f"sitrep_{name}") or "") for name in HEADER}
    held.typed |= typed  # kept while other pages are looked at
    number = typed.pop("number").strip()
    if not (number.isdigit() and 1 <= int(number) <= 999):
        st.html('<div class="mp-fault" role="alert">! Number: 1 to 999</div>')
        number = str(next_number(known))
    told = StaffWords(number=int(number), **typed)
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
            for name in ("number",):  # the next report counts on
                held.typed.pop(name, None)
                st.session_state.pop(f"sitrep_{name}", None)
            st.rerun()


def _links(cited: tuple[str, tuple[int, ...]]) -> str:
    letter, numbers = cited
    return line(
        words(f"{letter}."),
        *(a(state.link("log", record=str(number)), str(number)) for number in numbers),
    )
