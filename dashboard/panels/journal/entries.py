"""The journal's records, newest first: filtered, searched, one picked to be looked at."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from functools import cache

import streamlit as st

from dashboard import state
from dashboard.panels.text import a, line, panel, table, words
from dashboard.view import Seen
from layers.catalogue import BY_KEY, KINDS
from layers.contract import Shown, Unavailable
from layers.earth.clock import clock_words, dtg
from layers.journal.holds import holding, opinion_words
from layers.journal.kinds import OPINION_NAMES
from layers.journal.known import Entry, Known
from layers.journal.record import Record
from layers.journal.words.payloads import NAMES, payload_rows, payload_words, position_in

BULK = tuple(name for name, kind in KINDS.items() if kind.columns)
SHORT = 160
NUMBER = re.compile(r"[1-9]\d{0,8}", re.ASCII)
KEPT_BACK = "The records are kept back here: the watch withholds what stands in them."


def kept_back(seen: Seen) -> str:
    """Return why this viewer is not shown the records, empty when they are.

    A record tells everything it says: from whom something is withheld, the records are.
    """
    withheld = not (seen.release.exact_position and seen.release.medical)
    return "" if seen.writable or not withheld else KEPT_BACK


def show(seen: Seen) -> Record | None:
    """Show the filter, the table and the picked record; return that record."""
    search, kinds, bulk, most, number = st.columns([3, 3.4, 2.4, 1, 1], vertical_alignment="bottom")
    text = search.text_input("Search in text, source and author", key="log_text")
    names = kinds.multiselect(
        "Kinds", sorted(KINDS), format_func=lambda name: KINDS[name].title, key="log_kinds"
    )
    with_bulk = bulk.toggle("With positions and observations", value=False, key="log_bulk")
    limit = most.selectbox("Newest", (100, 500, 2_000), key="log_most")
    opened = number.text_input("Open No.", key="log_open")
    without = () if with_bulk or names else BULK
    if text.strip():
        without = (*without, *_hidden(seen))
    found = seen.known.told_apart(seen.journal.log(
        upto_seq=seen.picture.upto_seq,
        kinds=names,
        without=without,
        text=text.strip()[:200],
        limit=limit,
    ))  # fmt: skip
    if not found:
        panel(words("No record fits. Clear the search, or wait for the first report."))
        return None
    asked = _asked(seen, opened)
    css = "mp-log short" if asked is not None else "mp-log"  # the record stands below it in sight
    st.html(f'<div class="{css}" tabindex="0" role="region" aria-label="Records">'
            f"{_listed(seen, found)}</div>")  # fmt: skip
    seq, head = seen.journal.head()
    st.html(words(f"Head of the journal: record {seq}, hash {head}", "mp-quiet"))
    return asked


def _listed(seen: Seen, records: list[Record]) -> str:
    """Return the records as rows: what holds leads, beside it what it replaced and by which."""
    known, names, at = seen.known, seen.release.names, seen.moment.at
    rows = []
    for record in records:
        one = holding(known, record)
        told = (
            opinion_words(known, record, SHORT)
            if record.kind in OPINION_NAMES
            else one.now_words(SHORT, names=names)
        )
        if struck := one.struck_words(SHORT, names=names):
            told_html = f"{words(told)} <s>{words(struck, 'mp-quiet')}</s>"
        else:
            told_html = words(told)
        told_html += f" {words(by, 'mp-quiet')}" if (by := one.by_words()) else ""
        kind = KINDS[record.kind].title if record.kind in KINDS else record.kind
        written = f"recorded {clock_words(record.recorded_at, at)} by {record.author}"
        if one.heard_at != one.valid_at:
            written = f"heard {clock_words(one.heard_at, at)}, {written}"
        rows.append(
            f"<tr><td>{a(state.link('log', record=str(record.seq)), record.seq)}</td>"
            f"<td><b>{words(clock_words(one.valid_at, at))}</b></td><td>{words(kind)}</td>"
            f"<td>{told_html}</td><td>{words(one.source)}<br>{words(written, 'mp-quiet')}</td></tr>"
        )
    heads = "".join(f"<th>{head}</th>" for head in ("No.", "True at", "Kind", "What holds", "From"))
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{''.join(rows)}</tbody></table>"


def _asked(seen: Seen, opened: str) -> Record | None:
    """Return the record typed or linked to by its number, when it was known at the time shown."""
    text = opened.strip() or st.query_params.get("record", "")
    if not NUMBER.fullmatch(text):
        return None
    seq = int(text)
    upto = min(seq, seen.picture.upto_seq)
    held = seen.journal.log(upto_seq=upto, after_seq=seq - 1, limit=1)
    if not held:
        panel(words(f"Record {seq} is not in the journal as it was known at the time shown."))
    return seen.known.told_apart(held)[0] if held else None


def _hidden(seen: Seen) -> tuple[str, ...]:
    """Return the kinds that must not be searched: a search would find a name that is not shown."""
    return () if seen.release.names else _named()


@cache
def _named() -> tuple[str, ...]:
    """Return the kinds whose records can name persons."""
    return tuple(
        name for name, kind in KINDS.items()
        if f'"{NAMES}"' in json.dumps(kind.model.model_json_schema())
    )  # fmt: skip


def what(record: Record) -> str:
    """Return a payload as one short line of text."""
    return payload_words(record.payload, most=SHORT, kind=record.kind)


def bears_on(layers: Mapping[str, Shown | Unavailable], id_: str) -> list[tuple[str, str, str]]:
    """Return key, title and sentence of every layer whose result rests on a record."""
    return [
        (key, BY_KEY[key].title, shown.sentence)
        for key, shown in layers.items()
        if isinstance(shown, Shown) and id_ in getattr(shown.result, "rests_on", ())
    ]


def place_of(value: object) -> tuple[float, float] | None:
    """Return the first place that stands in a payload, degrees of latitude and longitude."""
    if isinstance(value, Mapping) and (place := position_in(value)):
        return place.latitude_deg, place.longitude_deg
    held = value.values() if isinstance(value, Mapping) else value
    if isinstance(held, (str, bytes)) or not isinstance(held, Iterable):
        return None
    return next((found for each in held if (found := place_of(each)) is not None), None)


def on_the_chart(record: Record, place: tuple[float, float] | None) -> str:
    """Return the link that opens the plot centred on a record's place, empty without a place."""
    if place is None:
        return ""
    return a(
        state.link("plot", centre=state.place_words(*place)), f"Record {record.seq} on the plot"
    )


