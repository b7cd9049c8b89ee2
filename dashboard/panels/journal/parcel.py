"""Two rooms without a link: records since a number as a signed file, sent and taken in here."""

from __future__ import annotations

import html

import streamlit as st

from dashboard import duty, settings, state
from dashboard.cache import opened
from dashboard.door.uploads import uploader
from dashboard.panels.plot.snapshot import note
from dashboard.panels.text import line, panel, table, words
from dashboard.state import Key
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.clock import clock_words, to_us
from layers.earth.errors import MusterplotError
from layers.journal.copies.joined import Joined, join
from layers.journal.copies.parcel import Parcel, mark_of, own_key, pack, unpack
from layers.journal.record import Record
from layers.journal.signature import read_signature
from layers.journal.words.payloads import payload_words
from layers.scene.release import Release

JOINED = "parcel.joined"


def show(seen: Seen) -> None:
    """Show what is sent, then what is taken in and what became of it."""
    if not seen.writable:
        return
    mark = mark_of(own_key(settings.data_folder()).public_key())
    how = words("read it out to the other room by telephone, never by the stick", "mp-quiet")
    panel(line(f"This room's mark: <b>{words(mark)}</b>", how))
    send, take = st.columns(2)
    with send:
        _send(seen)
    with take:
        _take(seen)
    done: Joined | None = st.session_state.get(JOINED)
    if done is not None:
        _became(seen, done)


def _send(seen: Seen) -> None:
    last = opened.book().revision()
    with st.form("parcel.send"):
        after = st.number_input(
            f"Records after number, of {last}", min_value=0, max_value=max(last - 1, 0), value=0,
            step=1, key="parcel.after",
        )  # fmt: skip
        room = st.text_input("This room is called", duty.room(), key="parcel.room", max_chars=60)
        sent = st.form_submit_button("Make the file for the other room")
    if sent:
        try:
            content = pack(
                seen.pen, int(after), by=seen.actor.name, room=room.strip() or duty.server(),
                made_us=to_us(seen.now), key=own_key(settings.data_folder()),
            )  # fmt: skip
            name = f"records-{int(after) + 1}-to-{last}.parcel"
            note(seen, name, Release(names=True, to="another room"), content)
        except MusterplotError as reason:
            st.error(str(reason))
            return
        state.put(Key.EXPORT, (name, content))
    held = state.get(Key.EXPORT)
    if held and held[0].endswith(".parcel"):
        st.download_button(f"Save {held[0]}", held[1], file_name=held[0], key="parcel.save")


def _take(seen: Seen) -> None:
    file = uploader("A file of another room", type=["parcel", "zip"], key="parcel.file")
    heard = st.text_input(
        "That room's mark, as you heard it", key="parcel.mark",
        placeholder="0000-0000-0000-0000-0000",
    )  # fmt: skip
    if not st.button("Take the records in", key="parcel.take", disabled=file is None) or not file:
        return
    try:
        parcel = unpack(file.getvalue())
        if refused := _other_mark(parcel, heard):
            st.error(refused)
            return
        st.session_state[JOINED] = join(seen.pen, parcel, seen.actor)
    except MusterplotError as reason:
        st.error(str(reason))
        return
    st.rerun()


def _other_mark(parcel: Parcel, heard: str) -> str:
    """Return why the mark that was heard does not let the file in; empty when it does."""
    said = "".join(c for c in heard.lower() if c.isalnum())
    if said == parcel.about.mark.replace("-", ""):
        return ""
    if not said:
        return "Ask the other room for its mark by telephone, and type it here as you hear it."
    return (
        f"The file is signed by a room whose mark is {parcel.about.mark}; you typed {heard}. "
        "Nothing was taken in."
    )


def _became(seen: Seen, done: Joined) -> None:
    refused = f", {len(done.refused)} refused" if done.refused else ""
    said = f"{done.taken} records taken in, {done.already_there} were here already{refused}."
    st.html(line(f"<b>{words(said)}</b>"))
    for why in done.refused[:8]:
        st.html(line("Refused:", html.escape(why)))
    if not done.contradictions:
        st.html(line(words("Nothing in them contradicts what this room recorded.", "mp-quiet")))
        return
    rows = [
        (f"{KINDS[one.kind].title}: {one.about}", ", ".join(one.fields).replace("_", " "),
         _side(seen, one.ours), _side(seen, one.theirs))
        for one in done.contradictions
    ]  # fmt: skip
    panel(
        f"<b>{words(f'Contradictions: {len(rows)}', 'mp-late')}</b>"
        + table(rows, ("What", "Differs in", "Recorded here", "Recorded there"))
    )
    st.caption("Settle each by a correction or a retraction in the log, by its number.")


def _side(seen: Seen, record: Record) -> str:
    who = read_signature(record.author).words()
    at = clock_words(record.valid_at, seen.now)
    return f"No. {record.seq}, {at}, {who}: {payload_words(record.payload, kind=record.kind)}"
