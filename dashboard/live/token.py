"""A page's token: what this browser may be told, signed, for a minute.

The page's script knows who looks; a route does not. So the script says it in a token, which holds
the release that the page was made for, the browser it was made in and when the log-in ends. It is
renewed before it runs out, never past the end of the log-in; the server asks at each question
whether the log-in was ended.
"""

from __future__ import annotations

import hashlib
import json
import secrets
import threading
import time
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from functools import cache as kept_for_good
from pathlib import Path

from itsdangerous import BadSignature, SignatureExpired, URLSafeTimedSerializer

from dashboard import settings
from dashboard.door import from_this_room
from dashboard.door.browser import COOKIE
from dashboard.door.log_ins import log_ins
from layers import ours

LASTS_S = 60
HALF_S = 30
BROWSER = COOKIE
FILE = "changes.key"
_making = threading.Lock()


class NotTold(Exception):
    """A question that is not answered: the page has to be run again, which says what it may see."""

    def __init__(self, status: int, words: str) -> None:
        super().__init__(words)
        self.status = status


@dataclass(frozen=True, slots=True)
class Eyes:
    """Those who see the same.

    Parameters
    ----------
    release : str
        The key of what they may see, empty for the watch's whole.
    writable, wall : bool
        Whether the watch looks, and whether through the wall.
    ink : str
        In which colours.
    chart : str
        What the page's chart shows, as `dashboard.chart.chart_view` writes it; empty without one.
    """

    release: str
    writable: bool
    wall: bool
    ink: str
    chart: str = ""


@dataclass(frozen=True, slots=True)
class Bearer:
    """Whose token it is: the browser, the log-in and its end, and whether it came from the room."""

    browser: str
    log_in: str = ""
    ends_at: float = 0.0  # seconds since 1970, 0 without a log-in
    room: bool = False


def browser_key(cookie: str) -> str:
    """Return what stands for a browser's cookie in a token; empty without one."""
    return hashlib.sha256(cookie.encode()).hexdigest()[:24] if cookie else ""


@kept_for_good
def _signer(folder: Path) -> URLSafeTimedSerializer:
    path = folder / FILE
    with _making:
        try:
            held = ours.read(path)
        except OSError:
            folder.mkdir(parents=True, exist_ok=True)
            held = secrets.token_hex(32).encode()
            ours.write(path, held)
    return URLSafeTimedSerializer(held, salt="changes")


@kept_for_good
def _servers_signer(folder: Path) -> URLSafeTimedSerializer | None:
    """Return what signs for all servers of the journal, None where they have no key."""
    held = ours.servers_key(folder)
    return URLSafeTimedSerializer(held, salt="readers of any server") if held else None


def _anybody(eyes: Eyes, bearer: Bearer) -> bool:
    """Whether it is a reader's who did not log in: only those go on at another server.

    Which log-ins were ended each server knows for itself.
    """
    return not (eyes.writable or bearer.log_in or bearer.room)


def made(eyes: Eyes, bearer: Bearer) -> str:
    """Return a token."""
    content = [list(asdict(eyes).values()), list(asdict(bearer).values())]
    folder = settings.data_folder()
    signer = _servers_signer(folder) if _anybody(eyes, bearer) else None
    return str((signer or _signer(folder)).dumps(content))


def _loaded(text: str) -> tuple[Eyes, Bearer, datetime]:
    """Return what a token of this server holds, or a reader's of any server of the journal."""
    folder = settings.data_folder()
    try:
        content, at = _signer(folder).loads(text, max_age=LASTS_S, return_timestamp=True)
        mine = True
    except BadSignature as fault:
        servers = None if isinstance(fault, SignatureExpired) else _servers_signer(folder)
        if servers is None:
            raise
        content, at = servers.loads(text, max_age=LASTS_S, return_timestamp=True)
        mine = False
    eyes, bearer = Eyes(*content[0]), Bearer(*content[1])
    if not (mine or _anybody(eyes, bearer)):
        raise BadSignature("only readers come from another server")
    return eyes, bearer, at


def read(text: str, cookie: str, headers: Mapping[str, str]) -> tuple[Eyes, Bearer, float]:
    """Return whose token it is and how old it is, seconds.

    Parameters
    ----------
    text : str
        The token.
    cookie : str
        The browser's own, as it came with this question.
    headers : mapping
        Of this question, names in small letters.

    Raises
    ------
    NotTold
        It is not one of ours, of another browser, has run out, or its log-in has ended.
    """
    try:
        eyes, bearer, at = _loaded(text)
    except SignatureExpired:
        raise NotTold(401, "the token has run out") from None
    except (BadSignature, TypeError, IndexError, json.JSONDecodeError):
        raise NotTold(403, "that is no token of ours") from None
    if not cookie or browser_key(cookie) != bearer.browser:
        raise NotTold(403, "the token was given to another browser")
    if bearer.room and not from_this_room(headers):
        raise NotTold(403, "the token was given in this room")
    if bearer.ends_at and time.time() >= bearer.ends_at:
        raise NotTold(401, "the log-in has run out")
    if bearer.log_in and log_ins(settings.data_folder()).is_ended(bearer.log_in):
        raise NotTold(401, "logged out")
    return eyes, bearer, time.time() - at.timestamp()
