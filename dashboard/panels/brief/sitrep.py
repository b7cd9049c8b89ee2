"""The situation report in the lettered paragraphs of the IAMSAR form, ready to copy."""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st

from dashboard import state
from dashboard.panels.journal.entries import kept_back
from dashboard.panels.plot.snapshot import as_read, choose, note, release_of, stamp_of
from dashboard.panels.text import a, line, panel, words
from dashboard.tools.forms.kept import kept, remembered
from dashboard.view import Seen
from layers.earth.errors import MusterplotError
from layers.scene.release import Release
from layers.scene.sitrep import StaffWords, citations, next_number, precedence, sitrep
from layers.survivors.muster.boat import boat_of

PRECEDENCES = ("DISTRESS", "URGENCY", "ROUTINE")
HEADER = ("number", "priority", "from_whom", "to_whom", "identity", "assistance", "coordinator",
          "description")  # fmt: skip


@dataclass(frozen=True, slots=True)
class SitrepWanted:
    """What the staff adds, and for whom the report is."""

    told: StaffWords
    release: Release
    full: bool


def ask(seen: Seen) -> SitrepWanted:
    """Show the fields that the staff adds, with what the journal fills them with."""
    held = kept("sitrep")
    known = seen.known
    for name, begins in (
        ("number", str(next_number(known))), ("priority", precedence(seen.watch)),
        *((name, "") for name in HEADER[2:]),
    ):  # fmt: skip
        remembered(held, name, f"sitrep_{name}", begins)
    boat = boat_of(known, seen.moment.at)
    one, two = st.columns([0.6, 1])
    one.text_input("Number", key="sitrep_number")
    two.selectbox("Precedence", PRECEDENCES, key="sitrep_priority")
    left, right = st.columns(2)
    left.text_input("From", key="sitrep_from_whom")
    right.text_input("To", key="sitrep_to_whom")
    left.text_input("Identity of casualty", key="sitrep_identity", placeholder=boat.name or "")
    right.text_input("Co-ordinating RCC", key="sitrep_coordinator",
                     placeholder="as in the watch's list")  # fmt: skip
    left.text_input("Assistance required", key="sitrep_assistance",
                    placeholder="asked for, not there")  # fmt: skip
    right.text_input("Description of casualty", key="sitrep_description",
                     placeholder="as told of her", help=boat.words() or None)  # fmt: skip
    typed = {name: str(st.session_state.get(f"sitrep_{name}") or "") for name in HEADER}
    held.typed |= typed  # kept while other pages are looked at
    number = typed.pop("number").strip()
    if not (number.isdigit() and 1 <= int(number) <= 999):
        st.html('<div class="mp-fault" role="alert">! Number: 1 to 999</div>')
        number = str(next_number(known))
    told = StaffWords(number=int(number), **typed)
    release = release_of(seen, choose(seen, "sitrep_release"), told.to_whom)
    full = st.toggle("Full form", value=True, key="sitrep_full")
    return SitrepWanted(told, release, full)


def show(seen: Seen, asked: SitrepWanted) -> str:
    """Show the report in a box of its own; return the records it cites, as ready lines."""
    shown = as_read(seen, asked.release)
    stamp = stamp_of(shown, "SITREP", asked.release)
    text = sitrep(
        shown.picture, shown.known, shown.answers, stamp, asked.release, asked.told,
        full=asked.full,
    )  # fmt: skip
    with st.container(key="sitrep_text"):  # as high as the style sheet says: it grows too
        st.code(text, language=None, wrap_lines=True)
    if st.button("Note that it was sent", key="sitrep_sent"):
        try:
            note(seen, f"SITREP {asked.told.number}", asked.release, text.encode())
        except MusterplotError as reason:
            st.error(str(reason))
        else:  # the next report counts on
            kept("sitrep").typed.pop("number", None)
            st.session_state.pop("sitrep_number", None)
            st.rerun()
    return "" if kept_back(seen) else "".join(map(_links, citations(text).items()))


def show_cited(links: str) -> None:
    """Show the records that a report cites, as they stand in the log."""
    panel(links)


def _links(cited: tuple[str, tuple[int, ...]]) -> str:
    letter, numbers = cited
    return line(
        words(f"{letter}."),
        *(a(state.link("log", record=str(number)), str(number)) for number in numbers),
    )
