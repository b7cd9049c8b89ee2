"""Dropping a file on the plot: its type is told from its content, every line is accounted for."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

import streamlit as st

from dashboard import state
from dashboard.door.uploads import uploader
from dashboard.panels.text import panel, table, words
from dashboard.state import Key
from dashboard.tools.forms import refusal
from dashboard.tools.rate import RateLimit
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.contract import Reading
from layers.earth.errors import MusterplotError
from layers.earth.said.times import told_time
from layers.ingest import ASKS_WHAT, MEANT, FileOutcome, FileTold, feed_by_key, read_content
from layers.journal.actor import Role, may_write

MOST_FILES = 20  # a minute and session
MINUTE_S = 60.0
MOST_REASONS = 6
PROMPT = "Drop a file: ship log, buoy text, airfield reports, profile, route, forecast, records"


def show(seen: Seen, key: str = "drop") -> None:
    """Show the place to drop a file, and what became of it."""
    if not seen.writable:
        st.caption("Reading only: the watch records.")
        return
    files = uploader(PROMPT, accept_multiple_files=True, key=f"{key}_files")
    left: list[str] = []
    wait_s = 0.0
    for file in _new(files or ()):
        wait_s = _rate().take("files", time.monotonic())
        if wait_s:
            left.append(file.name)
            continue
        state.put(Key.FILES_READ, (*state.get(Key.FILES_READ), file.file_id)[-200:])
        _read(seen, file, FileTold())
    for file in files or ():
        if file.file_id in state.get(Key.FILES_ASKED):
            _ask(seen, file, key)
    if left:
        _say_left(left, wait_s, key)
    for said in reversed(state.get(Key.FILES_SAID)):
        panel(said)


def _read(seen: Seen, file: Any, told: FileTold) -> None:
    """Read a file, and keep what is to be said of it, or asked."""
    with st.spinner(f"Reading {file.name}"):
        said, asks = _take(seen, file.name, file.getvalue(), told)
    state.put(Key.FILES_SAID, (*state.get(Key.FILES_SAID), said)[-MOST_FILES:])
    asked = {k: v for k, v in state.get(Key.FILES_ASKED).items() if k != file.file_id}
    state.put(Key.FILES_ASKED, asked | ({file.file_id: asks} if asks else {}))


def _ask(seen: Seen, file: Any, key: str) -> None:
    """Ask what a file does not say itself; answered, it is read again and recorded."""
    asks = state.get(Key.FILES_ASKED)[file.file_id]
    with st.form(f"{key}_ask_{file.file_id}"):
        st.markdown(f"**{file.name}** asks")
        st.caption(asks)
        typed, meant = "", ""
        if asks.startswith(ASKS_WHAT):
            meant = st.selectbox("What it is", MEANT, index=None, key=f"{key}_meant") or ""
        else:
            typed = st.text_input(
                "Recorded at", key=f"{key}_recorded", placeholder="281044Z NOV 26"
            )
        if not st.form_submit_button("Read it again") or not (typed or meant):
            return
    try:
        at = told_time(typed, seen.now, "Recorded at") if typed else None
    except MusterplotError as reason:
        refusal.keep(f"{key}_ask_{file.file_id}", reason)
        return
    _read(seen, file, FileTold(recorded_at=at, meant=meant))
    st.rerun()


def _new(files: Iterable[Any]) -> list[Any]:
    """Return the files that were not read before in this session."""
    read = set(state.get(Key.FILES_READ))
    return [file for file in files if file.file_id not in read]


def _rate() -> RateLimit:
    """Return this session's count of files."""
    if state.get(Key.FILES_RATE) is None:
        state.put(Key.FILES_RATE, RateLimit(MOST_FILES, MINUTE_S))
    rate: RateLimit = state.get(Key.FILES_RATE)
    return rate


def _say_left(names: Sequence[str], wait_s: float, key: str) -> None:
    """Say which files are not read yet, and offer to read them; none is lost silently."""
    panel(
        words(
            f"Not read yet, {len(names)} of the files: {', '.join(names)}. At most {MOST_FILES} "
            f"files a minute are read; press the button in {math.ceil(wait_s)} s."
        )
    )
    st.button("Read the rest", key=f"{key}_rest")


def _take(seen: Seen, name: str, content: bytes, told: FileTold) -> tuple[str, str]:
    """Read one file into the journal; return what became of it as ready HTML, and what it asks.

    The person must be of the watch; the lines are then a feed's, so that one the journal cannot
    take stands aside as a reject and the others are kept.
    """
    already = Counter[str]()
    refused = Counter[str]()
    pen = seen.pen
    feed = replace(seen.actor, role=Role.FEED, via="dropped file")  # who, in which room, by whom

    def keep(reading: Reading) -> None:
        kept = reading.to_keep()
        done = pen.append(feed, kept.drafts, rejects=kept.rejects, blobs=kept.blobs)
        already["already there"] += len(done.already_there)
        refused.update(_reason(reject.reason) for reject in done.rejects)

    try:
        may_write(seen.actor)
        summary = read_content(content, name, seen.now, keep, told=told)
    except MusterplotError as reason:
        return words(f"{name}: {reason}"), ""
    rows = [(what, count) for what, count in already.items() if count]
    rows += [(f"refused by the journal: {why}", n) for why, n in refused.most_common(MOST_REASONS)]
    asks = next((outcome.asks for outcome in summary.outcomes if outcome.asks), "")
    said = "".join(_said(outcome) for outcome in summary.outcomes) + table(rows, figures=(1,))
    return said, asks


def _reason(said: str) -> str:
    """Return why the journal refused, without the place, so that the same is counted together."""
    return said.partition(": ")[2] or said


def _said(outcome: FileOutcome) -> str:
    title = feed_by_key(outcome.format).title if outcome.format else "not recognised"
    rows: list[tuple[object, ...]] = [
        (KINDS[kind].title if kind in KINDS else kind, count)
        for kind, count in outcome.records.items()
    ]
    if outcome.asks:
        rows = [(f"not recorded yet: {title}", count) for title, count in rows]
    rows += [(f"doubtful: {why}", count) for why, count in outcome.doubts.most_common(MOST_REASONS)]
    rows += [(f"passed over: {why}", count) for why, count in outcome.passed_over.items()]
    rows += [
        (f"rejected: {why}", count) for why, count in outcome.reasons.most_common(MOST_REASONS)
    ]
    return f"<b>{words(outcome.path)}</b> {words(title, 'mp-quiet')}{table(rows, figures=(1,))}"
