"""What was heard: one box at the foot of every page, in which any fact told by voice is entered.

Enter reads back, Enter again records. What is asked stands above the box with the answers to
press; what was recorded stays there with its number, and one press takes it back.
"""

from __future__ import annotations

import json
import time
import uuid
from dataclasses import dataclass, field, replace
from functools import cache as kept_for_good
from html import escape
from pathlib import Path

import streamlit as st

from dashboard import access, state
from dashboard.cache import opened
from dashboard.cache.lately import Lately
from dashboard.chart.style import growing
from dashboard.panels.lost import not_yet
from dashboard.tools.forms.said_twice import same_as
from dashboard.tools.send import send_as
from dashboard.unbroken import unbroken
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.chart.marks import AnyMark
from layers.earth.errors import AskedFirst, JournalAway, MusterplotError
from layers.heard import Ask, Grammar, HeardLine, LineContext, Understood, hear
from layers.heard.ghost import TAKEN, ghosts
from layers.heard.record import around_journal, drafts_of, made_whole, unfinished, whole_now
from layers.heard.result import NOTED
from layers.journal.known import Entry
from layers.journal.record import Draft, form_identity

TEXT, BOX = "heard.text", "heard.box"
KEPT = "kept until it is told: {}; nothing of it is on the plot yet"
MOST_WAITING = 3  # facts that lack something, the newest
MOST_SHOWN = 4  # of the last line's records
MOST_NAMES = 400
PLACEHOLDER = "What was heard: lkp 4320N 00840E 1044Z within 2 nmi   ( / )"
ONE_PRESS_S = 10.0
ONE_PRESS = "This line was recorded just now, once. If it is another, tell it again in ten seconds."


@dataclass(frozen=True, slots=True)
class Recorded:
    """One record that the last line made."""

    seq: int
    id: str
    words: str
    undone: bool = False


@dataclass(slots=True)
class HeardBox:
    """What the box holds for one viewer."""

    id: str = field(default_factory=lambda: uuid.uuid4().hex)
    text: str = ""  # that was read back
    hearing: HeardLine | None = None
    twice: str = ""  # what is there already: asked once
    refused: str = ""
    done: list[Recorded] = field(default_factory=list)
    lacks: tuple[str, ...] = ()  # of what is kept until it is whole
    made: tuple[Understood, ...] = ()  # what was recorded, as it was read back
    sure: int = 0  # a record that another rests on: undo asks once
    sent: str = ""  # the line that was recorded last, and when that was first shown (monotonic)
    sent_at: float = 0.0
    shown: bool = False


@kept_for_good
def grammar() -> Grammar:
    """Return the grammar of the catalogue."""
    return Grammar(KINDS)


@st.cache_resource(show_spinner=False)
def _arounds() -> Lately[int, LineContext]:
    return Lately(lambda _seq: around_journal(grammar(), opened.book(), opened.book().now()), 4)


def _around() -> LineContext:
    """Return what a line is heard in at this moment."""
    journal = opened.book()
    try:
        found: LineContext | None = _arounds()(journal.revision())
    except JournalAway:  # the names of a moment ago do, and what is recorded waits
        found = _arounds().newest()
        if found is None:
            raise
    assert found is not None
    return replace(found, now=journal.now())


def _box() -> HeardBox:
    held: HeardBox = st.session_state.setdefault(BOX, HeardBox())
    return held


def marks(shown_seq: int) -> tuple[AnyMark, ...]:
    """Return what was read back as it would stand on the chart.

    And what was recorded just now, until the picture up to ``shown_seq`` holds it.
    """
    box = _box()
    if box.hearing is not None:
        return ghosts(box.hearing.understood)
    if any(record.seq > shown_seq for record in box.done):
        return ghosts(box.made, said=TAKEN)
    return ()


def show(seen: Seen) -> None:
    """Show the box, what it read back, what is asked and what the last line made."""
    if not seen.writable:
        return
    box = _box()
    with st.container(key="heard_said"):
        _said(box)
    with st.form("heard_form", border=False):
        typed, button, more = st.columns([12, 1.4, 1.6], vertical_alignment="center")
        with typed:
            st.text_input(
                "What was heard", key=TEXT, placeholder=PLACEHOLDER, label_visibility="collapsed",
                max_chars=2_000, autocomplete="off",
            )  # fmt: skip
        ready = box.hearing is not None and box.hearing.whole
        with button:
            # its key keeps it the same button when its word changes: a quick second Enter finds it
            st.form_submit_button(
                "Record" if ready else "Read back", on_click=_entered, width="stretch",
                type="primary" if ready else "secondary", key="heard.enter",
            )  # fmt: skip
        with more, st.popover("Examples", width="stretch"):
            st.html(_examples())
    names = [name.text for name in _around().names[:MOST_NAMES] if name.sort != "place of her"]
    script = _script().replace("__NAMES__", json.dumps(names).replace("<", "\\u003c"))
    st.html(f"<style>{_sheet()}</style><script>{script}</script>", unsafe_allow_javascript=True)


