"""What may be uploaded: where a page just offers it, by who may write, and only so much.

The framework takes a file for any session that is open, whether or not a page asked for one.
Here a page that shows an uploader says so, and the door asks before a byte is read. What is held
is counted where the framework keeps it, so it is given back when the viewer takes a file away or
leaves.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import streamlit as st
from streamlit import runtime
from streamlit.runtime.scriptrunner import get_script_run_ctx

from dashboard.door import from_this_room
from dashboard.door.log_ins import cookies_of, key_of

MB = 1024 * 1024
MOST_BYTES = 100 * MB  # of one file
MOST_A_VIEWER, MOST_IN_ALL = 300 * MB, 600 * MB
MOST_FILES = 40  # a viewer
FRAME_BYTES = 64 * 1024  # that a form puts round a file


def who(headers: Mapping[str, str]) -> str:
    """Return a mark of who asked: their log-in's cookie, or that they are in this room."""
    if key := key_of(cookies_of(headers.get("cookie", ""))):
        return key
    return "room" if from_this_room(headers) else ""


@dataclass(slots=True)
class Offers:
    """The sessions whose page shows an uploader now, and what is on its way to them."""

    _open: dict[str, str] = field(default_factory=dict)
    _of_before: set[str] = field(default_factory=set)  # sessions whose page is being made anew
    _coming: dict[str, int] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def offer(self, session: str, by: str) -> None:
        """Note that a session's page shows an uploader to who may write."""
        with self._lock:
            self._open[session] = by
            self._of_before.discard(session)

    def made_anew(self, session: str) -> None:
        """Note that a session's page begins anew: what it showed stands until the new one does.

        A page is made anew for seconds, and a file is dropped on what is seen.
        """
        with self._lock:
            if session in self._open:
                self._of_before.add(session)

    def made(self, session: str) -> None:
        """Note that a session's page is made: an uploader that it shows no more takes nothing."""
        with self._lock:
            if session in self._of_before:
                self._of_before.discard(session)
                self._open.pop(session, None)

    def begin(self, session: str, by: str, size: int) -> tuple[int, str]:
        """Let an upload begin: return 0, or the status and the words that refuse it."""
        held = held_bytes()
        with self._lock:
            if not by or self._open.get(session) != by:
                return 403, "this page takes no file from you"
            if size > MOST_BYTES + FRAME_BYTES:
                return 413, f"a file has at most {MOST_BYTES // MB} MB"
            mine = held.get(session, ())
            if len(mine) >= MOST_FILES:
                return 413, f"at most {MOST_FILES} files are held; take some away first"
            if sum(mine) + self._coming.get(session, 0) + size > MOST_A_VIEWER:
                return 413, f"at most {MOST_A_VIEWER // MB} MB are held; take some away first"
            if sum(map(sum, held.values())) + sum(self._coming.values()) + size > MOST_IN_ALL:
                return 503, "the server holds as many files as it can; try again later"
            self._coming[session] = self._coming.get(session, 0) + size
        return 0, ""

    def end(self, session: str, size: int) -> None:
        """Note that an upload is through, or was broken off."""
        with self._lock:
            left = self._coming.pop(session, 0) - size
            if left > 0:
                self._coming[session] = left


def held_bytes() -> dict[str, Sequence[int]]:
    """Return the sizes of the files that the framework holds for each session."""
    if not runtime.exists():
        return {}
    kept = getattr(runtime.get_instance().uploaded_file_mgr, "file_storage", {})
    return {
        session: [len(one.data) for one in list(files.values())]
        for session, files in list(kept.items())
    }


OFFERS = Offers()


def begin_page() -> None:
    """Say that this session's page begins anew."""
    if context := get_script_run_ctx():
        OFFERS.made_anew(context.session_id)


def end_page() -> None:
    """Say that this session's page is made; one that is broken off begins anew at once."""
    if context := get_script_run_ctx():
        OFFERS.made(context.session_id)


def uploader(label: str, **how: Any) -> Any:
    """Show an uploader to who may write, and let its files through the door.

    Parameters
    ----------
    label, **how
        As `streamlit.file_uploader` takes them.
    """
    if context := get_script_run_ctx():
        headers = {name.lower(): told for name, told in st.context.headers.to_dict().items()}
        OFFERS.offer(context.session_id, who(headers))
    return st.file_uploader(label, **how)
