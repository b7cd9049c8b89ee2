"""The watch's book: tasks, listening times, checklists, decisions, open points."""

from __future__ import annotations

import csv
import io
import uuid
from collections.abc import Sequence

import streamlit as st

from dashboard.door.uploads import uploader
from dashboard.panels.text import line, panel, table, words
from dashboard.tools import record_form
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.clock import clock_words, dtg, relative_words
from layers.earth.errors import InputError, MusterplotError
from layers.journal.record import Draft, form_identity
from layers.watch.result import ChecklistState, WatchState

TYPED_HERE = (
    "watch.task", "watch.task_report", "watch.listening", "watch.listening_kept",
    "watch.decision", "watch.assumption", "watch.question", "watch.settled", "watch.stage",
    "watch.alarm_rule", "watch.marking",
)  # fmt: skip


def tasks(seen: Seen, watch: WatchState) -> None:
    """Show who does what by when, the overdue marked in words."""
    rows = []
    for task in watch.tasks:
        value = task.task.value
        due = "" if value.due is None else clock_words(value.due, seen.moment.at)
        report = task.next_report_due
        late = "OVERDUE " if task.overdue else ""
        told = "" if report is None else f"{late}{relative_words(report, seen.moment.at)}"
        rows.append(
            (value.who, value.what, task.state, where(seen, value.who), due, told, task.last_said)
        )
    heads = ("Who", "Does what", "State", "Where", "By", "Next report", "Last said")
    _block("Tasks", rows, heads, "No task yet: add one below.")


def where(seen: Seen, who: str) -> str:
    """Return where a ship, an aircraft or the vehicle was last, and when; empty when not known."""
    name = who.strip().casefold()
    tracks, net = seen.picture.shown("tracks"), seen.picture.shown("transponders")
    found = [
        (ship.fixed_at, ship.position, ship.stale)
        for ship in (tracks.result.ships if tracks else ())
        if ship.name.casefold() == name
    ]
    found += [
        (fix.at, fix.position, fix.stale)
        for fix in (net.result.fixes if net else ())
        if fix.subject.casefold() == name
    ]
    if not found:
        return ""
    at, position, stale = max(found, key=lambda one: one[0])
    return f"{position} at {clock_words(at, seen.moment.at)}{', STALE' if stale else ''}"


def listening(seen: Seen, watch: WatchState) -> None:
    """Show the listening times agreed with the DISSUB, the next first, and what came of them."""
    rows = [
        (
            clock_words(state.agreed.value.at, seen.moment.at),
            f"{state.agreed.value.minutes:g} min",
            state.agreed.value.with_whom,
            state.outcome,
            state.said,
        )
        for state in watch.listening[-8:]
    ]
    heads = ("At", "For", "With", "Outcome", "Said")
    ahead = [one.agreed.value for one in watch.listening if one.outcome == "to come"]
    first = min(ahead, key=lambda one: one.at, default=None)
    title = "Listening times"
    if first is not None:
        due = relative_words(first.at, seen.moment.at)
        title += f": next {due}, {clock_words(first.at, seen.moment.at)}, {first.with_whom}"
    _block(title, rows, heads, "None agreed yet: add one below.")


def checklists(seen: Seen, watch: WatchState) -> None:
    """Show the checklists loaded, to be ticked by name."""
    for state in watch.checklists:
        value = state.checklist.value
        done = sum(tick is not None for tick in state.ticks)
        with st.expander(f"{value.name}: {done} of {len(value.items)} done ({value.when})"):
            for number, (item, tick) in enumerate(zip(value.items, state.ticks, strict=True), 1):
                _item(seen, state, number, item, tick)
            st.caption(f"Loaded from {value.loaded_from}")
    if seen.writable:
        _load(seen)


def _item(seen: Seen, state: ChecklistState, number: int, item: str, tick: object) -> None:
    record = getattr(tick, "record", None)
    if record is not None:
        by = f"{record.payload['by']} {clock_words(record.valid_at, seen.moment.at)}"
        st.html(line(words(f"✓ {item}"), words(by, "mp-quiet")))
    elif seen.writable:
        if st.button(f"Tick: {item}", key=f"tick_{state.checklist.id}_{number}"):
            payload = {"target": state.checklist.id, "item": number, "by": seen.actor.name}
            _append(seen, "watch.tick", payload)
    else:
        st.html(line(words(item)))


def _load(seen: Seen) -> None:
    """Load a checklist from the user's own CSV: one item a line, first column; heads left out."""
    with st.expander("Load a checklist from a CSV file"), st.form("load_checklist"):
        name = st.text_input("Name", key="checklist_name")
        when = st.text_input("For which stage or phase", key="checklist_when")
        file = uploader("One item a line", type=["csv", "txt"], key="checklist_file")
        if st.form_submit_button("Load it") and file is not None:
            try:
                items = _items(file.getvalue())
            except InputError as reason:
                st.error(str(reason))
                return
            payload = {"name": name, "when": when, "items": items, "loaded_from": file.name[:200]}
            _append(seen, "watch.checklist", payload)


def _items(content: bytes) -> list[str]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("the file is not UTF-8 text", accepted="CSV, one item a line") from None
    rows = [row[0].strip() for row in csv.reader(io.StringIO(text)) if row and row[0].strip()]
    if rows and rows[0].lower() in ("item", "items", "what", "check"):
        rows = rows[1:]
    if not rows:
        raise InputError("the file has no item", accepted="CSV, one item a line")
    return rows


def decisions(seen: Seen, watch: WatchState) -> None:
    """Show what was decided, why, and what it replaced."""
    rows = [
        (
            dtg(state.entry.record.valid_at),
            state.entry.value.what,
            state.entry.value.reasons,
            state.entry.value.decided_by,
            "replaced" if state.replaced_by else "stands",
        )
        for state in reversed(watch.decisions)
    ]
    heads = ("When", "Decided", "Because", "By", "")
    _block("Decisions", rows, heads, "None yet: add one below.")


def open_points(seen: Seen, watch: WatchState) -> None:
    """Show assumptions and questions that are open."""
    rows = [
        (sort, point.entry.value.what, relative_words(point.until, seen.moment.at)
         if point.until else "", "past" if point.past else "")
        for sort, points in (("assumed", watch.assumptions), ("asked", watch.questions))
        for point in points
    ]  # fmt: skip
    heads = ("", "What", "Until", "")
    _block("Assumptions and open questions", rows, heads, "None open.")


def forms(seen: Seen) -> None:
    """Show the forms of the watch's own records."""
    if not seen.writable:
        return
    chosen = st.selectbox(
        "Add to the watch's book",
        TYPED_HERE,
        format_func=lambda name: KINDS[name].title,
        key="watch_form",
    )
    if record_form.show(seen, KINDS[chosen], key="watch"):
        st.rerun()


def _block(
    title: str, rows: Sequence[Sequence[object]], heads: tuple[str, ...], empty: str
) -> None:
    inner = table(rows, heads) if rows else words(empty, "mp-quiet")
    panel(f"<b>{words(title)}</b>{inner}")


def _append(seen: Seen, kind: str, payload: dict[str, object]) -> None:
    draft = Draft(
        kind=kind,
        payload=payload,
        valid_at=seen.now,
        heard_at=seen.now,
        source=seen.actor.name,
        identity=form_identity(uuid.uuid4().hex),
    )
    try:
        seen.pen.append(seen.actor, [draft])
    except MusterplotError as reason:
        st.error(str(reason))
    else:
        st.rerun()