@kept_for_good
def _sheet() -> str:
    return growing(Path(__file__).with_name("heard.css").read_text())


@kept_for_good
def _script() -> str:
    return Path(__file__).with_name("heard_keys.js").read_text()


@kept_for_good
def _examples() -> str:
    rows = "".join(
        f"<tr><td>{escape(form.kind.title)}</td><td><b>{escape(form.heard.example)}</b></td></tr>"
        for form in grammar().forms.values()
        if form.heard.example
    )
    told = (
        "Any order, any case; a semicolon parts facts. Enter reads back, Enter again records. "
        "Times: now, 1044, 1044Z, 281044Z, 20 min ago."
    )
    return f'<div class="mp-said-list"><p>{escape(told)}</p><table>{rows}</table></div>'


# -- what stands above the box -------------------------------------------------------------------


def _said(box: HeardBox) -> None:
    hearing = box.hearing
    if hearing is not None:
        for one in hearing.understood:
            why = "".join(f"<div>{escape(line)}</div>" for line in one.why)
            st.html(
                f'<details class="mp-heard"><summary><b>Understood:</b> {escape(one.words)}'
                f'<span class="mp-quiet"> why</span></summary>{why}</details>'
            )
        for note in hearing.notes:
            st.html(f'<div class="mp-heard">{escape(note)}: {NOTED}</div>')
        for number, ask in enumerate(hearing.asks):
            _asked(ask, number, hearing.text, not hearing.lacks)
        if hearing.whole and not box.refused:
            st.html('<div class="mp-heard mp-quiet mp-again">Enter again records it.</div>')
        if hearing.asks:
            label = "Keep it until it is whole" if hearing.lacks else "Keep it as a note"
            st.button(label, key="heard.keep", on_click=_keep_note)
    else:
        _waiting()
    if box.twice:
        st.html(f'<div class="mp-heard" role="alert">{escape(box.twice)} Enter again does.</div>')
    if box.refused:
        st.html(f'<div class="mp-fault" role="alert">! {escape(box.refused)}</div>')
    for record in box.done[-MOST_SHOWN:]:
        _recorded(record, box)
    if box.done and not box.shown:  # however long a busy page took to come so far
        box.shown, box.sent_at = True, time.monotonic()


def _waiting() -> None:
    """Show what was kept since it lacks something, until it is whole: one press takes it up."""
    held = unfinished(_around().known)
    for entry in held[-MOST_WAITING:]:
        with st.container(horizontal=True, gap="small", vertical_alignment="center"):
            lacks = ", ".join(entry.value.lacks)
            st.html(f'<div class="mp-heard"><b>Kept, not on the plot:</b> '
                    f"{escape(entry.value.text)} <b>lacks {escape(lacks)}</b></div>",
                    width="content")  # fmt: skip
            st.button("Tell it", key=f"heard.waits.{entry.id}", on_click=_answer,
                      args=(entry.value.text,))  # fmt: skip
            st.button("Drop it", key=f"heard.drop.{entry.id}", on_click=_drop, args=(entry,))


@unbroken
def _drop(entry: Entry) -> None:
    """Take back what was kept and will not be told."""
    draft = whole_now(entry, 0, now=opened.pen().now(), source=access.actor().name)
    draft = replace(draft, payload={**draft.payload, "reason": "dropped, not told any further"})
    try:
        send_as(access.actor(), [draft])
    except MusterplotError as reason:
        _box().refused = str(reason)


def _asked(ask: Ask, number: int, text: str, kept_below: bool) -> None:
    mark = "!" if ask.refused else "?"
    at = text.lower().rfind(ask.part.lower()) if ask.part else -1
    shown = ""
    if at >= 0:
        end = at + len(ask.part)
        shown = f"{escape(text[:at])}<u>{escape(text[at:end])}</u>{escape(text[end:])}"
    st.html(
        f'<div class="mp-heard" role="alert"><b>{mark} {escape(ask.about)}</b> '
        f'<span class="mp-quiet">{shown}</span></div>'
    )
    if ask.readings:
        with st.container(horizontal=True, gap="small"):
            for k, (said, line) in enumerate(zip(ask.readings, ask.lines, strict=False)):
                if line == f"note: {text}" and kept_below:  # the button below it does just that
                    continue
                st.button(said, key=f"heard.answer.{number}.{k}", on_click=_answer, args=(line,))


def _recorded(record: Recorded, box: HeardBox) -> None:
    with st.container(horizontal=True, gap="small", vertical_alignment="center"):
        number = f"No. {record.seq}:" if record.seq else ""
        struck = ("<s>", "</s> taken back") if record.undone else ("", "")
        st.html(
            f'<div class="mp-heard mp-done">{struck[0]}<b>{number}</b> {escape(record.words)}'
            f"{struck[1]}</div>",
            width="content",
        )
        if record.undone or not record.seq:
            return
        sure = box.sure == record.seq
        label = "Undo all the same" if sure else "Undo"
        st.button(label, key=f"heard.undo.{record.seq}", on_click=_undo, args=(record,))