def whole(
    record: Record,
    entry: Entry | None,
    *,
    names: bool,
    bears: Sequence[tuple[str, str, str]] = (),
    known: Known | None = None,
) -> None:
    """Show one record whole, with what is thought of it; persons' names only where allowed."""
    title = KINDS[record.kind].title if record.kind in KINDS else record.kind
    rows = [("as recorded", title), ("true at", dtg(record.valid_at)),
            ("heard", dtg(record.heard_at)), ("from", record.source)]  # fmt: skip
    rows += payload_rows(record.payload, names=names, kind=record.kind)
    if known is not None:
        rows += [
            (
                f"{KINDS[said.kind].title} No. {said.seq}",
                f"{opinion_words(known, said)} ({said.author}, {dtg(said.recorded_at)})",
            )
            for said in known.opinions().get(record.id, ())
        ]
    # where it was corrected to, if it was
    payload = entry.value.model_dump() if entry is not None else record.payload
    links = [on_the_chart(record, place_of(payload))]
    links += [
        line(words("now bears on"), a(state.link(BY_KEY[key].address), title), words(sentence))
        for key, title, sentence in bears
    ]
    head = words(f"Record {record.seq}")
    if known is not None and (by := holding(known, record).by_words()):
        head += " " + words(by, "mp-late")
    panel(head + table(rows) + "".join(links))
