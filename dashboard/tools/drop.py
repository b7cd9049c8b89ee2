"""Dropping a file on the plot: its type is told from its content, every line is accounted for."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

import streamlit as st

from dashboard import state
from dashboard.door.uploads import uploader
from dashboard.panels.text import panel, table, words
from dashboard.state import Key
from dashboard.tools.rate import Rate
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.contract import Reading
from layers.earth.errors import MusterplotError
from layers.ingest import Outcome, feed_by_key, read_content
from layers.journal.actor import Actor, Role, may_write

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
        with st.spinner(f"Reading {file.name}"):
            said = _take(seen, file.name, file.getvalue())
        state.put(Key.FILES_SAID, (*state.get(Key.FILES_SAID), said)[-MOST_FILES:])
    if left:
        _say_left(left, wait_s, key)
    for said in reversed(state.get(Key.FILES_SAID)):
        panel(said)


def _new(files: Iterable[Any]) -> list[Any]:
    """Return the files that were not read before in this session."""
    read = set(state.get(Key.FILES_READ))
    return [file for file in files if file.file_id not in read]


def _rate() -> Rate:
    """Return this session's count of files."""
    if state.get(Key.FILES_RATE) is None:
        state.put(Key.FILES_RATE, Rate(MOST_FILES, MINUTE_S))
    rate: Rate = state.get(Key.FILES_RATE)
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


def _take(seen: Seen, name: str, content: bytes) -> str:
    """Read one file into the journal; return what became of it as ready HTML.

    The person must be of the watch; the lines are then a feed's, so that one the journal cannot
    take stands aside as a reject and the others are kept.
    """
    already = Counter[str]()
    pen = seen.pen
    feed = Actor(name=seen.actor.name, role=Role.FEED, via="dropped file")

    def keep(reading: Reading) -> None:
        done = pen.append(feed, reading.drafts, rejects=reading.rejects, blobs=reading.blobs)
        already["already there"] += len(done.already_there)
        already["refused by the journal"] += len(done.rejects)

    try:
        may_write(seen.actor)
        summary = read_content(content, name, seen.now, keep)
    except MusterplotError as reason:
        return words(f"{name}: {reason}")
    return "".join(_said(outcome) for outcome in summary.outcomes) + table(
        [(what, count) for what, count in already.items() if count], figures=(1,)
    )


def _said(outcome: Outcome) -> str:
    title = feed_by_key(outcome.format).title if outcome.format else "not recognised"
    rows: list[tuple[object, ...]] = [
        (KINDS[kind].title if kind in KINDS else kind, count)
        for kind, count in outcome.records.items()
    ]
    rows += [(f"passed over: {why}", count) for why, count in outcome.passed_over.items()]
    rows += [
        (f"rejected: {why}", count) for why, count in outcome.reasons.most_common(MOST_REASONS)
    ]
    return f"<b>{words(outcome.path)}</b> {words(title, 'mp-quiet')}{table(rows, figures=(1,))}"
