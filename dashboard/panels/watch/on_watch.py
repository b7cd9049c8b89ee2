"""Who is on watch here: said in sight on every page, changed in one press at the relief."""

from __future__ import annotations

import uuid

import streamlit as st

from dashboard import access, duty
from dashboard.panels.text import line, words
from dashboard.tools.send import send
from dashboard.unbroken import unbroken
from dashboard.view import Seen
from layers.earth.clock import clock_words
from layers.earth.errors import MusterplotError
from layers.journal.record import Draft, form_identity

MOST = 6  # names offered for one press


def show(seen: Seen) -> None:
    """Show who is on watch in this room, with the press that changes it."""
    if not seen.writable or access.log_in_is_set_up():
        return
    with st.container(key="on_watch"), st.popover(seen.actor.signature.words(), width="content"):
        _here(seen)
        _others(seen)


def _here(seen: Seen) -> None:
    since = duty.since()
    told = "nobody has said who is on watch here"
    if since is not None:
        told = f"{seen.actor.name} on watch since {clock_words(since, seen.now)}"
    st.html(line(f"<b>{words(told)}</b>"))
    names = list(dict.fromkeys(str(entry.value.who) for entry in reversed(duty.reliefs())))
    for name in [each for each in names if each != seen.actor.name][:MOST]:
        st.button(
            f"{name} takes the watch", key=f"relief.{name}", on_click=_take, args=(seen, name)
        )
    with st.form("relief", border=False):
        who = st.text_input("Who takes the watch, by office or initials", key="relief.who")
        where = duty.room()
        if not where:
            where = st.text_input("Name of this room", key="relief.room")
        if st.form_submit_button("Takes the watch") and who.strip():
            if where.strip() and not duty.room():
                duty.name_room(where)
            _take(seen, who.strip())
            st.rerun()
    if said := st.session_state.pop("relief.refused", ""):
        st.error(said)


def _others(seen: Seen) -> None:
    last = {
        entry.value.room or entry.value.server: entry
        for entry in duty.reliefs()
        if not duty.here(entry)
    }
    for room, entry in last.items():
        at = clock_words(entry.record.valid_at, seen.now)
        st.html(line(words(f"room {room}: {entry.value.who} since {at}", "mp-quiet")))


@unbroken
def _take(seen: Seen, who: str) -> None:
    now = seen.pen.now()
    draft = Draft(
        kind=duty.KIND,
        payload={"who": who[:200], "room": duty.room(), "server": duty.server()},
        valid_at=now,
        heard_at=now,
        source=who[:200],
        identity=form_identity(uuid.uuid4().hex),
    )
    try:
        send(seen, [draft])
    except MusterplotError as reason:
        st.session_state["relief.refused"] = str(reason)
