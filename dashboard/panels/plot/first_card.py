"""The first report: a card beside the chart that grows as one types, until she has a place.

Card and chart are one fragment: a field typed draws the card and the chart's draft again, and
nothing else of the page.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from html import escape

import streamlit as st

from dashboard import state
from dashboard.panels.lost import not_yet
from dashboard.panels.plot import chart
from dashboard.state import Key
from dashboard.tools import first_report
from dashboard.tools.first_report import LABELS, CardRead
from dashboard.tools.forms.kept import FormState, kept, remembered
from dashboard.tools.send import send
from dashboard.unbroken import unbroken
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.datum.marks import sketch
from layers.earth.chart.marks import AnyMark, LineMark
from layers.earth.errors import MusterplotError
from layers.earth.position import Position
from layers.journal.known import Known, ListShelf
from layers.journal.record import as_record
from layers.watch.model import STAGES

NAME = "first report"
AWAY = "first_report_away"
HALF_WIDTHS_M = tuple(1852.0 * nmi for nmi in (5, 10, 15, 25, 40, 60, 100, 150, 250, 500))
# fields in a row, with their widths
ROWS = (
    (("name", 1.2), ("length", 0.8), ("on_board", 1.2)),
    (("position", 2), ("good_to", 1.2)),
    (("movement", 1), ("run", 1)),
    (("heard", 1), ("due", 1)),
)
HINTS = {
    "name": "as she is called", "length": "68 m", "on_board": "69 sailing list",
    "good_to": "1 nmi", "position": "49 31.2N 009 31.2W", "movement": "065T 8 kn",
    "run": "95 nmi", "heard": "12 2200", "due": "13 0600", "since": "now", "next": "0900",
}  # fmt: skip


def wanted(seen: Seen) -> bool:
    """Return whether the card is what the plot shows: nobody has said where she was."""
    return (
        seen.writable
        and seen.follows_now
        and not st.session_state.get(AWAY)
        and not seen.known.entries("datum.lkp")
        and seen.picture.shown("datum") is None
    )


@st.fragment
def show(seen: Seen) -> None:
    """Show the card and the chart beside it."""
    held = kept(NAME)
    left, right = st.columns([470, 884], gap="small")
    with left, st.container(key="first_card"):
        read = _card(seen, held)
    with right:
        chart.show(seen, _drawn(seen, read), key="first")
    if held.rerun:
        held.rerun = False
        st.rerun()


def _card(seen: Seen, held: FormState) -> CardRead:
    st.html(
        '<div class="mp-first"><b>First report</b><span class="mp-quiet">write it as it was said; '
        "one field is enough</span></div>"
    )
    for name in LABELS:
        if name != "stage":
            remembered(held, name, _key(held, name), "")
    remembered(held, "stage", _key(held, "stage"), None)
    read = _read(seen, held)
    # what a line told already stands under its field, until something is typed there
    read = replace(read, said={**first_report.told(seen.known, seen.now), **read.said})
    for row in ROWS:
        for place, (name, _) in zip(st.columns([wide for _, wide in row]), row, strict=True):
            with place:
                _input(held, read, name)
    first, second, third = st.columns([1.75, 0.55, 0.9])
    with first:
        st.segmented_control(LABELS["stage"], STAGES, key=_key(held, "stage"))
    for place, name in ((second, "since"), (third, "next")):
        place.text_input(LABELS[name], key=_key(held, name), placeholder=HINTS[name])
    said = read.wrong.get("since") or read.wrong.get("next") or ""
    st.html(_under(said, read.said.get("stage", "")))
    _input(held, read, "source")
    _act(seen, held, read)
    return read


def _key(held: FormState, name: str) -> str:
    return f"{NAME}.{held.id}.{name}"


def _typed(held: FormState) -> dict[str, str]:
    return {name: st.session_state.get(_key(held, name)) or "" for name in LABELS}


def _read(seen: Seen, held: FormState) -> CardRead:
    typed = _typed(held)
    held.typed |= typed
    held.typed["stage"] = typed["stage"] or None
    return first_report.read(typed, seen.pen.now(), seen.actor.name, held.id)


def _input(held: FormState, read: CardRead, name: str) -> None:
    st.text_input(LABELS[name], key=_key(held, name), placeholder=HINTS.get(name, ""))
    st.html(_under(read.wrong.get(name, ""), read.said.get(name, "")))


def _under(fault: str, said: str) -> str:
    if fault:
        return f'<div class="mp-fault" role="alert">! {escape(fault)}</div>'
    return f'<div class="mp-read">{escape(said)}&nbsp;</div>'


def _act(seen: Seen, held: FormState, read: CardRead) -> None:
    with st.container(key="act_first_report", horizontal=True, vertical_alignment="center"):
        st.button("Record the first report", key="first_record", type="primary",
                  on_click=partial(_record, seen))  # fmt: skip
        count = len(read.wrong)
        words = ", ".join(LABELS[name] for name in read.wrong)
        fields = "one field" if count == 1 else f"{count} fields"
        said = f"{fields} to mend: {words}" if count else held.refused or held.said
        css = "mp-fault" if held.refused and not count else "mp-quiet"
        st.html(f'<div class="{css}" role="status">{escape(said)}&nbsp;</div>')
        if st.button("Put the card away", key="first_away"):
            st.session_state[AWAY] = True
            st.rerun()


@unbroken
def _record(seen: Seen) -> None:
    """Record what the card says; runs before it is drawn."""
    held = kept(NAME)
    read = _read(seen, held)
    held.refused = held.said = ""
    if read.wrong:
        return
    if not read.drafts:
        held.refused = "nothing was typed yet; any one field is enough"
        return
    try:
        done = send(seen, read.drafts)
    except MusterplotError as reason:
        held.refused = str(reason)
        return
    titles = ", ".join(KINDS[draft.kind].title for draft in read.drafts)
    if done.waiting:
        held.begin_anew(f"{not_yet(done.waiting, seen.now)}: {titles}")
        return
    numbers = [record.seq for record in done.records]
    which = f"No. {numbers[0]}" if len(numbers) == 1 else f"No. {numbers[0]} to {numbers[-1]}"
    held.begin_anew(f"Recorded as {which}: {titles}")


def _drawn(seen: Seen, read: CardRead) -> tuple[AnyMark, ...]:
    """Return the draft's marks, and put the chart about them."""
    if read.place is None:
        return ()
    now = seen.pen.now()
    last = seen.pen.revision()
    records = [
        as_record(draft, seq=last + n, recorded_at=now, author=seen.actor.name)
        for n, draft in enumerate(read.drafts, 1)
        if draft.kind.startswith("datum.")
    ]
    told = [*seen.pen.read(["datum.lkp", "datum.intended_movement"], last), *records]
    marks = sketch(Known(ListShelf(told), KINDS, last + len(read.drafts), now), now)
    _about(read.place, marks)
    return marks


def _about(place: Position, marks: tuple[AnyMark, ...]) -> None:
    """Centre the chart on what is typed, wide enough for all of it."""
    reach = max(
        (
            abs(mark.latitudes_deg - place.latitude_deg).max() * 60.0 * 1852.0
            for mark in marks
            if isinstance(mark, LineMark)
        ),
        default=0.0,
    )
    wide = next((each for each in HALF_WIDTHS_M if each >= 1.3 * reach), HALF_WIDTHS_M[-1])
    centre = f"{place.latitude_deg} {place.longitude_deg}"
    state.put(Key.HELD_CENTRE, centre)
    if not state.get(Key.CENTRE):
        state.put(Key.HALF_WIDTH, wide)
