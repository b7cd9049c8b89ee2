"""What was shown last before this server was started, so that a second start need not wait.

Only times and places in the order are kept here, by release; the results themselves lie where the
computing processes keep them (`layers.results`), under keys that another program does not find.
"""

from __future__ import annotations

import json
import threading
import time
from datetime import datetime, timedelta
from pathlib import Path

import streamlit as st

from dashboard import settings
from dashboard.cache import opened, pictures
from dashboard.cache.opened import Present
from layers import ours
from layers.earth.clock import from_us, to_us
from layers.journal.releases.rules import Release

NOTED_EVERY_S = 15.0
NOTED = 4  # moments of a release: a clock that is kept now and then begins a little earlier
MINUTE_US = 60_000_000
OLDEST = timedelta(hours=12)  # a picture from before that is waited for instead


class LastShown:
    """The last whole pictures of each release, by their moments and places in the order.

    Parameters
    ----------
    path : Path
        A file that outlives this process.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._lock = threading.Lock()
        self._before = self._read()
        self._now: dict[str, list[tuple[int, int]]] = {}
        self._written = -NOTED_EVERY_S

    def _read(self) -> dict[str, list[tuple[int, int]]]:
        try:
            told = json.loads(ours.read(self._path))
            return {str(k): [(int(at), int(seq)) for at, seq in held] for k, held in told.items()}
        except Exception:  # none, half written, somebody else's: there is nothing to show then
            return {}

    def note(self, key: str, at: datetime, upto_seq: int) -> None:
        """Take down that a whole picture was shown: what was before is no longer needed."""
        with self._lock:
            held = self._now.setdefault(key, [])
            if held and to_us(at) - held[-1][0] < MINUTE_US:
                held.pop()
            held.append((to_us(at), upto_seq))
            del held[:-NOTED]
            if time.monotonic() - self._written < NOTED_EVERY_S:
                return
            self._written = time.monotonic()
            try:
                ours.write(self._path, json.dumps({**self._before, **self._now}).encode())
            except OSError:  # a full disk: the next start waits
                return

    def before(self, key: str, now: datetime) -> tuple[datetime, int] | None:
        """Return what a release was shown last by the server before; None once there is newer."""
        with self._lock:
            held = [] if key in self._now else self._before.get(key, [])
        fit = [
            (from_us(at_us), seq)
            for at_us, seq in held
            if timedelta(0) <= now - from_us(at_us) <= OLDEST
        ]
        return max(fit, default=None)


@st.cache_resource(show_spinner=False)
def _lasts() -> LastShown:
    return LastShown(settings.incident_folder() / f"shown-{settings.journal_key()}.json")


def note(release: Release, at: datetime, upto_seq: int) -> None:
    """Take down what was shown whole."""
    if settings.has_worker():
        _lasts().note(opened.key_of(release), at, upto_seq)


def stands(here: Present, release: Release) -> tuple[datetime, int] | None:
    """Return the moment and place that are shown, dated, until the first picture is there.

    None when that is there, when nothing was shown before, or when not all of it was kept.
    """
    if not settings.has_worker():
        return None
    found = _lasts().before(opened.key_of(release), here.now)
    if found is None or found[1] > here.revision or found[0] > here.shown:
        return None
    if pictures.is_ready(here.shown, here.shown, here.revision, release):
        return None
    if opened.book().seq_at(found[0]) > found[1] or not pictures.is_kept(*found, release):
        return None
    pictures.ask(here.shown, here.revision, release)
    return found
