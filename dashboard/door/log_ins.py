"""Who is logged in, and who has logged out: kept on the server, so that a copied cookie ends too.

The framework's log-in is a signed cookie; logging out takes it from one browser only. Here each
log-in is known by the hash of what its cookie says, never of the text of it: a signature can be
spelt in several ways that count the same, and cookies beside it mean nothing. One that was ended,
by its own browser or by the watch, reads from then on, whoever brings the cookie; that is kept in
the data folder over a restart. Each server keeps its own list.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from starlette.requests import cookie_parser
from streamlit.auth_util import get_cookie_with_chunks
from streamlit.web.server.server_util import get_cookie_secret
from streamlit.web.server.starlette.starlette_app_utils import decode_signed_value

from layers import ours

COOKIE = "_streamlit_user"
KEPT = timedelta(days=31)  # the framework's cookie lives thirty days
SEEN_FOR = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class LogIn:
    """Somebody who is logged in, as the provider says, and when they were first and last seen."""

    key: str
    name: str
    address: str
    role: str
    first: datetime
    last: datetime


def cookies_of(header: str) -> dict[str, str]:
    """Return the cookies of a header, read as the framework reads them."""
    return cookie_parser(header)


def key_of(cookies: Mapping[str, str]) -> str:
    """Return what tells one log-in from another; empty without one that is rightly signed."""
    secret = get_cookie_secret()

    def said(name: str) -> bytes | None:
        return decode_signed_value(secret, name, cookies.get(name, "").encode("latin-1", "replace"))

    held = get_cookie_with_chunks(said, COOKIE)
    return hashlib.sha256(held).hexdigest() if held else ""


@dataclass(slots=True)
class LogIns:
    """The log-ins that this server has seen, and those that were ended.

    Parameters
    ----------
    path : Path
        Where the ended ones are kept.
    """

    path: Path
    _seen: dict[str, LogIn] = field(default_factory=dict)
    _ended: dict[str, str] | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def see(self, key: str, name: str, address: str, role: str) -> bool:
        """Note that somebody came with a log-in; return whether it still counts."""
        now = datetime.now(UTC)
        with self._lock:
            if not key or key in self._read():
                return False
            before = self._seen.get(key)
            first = now if before is None else before.first
            self._seen[key] = LogIn(key, name, address, role, first, now)
        return True

    def end(self, key: str) -> None:
        """End a log-in for every copy of its cookie."""
        if not key:
            return
        now = datetime.now(UTC)
        with self._lock:
            held = self._read()
            held[key] = now.isoformat()
            oldest = (now - KEPT).isoformat()
            self._ended = {one: at for one, at in held.items() if at >= oldest}
            self._seen.pop(key, None)
            with contextlib.suppress(OSError):  # a full disk: it is ended until a restart
                ours.write(self.path, json.dumps(self._ended).encode())

    def is_ended(self, key: str) -> bool:
        """Whether a log-in was ended here."""
        with self._lock:
            return key in self._read()

    def now(self) -> list[LogIn]:
        """Return who is logged in and was seen within a day, the last seen first."""
        oldest = datetime.now(UTC) - SEEN_FOR
        with self._lock:
            held = [replace(one) for one in self._seen.values() if one.last >= oldest]
        return sorted(held, key=lambda one: one.last, reverse=True)

    def _read(self) -> dict[str, str]:
        if self._ended is None:
            try:
                found = json.loads(self.path.read_text("utf-8"))
                self._ended = {str(key): str(at) for key, at in found.items()}
            except (OSError, ValueError, AttributeError):
                self._ended = {}
        return self._ended


_OPEN: dict[Path, LogIns] = {}


def log_ins(folder: Path) -> LogIns:
    """Return the list kept in a data folder, the same for pages and for the door."""
    return _OPEN.setdefault(folder, LogIns(folder / "log_outs.json"))
