"""The journal's records, newest first: filtered, searched, one picked to be looked at."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from functools import cache

import pandas as pd
import streamlit as st

from dashboard import state
from dashboard.panels.text import a, line, panel, table, words
from dashboard.view import Seen
from layers.catalogue import BY_KEY, KINDS
from layers.contract import Shown, Unavailable
from layers.earth.clock import dtg
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
    search, kinds, bulk, most = st.columns([3, 4, 2, 1.2], vertical_alignment="bottom")
    text = search.text_input("Search in text, source and author", key="log_text")
    names = kinds.multiselect(
        "Kinds", sorted(KINDS), format_func=lambda name: KINDS[name].title, key="log_kinds"
    )
    with_bulk = bulk.toggle("With positions and observations", value=False, key="log_bulk")
    limit = most.selectbox("Newest", (200, 1_000, 5_000), key="log_most")
    without = () if with_bulk or names else BULK
    if text.strip():
        without = (*without, *_hidden(seen))
    found = seen.journal.log(
        upto_seq=seen.picture.upto_seq,
        kinds=names,
        without=without,
        text=text.strip()[:200],
        limit=limit,
    )
    if not found:
        panel(words("No record fits. Clear the search, or wait for the first report."))
        return None
    chosen = st.dataframe(
        _frame(seen, found),
        hide_index=True,
        column_config={
            "What holds": st.column_config.TextColumn(width=400),
            "No longer holds": st.column_config.TextColumn(width=180),
            "By": st.column_config.TextColumn(width=140),
        },
        width="stretch",
        # a record that a link names is then seen below it without scrolling
        height=240 if st.query_params.get("record") else 520,
        on_select="rerun",
        selection_mode="single-row",
        key="log_table",
    )
    rows = chosen["selection"]["rows"]
    asked = _asked(seen) if not rows else None
    seq, head = seen.journal.head()
    panel(words(f"Head of the journal: record {seq}, hash {head}", "mp-quiet"))
    return found[rows[0]] if rows else asked


def _asked(seen: Seen) -> Record | None:
    """Return the record that a link names by its number, when it was known at the time shown."""
    text = st.query_params.get("record", "")
    if not NUMBER.fullmatch(text):
        return None
    seq = int(text)
    upto = min(seq, seen.picture.upto_seq)
    held = seen.journal.log(upto_seq=upto, after_seq=seq - 1, limit=1)
    if not held:
        panel(words(f"Record {seq} is not in the journal as it was known at the time shown."))
    return held[0] if held else None


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


def _frame(seen: Seen, records: list[Record]) -> pd.DataFrame:
    """Return the rows: what holds now leads, what it replaced and by which record beside it."""
    known, names = seen.known, seen.release.names
    held = [holding(known, record) for record in records]
    return pd.DataFrame(
        {
            "No.": [r.seq for r in records],
            "Kind": [KINDS[r.kind].title if r.kind in KINDS else r.kind for r in records],
            "What holds": [
                opinion_words(known, one.record, SHORT)
                if one.record.kind in OPINION_NAMES
                else one.now_words(SHORT, names=names)
                for one in held
            ],
            "No longer holds": [struck(one.struck_words(SHORT, names=names)) for one in held],
            "By": [one.by_words() for one in held],
            "True at": [dtg(one.valid_at) for one in held],
            "Heard": [dtg(one.heard_at) for one in held],
            "Source": [one.source for one in held],
            "Recorded": [dtg(r.recorded_at) for r in records],
            "Author": [r.author for r in records],
        }
    )


def struck(text: str) -> str:
    """Return text struck through, for a grid that knows no strokes of its own."""
    return "".join(f"{letter}\u0336" for letter in text)


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
