"""The end of this incident and the next one: what stands open, one act, and the list to open."""

from __future__ import annotations

import streamlit as st

from dashboard import looks, settings
from dashboard.panels.text import line, panel, words
from dashboard.server import opening
from dashboard.view import Seen
from layers import incidents
from layers.catalogue import KINDS, unfinished
from layers.earth.clock import day_hhmm
from layers.earth.errors import AskedFirst, MusterplotError
from layers.journal.signature import read_signature
from layers.stands_open import stands_open
from layers.watch.closing import STANDS_OPEN

ALL_THE_SAME = "Close it all the same: people or objects of search stand open"
OPERATION, EXERCISE = "an operation", "an exercise"
SAID = "incidents.said"


def show(seen: Seen) -> None:
    """Show what the incident's end needs and which incidents there are; the watch's alone."""
    if not seen.writable or seen.release.guarded:
        return
    with st.expander("End of this incident, and the next"):
        if said := st.session_state.get(SAID):
            st.success(said)
        found = stands_open(seen.known, seen.watch, seen.answers)
        _end(seen, found)
        _next(seen, found)
        _list()


def _end(seen: Seen, found: tuple[str, ...]) -> None:
    closed = seen.watch.closed
    if closed is not None:
        value = closed.value
        then = f"; the next is {value.next_incident}" if value.next_incident else ""
        at, by = day_hhmm(closed.record.valid_at), read_signature(closed.record.author).words()
        since = seen.picture.upto_seq - closed.record.seq
        after = f"records since, in no archive: {since}" if since else ""
        panel(line(f"<b>{words(f'Closed {at} by {by}{then}')}</b>", words(after, "mp-quiet")))
    if not found:
        panel(words("Nothing stands open.", "mp-quiet"))
        return
    panel("".join([line("<b>Stands open</b>"), *(line(words(each)) for each in found)]))


def _next(seen: Seen, found: tuple[str, ...]) -> None:
    with st.form("incidents_next", clear_on_submit=False):
        name = st.text_input("Name of the next incident", max_chars=120)
        sort = st.radio("It is", (OPERATION, EXERCISE), horizontal=True)
        place = st.text_input(
            "Its journal, where several rooms share it",
            help="An empty PostgreSQL database: postgresql://USER@HOST/NAME. Left empty, it is a "
            "file in this computer's data folder.",
        )
        close = st.checkbox("Close this one and put a whole copy into the archive", value=True)
        # a slip of the hand closes nothing that people still wait in
        meant = bool(unfinished(seen.known)) and st.checkbox(ALL_THE_SAME)
        st.caption(
            "The next has a journal, drop folder, feeds and results of its own; nothing of this "
            "one comes into it. This one stays in the list below."
        )
        if not st.form_submit_button("Begin the next incident"):
            return
    if close:
        looks.note_now(all_end=True)  # nothing is recorded once it is closed
    try:
        begun = incidents.begin(
            name, KINDS, exercise=sort == EXERCISE, last=seen.pen, by=seen.actor, close=close,
            left_open=found, url=place.strip(), answered=(STANDS_OPEN,) if meant else (),
        )  # fmt: skip
    except AskedFirst as question:
        st.error(f'{question.what} Tick "{ALL_THE_SAME}" when it is meant so.')
        return
    except (MusterplotError, OSError) as reason:
        st.error(str(reason))
        return
    kept = f"; {begun.closed} is closed, its copy is {begun.archive}" if begun.archive else ""
    _change(begun.url, f"{begun.name} is begun in {begun.folder}{kept}")


def _list() -> None:
    in_use = settings.journal_url()
    for number, each in enumerate(incidents.incidents(in_use)):
        said, act = st.columns([4, 1], vertical_alignment="center")
        said.html(line(words(incident_words(each))))
        if not each.in_use and not each.trouble:
            act.button("Open", key=f"incidents_open_{number}", on_click=_open, args=(each,))


def incident_words(each: incidents.Incident) -> str:
    """Return an incident in one line."""
    name = f"EXERCISE {each.name.removeprefix('Exercise ')}" if each.exercise else each.name
    if each.trouble:
        return f"{name}: {each.trouble}"
    span = "no record yet"
    if each.began_at is not None and each.last_at is not None:
        span = f"{day_hhmm(each.began_at)} to {day_hhmm(each.last_at)}, {each.records} records"
    state = f", closed {day_hhmm(each.closed_at)}" if each.closed_at else ""
    state += f", records since: {each.since_closed}" if each.since_closed else ""
    return f"{name}: {span}{state}{', open here' if each.in_use else ''}"


def _open(each: incidents.Incident) -> None:
    _change(each.url, f"{each.name} is opened")


def _change(url: str, said: str) -> None:
    if opening.ask_for(url):
        st.session_state[SAID] = f"{said}; the plot comes back with it within some seconds."
    else:
        st.session_state[SAID] = f"{said}; start the program again to see it."
    st.info(st.session_state[SAID])
