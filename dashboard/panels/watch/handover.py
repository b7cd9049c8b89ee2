"""Watch handover, signed by both; and the replay of decisions for an inquiry."""

from __future__ import annotations

from datetime import datetime, timedelta

import streamlit as st

from dashboard.cache import pictures
from dashboard.panels import sound
from dashboard.panels.journal.entries import kept_back, what
from dashboard.panels.text import line, panel, table, words
from dashboard.tools.forms import record_form
from dashboard.view import Seen
from layers.catalogue import BY_KEY, KINDS
from layers.earth.clock import day_hhmm, dtg, parse_time
from layers.earth.errors import InputError
from layers.journal.holds import listed
from layers.journal.known import Entry
from layers.journal.record import Record
from layers.journal.signature import read_signature
from layers.watch.handover import CountedNews, Moved, Since, since
from layers.watch.moved import moved_words
from layers.watch.replay import Replayed, replay
from layers.watch.result import WatchState

HOURS = 4.0


def show(seen: Seen, watch: WatchState) -> None:
    """Show what changed since a time the reader chooses, and the signatures."""
    if reason := kept_back(seen):
        panel(words(reason))
        return
    last = watch.handovers[-1] if watch.handovers else None
    start = last.given.record.valid_at if last else seen.moment.at - timedelta(hours=HOURS)
    text = st.text_input("Handover since", dtg(start), key="handover_since")
    try:
        since_at = parse_time(text, "Handover since")
    except InputError as reason:
        st.error(str(reason))
        return
    if since_at >= seen.moment.as_of:
        st.error(f"Handover since: {dtg(since_at)} is not before {dtg(seen.moment.as_of)}")
        return
    before = pictures.shared_picture(since_at, since_at, release=seen.release)
    found = since(
        seen.known, since_at, seen.moment, before=before.layers, after=seen.picture.layers
    )
    _since(seen, found)
    sound.trial(seen)
    _signed(seen, watch, since_at)


def replayed(seen: Seen) -> None:
    """Show each decision beside what was known, for an inquiry."""
    for each in replay(seen.known, seen.moment):
        _replayed(each)


def _since(seen: Seen, found: Since) -> None:
    parts = [f"<b>{words(f'Since {dtg(found.since)}')}</b>"]
    if found.learnt:
        parts.append(f"<div style='margin-top:5px'>{words('Learnt', 'mp-quiet')}</div>")
        parts += [_learnt(each) for each in found.learnt]
    for title, told in (
        ("Decided", [each.entry.value.what for each in found.decided]),
        ("Corrected, disputed, graded", [each.words for each in found.changed]),
        ("Moved", [short for each in found.moved if (short := _moved(each))]),
        ("Went stale", list(found.went_stale)),
        (
            "Heard long before it was recorded",
            [f"{KINDS[r.kind].title}: {listed(seen.known, r, 160)}" for r in found.heard_late],
        ),
        ("Overdue", [event.words(seen.moment.at) for event in found.overdue]),
        (
            "Turns invalid next if nothing arrives",
            [event.words(seen.moment.at) for event in found.next_to_turn[:5]],
        ),
        ("Assumed", [point.entry.value.what for point in found.assumptions]),
        ("Asked, no answer yet", [point.entry.value.what for point in found.questions]),
    ):
        if told:
            parts.append(f"<div style='margin-top:5px'>{words(title, 'mp-quiet')}</div>")
            parts += [line(words(text)) for text in told[:12]]
            if len(told) > 12:
                parts.append(line(words(f"and {len(told) - 12} more", "mp-quiet")))
    panel("".join(parts))


def _learnt(each: CountedNews) -> str:
    """Return what the last record of a kind says now; what it replaced is struck through."""
    # of what comes in thousands only the count is told
    more = f" ({each.count} in all)" if each.count > 1 or each.last is None else ""
    struck = f"<s>{words(each.struck, 'mp-quiet')}</s>" if each.struck else ""
    return line(
        f"<b>{words(each.title)}</b>{words(more, 'mp-quiet')}",
        words(each.last_words),
        struck,
        words(each.by, "mp-quiet"),
    )


def _moved(each: Moved) -> str:
    told = moved_words(each.before, each.after)
    return f"{BY_KEY[each.layer].title}: {told}" if told else ""


def _signed(seen: Seen, watch: WatchState, since_at: datetime) -> None:
    rows = [
        (
            dtg(state.given.record.valid_at),
            state.given.value.given_by,
            state.given.value.given_to,
            _signature(state.taken) if state.taken is not None else "not signed by the new watch",
        )
        for state in reversed(watch.handovers)
    ]
    if rows:
        panel(table(rows, ("Handover", "From", "To", "")))
    if not seen.writable:
        return
    still = [state for state in reversed(watch.handovers) if not state.signed]
    mine = [one for one in still if one.given.value.given_to == seen.actor.name]
    open_one = next(iter((*mine, *still)), None)
    if len(still) > 1:  # of two rooms' handovers each signs its own
        by_id = {one.given.id: one for one in (*mine, *still)}
        chosen = st.selectbox(
            "Which handover", list(by_id), key="handover_of",
            format_func=lambda id_: (
                f"{by_id[id_].given.value.given_by} to {by_id[id_].given.value.given_to}"
            ),
        )  # fmt: skip
        open_one = by_id[chosen]
    with st.expander("Sign for the new watch" if open_one else "Hand the watch over"):
        if open_one is not None:
            kind, fixed = "watch.takeover", {"target": open_one.given.id}
        else:
            _, head = seen.journal.head()
            kind, fixed = "watch.handover", {"head_hash": head, "since": since_at.isoformat()}
        key = "handover" if open_one is None else f"handover.{open_one.given.id}"
        record_form.show(seen, KINDS[kind], fixed=fixed, key=key)


def _signature(taken: Entry) -> str:
    """Return who signed, in which room, and in whose place."""
    value, record = taken.value, taken.record
    room = read_signature(record.author).room
    where = f", room {room}" if room else ""
    stead = f", in place of {value.in_place_of}" if value.in_place_of else ""
    return f"signed by {value.taken_by}{stead}{where} {day_hhmm(record.valid_at)}"


def _replayed(each: Replayed) -> None:
    record = each.decision.record
    rows = [
        ("decided", f"{dtg(each.taken_at)}, recorded {dtg(record.recorded_at)}"),
        ("the screens showed", dtg(each.shown_as_of.at)),
    ]
    rows += [("recorded by then", _told(r)) for r in each.recorded[:14]]
    rows += [("heard, written down later", _told(r)) for r in each.heard_not_recorded]
    rows += [("handed out by then", _told(r)) for r in each.exports]
    rows += [("superseded since", f"{_told(s.record)}; {_told(s.opinion)}")
             for s in each.superseded]  # fmt: skip
    if each.replaced_by is not None:
        rows.append(("replaced by", _told(each.replaced_by.record)))
    panel(f"<b>{words(each.decision.value.what)}</b>" + table(rows))


def _told(record: Record) -> str:
    title = KINDS[record.kind].title if record.kind in KINDS else record.kind
    return f"No. {record.seq} {title}: {what(record)}"
