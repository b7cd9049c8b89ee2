"""The watch's desk: who is in charge, circuits, promises, help asked for, what was told outside."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from dashboard.panels.text import panel, table, words
from dashboard.tools.forms import record_form
from dashboard.view import Seen
from layers import answer_words
from layers.answers import Answers
from layers.catalogue import KINDS
from layers.earth.clock import clock_words, relative_words
from layers.journal.known import Entry
from layers.watch.desk import Asked, Desk


def show(seen: Seen, desk: Desk) -> None:
    """Show each list with its own form below it."""
    now = seen.moment.at
    rows: list[tuple[object, ...]]
    rows = [(e.value.office, e.value.who, e.value.reach, clock_words(e.record.valid_at, now))
            for e in desk.in_charge]  # fmt: skip
    _block(seen, "Who is in charge", rows, ("Office", "Who", "Reached by", "Since"),
           "watch.in_charge")  # fmt: skip
    rows = [(e.value.who, e.value.how, e.value.kept_by, e.value.when) for e in desk.circuits]
    _block(seen, "Circuits and telephones", rows, ("Who", "On what", "Watch kept by", "When"),
           "watch.circuit")  # fmt: skip
    rows = [_promised(seen, entry) for entry in reversed(desk.promised[-6:])]
    _block(seen, "Told to the boat", rows,
           ("At", "What she was told", "She expects", "Tell her next", "Answered"),
           "watch.promised")  # fmt: skip
    rows = [_asked(seen, each) for each in reversed(desk.asked)]
    _block(seen, "Help asked for", rows, ("Of whom", "What", "Helps until", "Answer"),
           "watch.help_asked", "watch.help_answered")  # fmt: skip
    _told(seen, desk)


def _block(
    seen: Seen, title: str, rows: Sequence[Sequence[object]], heads: tuple[str, ...], *kinds: str
) -> None:
    inner = table(rows, heads) if rows else words("nothing recorded yet", "mp-quiet")
    panel(f"<b>{words(title)}</b>{inner}")
    _forms(seen, *kinds)


def _forms(seen: Seen, *kinds: str) -> None:
    if not seen.writable:
        return
    chosen = st.pills(
        "Add", kinds, format_func=lambda name: f"Add: {KINDS[name].title}",
        key=f"desk.{kinds[0]}", label_visibility="collapsed",
    )  # fmt: skip
    if chosen:
        if chosen != "watch.told_outside":
            record_form.show(seen, KINDS[chosen], key="desk")
            return
        said = readings(seen.answers)  # how the answer read when it was told is put beside it
        record_form.show(
            seen, KINDS[chosen], key="desk", fixed={"answer_said": ""},
            complete=lambda payload: {"answer_said": said.get(str(payload.get("answer")), "")},
        )  # fmt: skip


def _promised(seen: Seen, entry: Entry) -> tuple[str, ...]:
    value, now = entry.value, seen.moment.at
    expects = value.expects + (f" {clock_words(value.expects_at, now)}" if value.expects_at else "")
    following = value.tell_next + (
        f" by {clock_words(value.tell_by, now)}" if value.tell_by else ""
    )
    return (clock_words(entry.record.valid_at, now), value.told, expects, following, value.received)


def _asked(seen: Seen, each: Asked) -> tuple[str, ...]:
    value, now = each.asked.value, seen.moment.at
    until = ""
    if value.helps_until is not None:
        past = "TOO LATE, " if each.past else ""
        due = value.helps_until
        until = f"{past}{clock_words(due, now)}, {relative_words(due, now)}"
    answer = "waited for"
    if each.answered is not None:
        told = each.answered.value
        there = f", there {clock_words(told.there_at, now)}" if told.there_at else ""
        answer = f"{told.answer}, {told.by}{there}" + (f": {told.said}" if told.said else "")
    return (value.asked_of, value.what, until, answer)


def _told(seen: Seen, desk: Desk) -> None:
    """Show what was told outside, first whom something else must be told now."""
    now = seen.moment.at
    again = desk.tell_again(readings(seen.answers))
    if again:
        rows = [
            (each.told.value.whom, each.told.value.answer, each.told.value.answer_said,
             each.now_reads)
            for each in again
        ]  # fmt: skip
        panel(f"<b>{words('To be told again', 'mp-late')}</b>"
              + table(rows, ("Whom", "Of", "They were told", "It now reads")))  # fmt: skip
    rows = [
        (clock_words(e.record.valid_at, now), e.value.whom, e.value.told, e.value.answer)
        for e in reversed(desk.told[-8:])
    ]
    _block(seen, "Told outside", rows, ("At", "Whom", "What", "From which answer"),
           "watch.told_outside")  # fmt: skip


def readings(answers: Answers) -> dict[str, str]:
    """Return how each answer reads that people outside may have been told.

    Ages and times to go are left out: an answer has changed when what it says has.
    """
    persons = ", ".join(f"{one.figure} {one.word}" for one in answer_words.persons(answers))
    margin, dive = answer_words.margin(answers), answer_words.dive(answers)
    first = answer_words.first_out(answers)
    return {
        "persons": persons,
        "margin": " ".join(part for part in (margin.figure, margin.unit) if part),
        "dive": " ".join(part for part in (dive.figure, dive.unit) if part),
        "first_out": " ".join(part for part in (first.figure, first.unit) if part),
    }
