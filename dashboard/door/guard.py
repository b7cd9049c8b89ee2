"""The one door: every request and socket is judged here before the framework sees it.

Pages, sockets, uploads, downloads and routes of our own pass it alike. What it refuses costs
nothing: no name is looked up, no session begun. It judges

- the name that was asked for (`dashboard.door.names`): one of the server's own;
- the page that asked: its own, or none (``Origin``, and what browsers say in ``Sec-Fetch-Site``);
- the size and sort of what is asked: an address and a body of an ordinary length, a method that is
  used, messages over a socket that are as small as a page's are;
- the pace, by where it comes from, how many sockets are open, and how many pages are made at once
  (`dashboard.door.turns`);
- uploads (`dashboard.door.uploads`).

Who may write is not decided here but where it is written (`dashboard.access`, the journal).
"""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Mapping, MutableMapping
from typing import Any
from urllib.parse import unquote

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboard import settings
from dashboard.door import from_this_room, through_a_proxy
from dashboard.door.log_ins import cookies_of, key_of, log_ins
from dashboard.door.names import Names, same_origin
from dashboard.door.pace import Pace
from dashboard.door.turns import KNOWN, ROOM, SocketRuns, Turns
from dashboard.door.uploads import OFFERS, who

MOST_ADDRESS = 8192  # characters: what a link to a chart of our own needs, many times over
MOST_BODY = 64 * 1024
MOST_MESSAGE = 2 * 1024 * 1024  # from a page in this room: all that is typed on it
MOST_FROM_AFAR = 128 * 1024  # from any other: a long form, many times over
MOST_SOCKETS, MOST_OF_A_PLACE = 4000, 1000  # this room is never counted
PATIENCE_S = 10.0  # that somebody waits for a turn; who would wait longer is sent away
LOG_OUT = "auth/logout"
UPLOAD = "_stcore/upload_file/"
STREAM = "_stcore/stream"  # the framework's own socket; what others say, their routes read
CLOSED = ("_stcore/metrics", "_stcore/script-health-check")  # nobody here needs them
HEADERS = (
    (b"content-security-policy", b"frame-ancestors 'self'"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
)


class Refused(Exception):
    """What is not let in: a status and the words for it."""

    def __init__(self, status: int, words: str) -> None:
        super().__init__(words)
        self.status = status


class Guard:
    """The door, as an ASGI middleware.

    Parameters
    ----------
    app : ASGI application
        What lies behind it.
    names : Names
        That the server goes by.
    base : str
        The path that the pages lie under, without slashes at its ends.
    """

    def __init__(self, app: ASGIApp, names: Names, base: str = "") -> None:
        self.app, self.names = app, names
        self.root = f"/{base}/" if base else "/"
        self.asked = Pace(burst=4000, a_second=400)
        self.opened = Pace(burst=300, a_second=30)
        self.sockets: Counter[str] = Counter()
        self.turns = Turns()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Judge a request or a socket, and let it through or refuse it."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        try:
            headers = read_headers(scope)
            self.judge(scope, headers)
            pace, where = (
                self.asked if scope["type"] == "http" else self.opened,
                place(scope, headers),
            )
            await _turn(pace, where)
            if scope["type"] == "websocket":
                self._room_for(where)
        except Refused as reason:
            await _refuse(scope, send, reason)
            return
        if scope["type"] == "websocket":
            await self._socket(where, scope, receive, send)
            return
        if self._under(scope) == LOG_OUT:
            log_ins(settings.data_folder()).end(key_of(cookies_of(headers.get("cookie", ""))))
        if self._under(scope).startswith(UPLOAD):
            await self._upload(scope, headers, receive, send)
        else:
            await self.app(scope, receive, _with_headers(send))

    def judge(self, scope: Scope, headers: Mapping[str, str]) -> None:
        """Refuse what is not asked rightly.

        Raises
        ------
        Refused
            With the status and the words.
        """
        if not self.names.know(headers):
            raise Refused(
                421,
                "The plot does not go by the name that was asked for. Whoever runs it can tell it "
                "a name: python -m dashboard --host NAME",
            )
        if not same_origin(headers):
            raise Refused(403, "Only the plot's own pages are answered.")
        if headers.get("sec-fetch-site") in ("cross-site", "same-site") and not (
            headers.get("sec-fetch-mode") == "navigate"
            and headers.get("sec-fetch-dest", "document") == "document"
            and scope.get("method") in ("GET", "HEAD")
        ):
            raise Refused(403, "Only the plot's own pages are answered.")
        if len(scope.get("raw_path") or b"") + len(scope["query_string"]) > MOST_ADDRESS:
            raise Refused(414, "The address is too long.")
        below = self._under(scope)
        if below in CLOSED:
            raise Refused(404, "There is nothing here.")
        if below == LOG_OUT and headers.get("sec-fetch-site") in ("cross-site", "same-site"):
            raise Refused(403, "Only the plot's own pages log anybody out.")
        if scope["type"] == "websocket":
            return
        upload = below.startswith(UPLOAD)
        if scope["method"] not in (("PUT", "DELETE") if upload else ("GET", "HEAD")):
            raise Refused(405, "That is not a way to ask here.")
        length = headers.get("content-length", "0")
        if not (length.isascii() and length.isdigit()):
            raise Refused(400, "The length is not a number.")
        if not upload and (int(length) > MOST_BODY or "transfer-encoding" in headers):
            raise Refused(413, "Nothing is taken here.")

    def _under(self, scope: Scope) -> str:
        path = str(scope["path"])
        return path[len(self.root) :] if path.startswith(self.root) else path.lstrip("/")

    def _room_for(self, where: str) -> None:
        others = self.sockets.total() - self.sockets[ROOM]
        if where != ROOM and (others >= MOST_SOCKETS or self.sockets[where] >= MOST_OF_A_PLACE):
            raise Refused(503, "The server has as many viewers as it can have.")

    async def _socket(self, where: str, scope: Scope, receive: Receive, send: Send) -> None:
        pace = Pace(burst=200, a_second=20)  # a hand at a slider is slower
        runs = SocketRuns(self.turns, where)
        most = most_of(where)

        async def heard() -> Message:
            while (message := await receive())["type"] == "websocket.receive":
                said = message.get("bytes") or message.get("text") or b""
                if len(said) > most:
                    return {"type": "websocket.disconnect", "code": 1009}
                await asyncio.sleep(pace.take("one"))
                if self._under(scope) != STREAM or await runs.heard(message):
                    break
            return message

        async def told(message: Message) -> None:
            runs.told(message)
            await send(message)

        self.sockets[where] += 1
        try:
            await self.app(scope, heard, told)
        finally:
            self.sockets[where] -= 1
            self.sockets += Counter()  # forgets who has none
            runs.left()

    async def _upload(
        self, scope: Scope, headers: Mapping[str, str], receive: Receive, send: Send
    ) -> None:
        session = unquote(self._under(scope)[len(UPLOAD) :]).partition("/")[0]
        if scope["method"] != "PUT":
            await self.app(scope, receive, _with_headers(send))
            return
        if "content-length" not in headers or "transfer-encoding" in headers:
            await _refuse(scope, send, Refused(411, "A file's length must be told."))
            return
        size = int(headers["content-length"])
        status, words = OFFERS.begin(session, who(headers), size)
        if status:
            await _refuse(scope, send, Refused(status, words))
            return
        try:
            await self.app(scope, receive, _with_headers(send))
        finally:
            OFFERS.end(session, size)


def read_headers(scope: Scope) -> dict[str, str]:
    """Return the headers by name in small letters; one told twice that may be told once is refused.

    Raises
    ------
    Refused
        There is not exactly one Host, or more than one of another that is judged by.
    """
    found: dict[str, str] = {}
    for raw, value in scope["headers"]:
        name = raw.decode("latin-1").lower()
        told = value.decode("latin-1")
        if name in found and name in ("host", "origin", "content-length", "sec-fetch-site"):
            raise Refused(400, f"The header {name} is there twice.")
        found[name] = f"{found[name]}, {told}" if name in found and name != "cookie" else told
    if "host" not in found:
        raise Refused(400, "No name was asked for.")
    return found


def place(scope: Scope, headers: Mapping[str, str]) -> str:
    """Return where a request comes from: this room, a log-in, who a proxy says, or the address."""
    if from_this_room(headers):
        return ROOM
    if scope["type"] == "websocket" and (key := key_of(cookies_of(headers.get("cookie", "")))):
        return KNOWN + key
    if through_a_proxy(headers):
        # the last one is what the proxy next to this server saw itself
        last = headers.get("x-forwarded-for", "").rpartition(",")[2].strip()
        return f"via {last[:64]}"
    client = scope.get("client")
    return str(client[0]) if client else "unknown"


def most_of(where: str) -> int:
    """Return how many bytes a message over a socket may have that comes from a place."""
    return MOST_MESSAGE if where == ROOM else MOST_FROM_AFAR


async def _turn(pace: Pace, where: str) -> None:
    wait_s = pace.take(where)
    if wait_s > PATIENCE_S:
        pace.give_back(where)
        raise Refused(429, "Too much is asked from there; try again in a minute.")
    if wait_s:
        await asyncio.sleep(wait_s)


async def _refuse(scope: Scope, send: Send, reason: Refused) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008})
        return
    body = f"{reason}\n".encode()
    kind = (b"content-type", b"text/plain; charset=utf-8")
    length = (b"content-length", str(len(body)).encode())
    # what was on its way is not read: the connection ends with this answer
    headers = [kind, length, (b"connection", b"close"), *HEADERS]
    await send({"type": "http.response.start", "status": reason.status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def _with_headers(send: Send) -> Send:
    async def sent(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            held = {name.lower() for name, _ in message.get("headers", ())}
            more = [one for one in HEADERS if one[0] not in held]
            message = {**message, "headers": [*message.get("headers", ()), *more]}
        await send(message)

    return sent
