"""The watch's book: tasks, listening times, checklists, decisions, open points."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import streamlit as st

from dashboard.door.uploads import uploader
from dashboard.panels.text import line, panel, table, words
from dashboard.tools.forms import record_form
from dashboard.tools.send import draft_now, pressed
from dashboard.view import Seen
from layers.earth.clock import clock_words, dtg
from layers.earth.errors import InputError
from layers.earth.uncertain import Stated
from layers.forward_port.home.report import where_words
from layers.journal.known import Entry
from layers.journal.side_by_side import signed_words
from layers.journal.signature import read_signature
from layers.watch.checklist import read_checklists
from layers.watch.result import ChecklistState, WatchState, due_words

TYPED_HERE = (
    "watch.task", "watch.task_report", "watch.listening", "watch.listening_kept",
    "watch.decision", "watch.assumption", "watch.question", "watch.settled", "watch.stage",
    "watch.alarm_rule", "watch.marking",
)  # fmt: skip


def tasks(seen: Seen, watch: WatchState) -> None:
    """Show who does what by when, the overdue marked in words."""
    rows = []
    judged = min(seen.moment.at, seen.moment.as_of)
    for task in watch.tasks:
        value = task.task.value
        due = "" if value.due is None else clock_words(value.due, seen.moment.at)
        report = task.next_report_due
        told = (
            ""
            if report is None
            else due_words(report, seen.moment.at, judged, overdue=task.overdue)
        )
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
    home = seen.answers.way_home
    for thing in home.value.things if isinstance(home, Stated) else ():
        # who has it since is where it is: an old fix at the datum is not
        if thing.what.casefold() == name and all(at <= thing.since for at, _, _ in found):
            return f"with {where_words(thing, seen.moment.at)}"
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
            state.agreed.value.kept_by or "nobody named",
            state.outcome,
            state.said,
        )
        for state in watch.listening[-8:]
    ]
    heads = ("At", "For", "With", "Who listens", "Outcome", "Said")
    ahead = [one.agreed.value for one in watch.listening if one.outcome in ("to come", "now")]
    first = min(ahead, key=lambda one: one.at, default=None)
    at = seen.moment.at
    title = "Listening times"
    if first is not None:
        due = due_words(first.at, at, min(at, seen.moment.as_of), overdue=False)
        title += f": next {due}, {clock_words(first.at, at)}, {first.with_whom}"
    _block(title, rows, heads, "None agreed yet: add one below.")
    for one in watch.listening:
        _two_words(seen, f"listening time {dtg(one.agreed.value.at)}", one.disputed)


def _two_words(seen: Seen, about: str, answers: Sequence[Entry]) -> None:
    """Show words that contradict each other side by side, each with the press that settles it."""
    if len(answers) < 2:
        return
    panel(f"<b>{words(f'Two say otherwise of: {about}. Which holds?')}</b>")
    for entry in answers:
        value, record = entry.value, entry.record
        said, act = st.columns([3, 1], vertical_alignment="center")
        who = signed_words(record, seen.moment.at)
        said.html(line(words(f"{value.outcome}: {value.said}"), words(who, "mp-quiet")))
        if seen.writable and act.button("This holds", key=f"holds_{entry.id}"):
            over = [one.id for one in answers if one.id != entry.id]
            payload = {"target": value.target, "outcome": value.outcome, "said": value.said}
            payload |= {"over": [entry.id, *over]}
            pressed(seen, draft_now(seen, record.kind, payload))


def _both_stand(seen: Seen, entry: Entry, beside: Sequence[Entry]) -> None:
    """Show decisions that replace the same one, and let the watch say which stands."""
    panel(f"<b>{words('Two decisions replace the same one. Which stands?')}</b>")
    for one in (entry, *beside):
        said, act = st.columns([3, 1], vertical_alignment="center")
        who = signed_words(one.record, seen.moment.at)
        said.html(line(words(one.value.what), words(who, "mp-quiet")))
        if seen.writable and act.button("This stands", key=f"stands_{one.id}"):
            over = [each.id for each in (entry, *beside) if each is not one]
            pressed(seen, draft_now(seen, "watch.decision", {
                "what": one.value.what, "reasons": "of two decisions this one stands",
                "decided_by": seen.actor.name, "replaces": one.id, "over": over,
            }))  # fmt: skip


def checklists(seen: Seen, watch: WatchState) -> None:
    """Show the checklists loaded, to be ticked by name."""
    for state in watch.checklists:
        value = state.checklist.value
        done = len(value.items) - state.left
        with st.expander(f"{value.name}: {done} of {len(value.items)} done ({value.when})"):
            for number, item in enumerate(value.items, 1):
                _item(seen, state, number, item)
            st.caption(f"Loaded from {value.loaded_from}")
            if seen.writable and st.button("Unload it", key=f"unload_{state.checklist.id}"):
                payload = {"target": state.checklist.id, "reason": "unloaded"}
                pressed(seen, draft_now(seen, "journal.retract", payload))
    if seen.writable:
        _load(seen)


TICKED = {True: ("✓", "done"), False: ("✗", "found NOT done"), None: ("–", "not yet")}


def _ticked(tick: Entry, now: datetime) -> str:
    """Return in which state somebody found an item: who, in which room, when."""
    where = read_signature(tick.record.author).room
    room = f", room {where}" if where else ""
    at = clock_words(tick.record.valid_at, now)
    return f"{TICKED[bool(tick.value.done)][1]}, {tick.value.by}{room} {at}"


def _item(seen: Seen, state: ChecklistState, number: int, item: str) -> None:
    """Show an item in one of its three states, with the presses that change it in place."""
    said, act, other = st.columns([4, 1, 1.3], vertical_alignment="center")
    tick, before = state.ticks[number - 1], state.before[number - 1]
    done = None if tick is None else bool(tick.value.done)
    mark, told = TICKED[done]
    if tick is not None:
        told = _ticked(tick, seen.moment.at)
    if before is not None:
        told += f"; before: {_ticked(before, seen.moment.at)}"
    said.html(line(words(f"{mark} {item}"), words(told, "mp-quiet")))
    if not seen.writable:
        return
    for place, label, state_ in ((act, "Done", True), (other, "Not done", False)):
        if state_ is done:
            continue
        if place.button(label, key=f"tick_{state.checklist.id}_{number}_{state_}",
                        help=f"{label}: {item}"):  # fmt: skip
            payload = {"target": state.checklist.id, "item": number, "by": seen.actor.name,
                       "done": state_}  # fmt: skip
            pressed(seen, draft_now(seen, "watch.tick", payload))


def _load(seen: Seen) -> None:
    """Show what a file would be read as, before it is taken."""
    with st.expander("Load a checklist from a file"):
        name = st.text_input("Name of the list", key="checklist_name")
        when = st.text_input("For which stage or phase", key="checklist_when")
        file = uploader("CSV or text, one item a line", type=["csv", "txt"], key="checklist_file")
        if file is None:
            return
        try:
            lists = read_checklists(file.getvalue(), file.name, title=name, when=when)
        except InputError as reason:
            st.error(str(reason))
            return
        for each in lists:
            rows = list(enumerate(each.items, start=1))
            panel(f"<b>{words(f'{each.name} ({each.when})')}</b>{table(rows, ('', 'Item'))}")
        count = sum(len(each.items) for each in lists)
        if st.button(f"Take these {count} items", key="checklist_take"):
            held = (
                draft_now(seen, "watch.checklist", one.model_dump(mode="json")) for one in lists
            )
            pressed(seen, *held)


LATEST = 2


def last_decisions(seen: Seen, watch: WatchState) -> None:
    """Show the decisions that stand, newest first, in a line and its reason; two at most.

    Where two replace the same one, the choice between them is shown whatever else is folded.
    """
    standing = [one for one in reversed(watch.decisions) if not one.replaced_by]
    parts = [f"<b>{words('Decided last')}</b>"]
    for state in standing[:LATEST]:
        value, at = state.entry.value, state.entry.record.valid_at
        parts.append(
            f'<div class="mp-due"><b>{words(clock_words(at, seen.moment.at))}</b>'
            f"<i>{words(value.decided_by)}</i><span>{words(value.what)}"
            f"<br>{words(value.reasons, 'mp-quiet')}</span></div>"
        )
    if not standing:
        parts.append(line(words("Nothing is decided yet.", "mp-quiet")))
    elif len(standing) > LATEST:
        parts.append(line(words(f"and {len(standing) - LATEST} more that stand", "mp-quiet")))
    panel("".join(parts))
    _settle(seen, watch)


def decisions(seen: Seen, watch: WatchState) -> None:
    """Show what was decided, why, and what it replaced."""
    rows = [
        (
            dtg(state.entry.record.valid_at),
            state.entry.value.what,
            state.entry.value.reasons,
            state.entry.value.decided_by,
            signed_words(state.entry.record, seen.moment.at),
            "replaced"
            if state.replaced_by
            else "? another beside it"
            if state.beside
            else "stands",
        )
        for state in reversed(watch.decisions)
    ]
    heads = ("When", "Decided", "Because", "By", "Recorded by", "")
    _block("Decisions", rows, heads, "None yet: add one below.")


def _settle(seen: Seen, watch: WatchState) -> None:
    """Show decisions that replace the same one, to say which stands."""
    shown: set[str] = set()
    for one in watch.decisions:
        if one.beside and one.entry.id not in shown:
            shown |= {one.entry.id, *(each.id for each in one.beside)}
            _both_stand(seen, one.entry, one.beside)


def open_points(seen: Seen, watch: WatchState) -> None:
    """Show assumptions and questions that are open."""
    at = seen.moment.at
    judged = min(at, seen.moment.as_of)
    rows = [
        (sort, point.entry.value.what,
         due_words(point.until, at, judged, overdue=point.past) if point.until else "")
        for sort, points in (("assumed", watch.assumptions), ("asked", watch.questions))
        for point in points
    ]  # fmt: skip
    heads = ("", "What", "Until")
    _block("Assumptions and open questions", rows, heads, "None open.")
    for point in (*watch.assumptions, *watch.questions):
        _two_words(seen, point.entry.value.what, point.answers)


def forms(seen: Seen) -> None:
    """Show the forms of the watch's own records."""
    if not seen.writable:
        return
    record_form.show_one_of(
        seen, TYPED_HERE, chooser="watch_form", key="watch", label="Add to the watch's book"
    )


def _block(
    title: str, rows: Sequence[Sequence[object]], heads: tuple[str, ...], empty: str
) -> None:
    inner = table(rows, heads) if rows else words(empty, "mp-quiet")
    panel(f"<b>{words(title)}</b>{inner}")