# -- what a key or a press does ------------------------------------------------------------------


@unbroken
def _entered() -> None:
    """Read the line back; record it when it stands there read back already."""
    box, text = _box(), str(st.session_state.get(TEXT) or "").strip()
    if not text:
        st.session_state[BOX] = HeardBox()
        return
    if text == box.sent and time.monotonic() - box.sent_at < ONE_PRESS_S:
        # pressed again before a slow page showed that it was taken: no second record
        box.sent_at, box.refused = time.monotonic(), ONE_PRESS
        st.session_state[TEXT] = ""
    elif box.hearing is not None and box.text == text and box.hearing.whole:
        _record(box)
    else:
        _read(box, text)


def _read(box: HeardBox, text: str) -> None:
    box.text, box.hearing, box.twice, box.refused = text, None, "", ""
    box.done, box.lacks = [], ()
    try:
        box.hearing = hear(text, grammar(), _around())
    except MusterplotError as reason:
        box.refused = str(reason)


@unbroken
def _answer(line: str) -> None:
    st.session_state[TEXT] = line
    _read(_box(), line)


@unbroken
def _keep_note() -> None:
    box = _box()
    assert box.hearing is not None
    box.lacks = box.hearing.lacks
    box.hearing = HeardLine(text=box.text, notes=[box.text])
    _record(box)


def _record(box: HeardBox) -> None:
    """Record what was read back, in its order; what the journal refuses stays in the box."""
    assert box.hearing is not None
    actor, now = access.actor(), opened.book().now()
    drafts = drafts_of(box.hearing, now=now, source=actor.name, form_id=box.id)
    said = [one.words for one in box.hearing.understood]
    kept = KEPT.format(", ".join(box.lacks)) if box.lacks else NOTED
    said += [f"{note}: {kept}" for note in box.hearing.notes]
    if box.lacks:
        drafts = [replace(d, payload={**d.payload, "lacks": list(box.lacks)}) for d in drafts]
    if not box.twice and (twice := _twice(drafts)):
        box.twice = twice
        return
    done: list[Recorded] = []
    box.refused, stopped = "", False
    for draft, words in zip(drafts, said, strict=True):
        try:
            made = send_as(actor, [draft])
        except AskedFirst as question:
            box.twice, stopped = question.what, True
            break
        except MusterplotError as reason:
            box.refused, stopped = str(reason), True
            break
        done += [Recorded(record.seq, record.id, words) for record in made.records]
        if made.waiting:
            done.append(Recorded(0, draft.id, f"{not_yet(made.waiting, now)}: {words}"))
    if stopped:
        left = box.hearing.understood[len(done) :]
        box.hearing = HeardLine(text=box.text, understood=left, notes=box.hearing.notes)
        box.done, box.id = done, uuid.uuid4().hex
        return
    _take_back(box.hearing, done)
    st.session_state[BOX] = HeardBox(
        done=done, made=tuple(box.hearing.understood), sent=box.text, sent_at=time.monotonic()
    )
    st.session_state[TEXT] = ""
    state.put(state.Key.RECORDED, max((record.seq for record in done), default=0))


def _take_back(hearing: HeardLine, done: list[Recorded]) -> None:
    """Take back what was kept for lacking something, where a record tells it whole now."""
    now, actor = opened.pen().now(), access.actor()
    for entry in made_whole(hearing, _around().known):
        number = done[0].seq if done else 0
        try:
            send_as(actor, [whole_now(entry, number, now=now, source=actor.name)])
        except MusterplotError:
            return  # it stays in sight, and can be dropped by hand


def _twice(drafts: list[Draft]) -> str:
    for draft in drafts:
        try:
            if twice := same_as(opened.book(), draft):
                return twice
        except JournalAway:
            return ""  # what the journal holds can not be asked; it is when it is back
    return ""


@unbroken
def _undo(record: Recorded) -> None:
    """Take a record of one's own back: a retraction, asked for when another rests on it."""
    box, actor, journal = _box(), access.actor(), opened.pen()
    held = journal.record(record.id)
    if held is None or held.author != actor.author:
        box.refused = f"No. {record.seq} is not yours to undo; correct or retract it in the log"
        return
    resting = journal.log(
        upto_seq=journal.revision(), after_seq=record.seq, text=record.id, limit=1
    )
    if resting and box.sure != record.seq:
        box.sure = record.seq
        box.refused = f"No. {resting[0].seq} rests on No. {record.seq}"
        return
    now = journal.now()
    draft = Draft(
        kind="journal.retract",
        payload={"target": record.id, "reason": "undone by its writer"},
        valid_at=now,
        heard_at=now,
        source=actor.name,
        identity=form_identity(f"undo {record.id}"),
    )
    try:
        journal.append(actor, [draft])
    except MusterplotError as reason:
        box.refused = str(reason)
        return
    box.refused, box.sure, box.sent = "", 0, ""
    box.done = [
        Recorded(r.seq, r.id, r.words, undone=r.undone or r.id == record.id) for r in box.done
    ]
