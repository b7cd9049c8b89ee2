"""What another room has done to this room's records: told here at once, until it is seen."""

from __future__ import annotations

import streamlit as st

from dashboard import duty
from dashboard.panels.text import line, words
from dashboard.view import Seen
from layers.journal.changed import changed_by_others
from layers.journal.side_by_side import signed_words
from layers.journal.signature import Signature

SEEN = "changed.seen"


def show(seen: Seen) -> None:
    """Show what others changed of this room's records, with the press that puts it away."""
    if not seen.writable or seen.release.guarded:
        return
    here = Signature("", duty.room(), duty.server())
    told = [one for one in changed_by_others(seen.known, here) if one.act.id not in _put_away()]
    if not told:
        return
    with st.container(key="changed"), st.popover(f"Changed by others: {len(told)}"):
        for one in reversed(told[-8:]):
            said = one.words(seen.known, 120)
            who = signed_words(one.act, seen.now)
            number = words(f"No. {one.target.seq}")
            st.html(line(f"<b>{number}</b>", words(said), words(who, "mp-quiet")))
        ids = [one.act.id for one in told]
        st.button("Seen", key="changed.put_away", on_click=_put_away().update, args=(ids,))


def _put_away() -> set[str]:
    held: set[str] = st.session_state.setdefault(SEEN, set())
    return held
