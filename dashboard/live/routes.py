"""The routes of what changed: a socket that is asked one question at a time, and a short poll.

A question holds the page's token, the version that stands on the page and what each of its parts
is known by. It is answered when something newer is there, or after some seconds with how long ago
that was found not to be so. A newer question takes the place of one that still waits.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections import Counter
from dataclasses import dataclass
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.websockets import WebSocket, WebSocketDisconnect

from dashboard import looks
from dashboard.live import token
from dashboard.live.hub import HUB
from dashboard.live.made import Have

HOLD_S = 10.0  # after which nothing new is told, too
SILENT_S = 45.0  # a page asks again long before
MOST_QUESTION = 32 * 1024
MOST_OF_ONE = 60  # sockets of one browser
POLL_S = 2.0
MOST_NAMES = 60
_OPEN: Counter[str] = Counter()


@dataclass(frozen=True, slots=True)
class PageQuestion:
    """What a page asks: whose it is, what version stands on it, and what its parts are."""

    eyes: token.Eyes
    bearer: token.Bearer
    age_s: float
    since: tuple[int, int]
    have: Have


def asked(text: str, cookie: str, headers: dict[str, str]) -> PageQuestion:
    """Return a question read and judged.

    Raises
    ------
    dashboard.live.token.NotTold
        It is none, or is not answered.
    """
    try:
        told: Any = json.loads(text) if len(text) <= MOST_QUESTION else None
        moment, at = told["since"]
        have = {str(name): str(known) for name, known in told["have"].items()}
        words = str(told["token"])
        since = (int(moment), int(at))
    except (ArithmeticError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        raise token.NotTold(400, "that is no question") from None
    if len(have) > MOST_NAMES:
        raise token.NotTold(400, "that is no question")
    return PageQuestion(*token.read(words, cookie, headers), since, have)


async def answered(question: PageQuestion, wait_s: float) -> bytes | str:
    """Return the answer: what is new, packed, or in plain text that nothing is, or a new token."""
    if question.age_s > token.HALF_S:
        return json.dumps({"token": token.made(question.eyes, question.bearer)})
    looks.touch(question.eyes, question.bearer.browser)
    found = await HUB.later_than(question.eyes, question.since, question.have, wait_s)
    if found is not None:
        return found
    age_s = HUB.age_s(question.eyes, question.have)
    return json.dumps({"same": None if age_s is None else round(age_s)})


async def changes(socket: WebSocket) -> None:
    """Answer a page's questions until it goes."""
    await socket.accept()
    cookie = socket.cookies.get(token.BROWSER, "")
    headers = {name.lower(): told for name, told in socket.headers.items()}
    key = token.browser_key(cookie)
    if not key or _OPEN[key] >= MOST_OF_ONE:
        await socket.close(4403)
        return
    _OPEN[key] += 1
    try:
        await _talk(socket, cookie, headers)
    except token.NotTold as reason:
        await socket.close(4000 + reason.status)
    except TimeoutError:
        await socket.close(1001)
    finally:
        _OPEN[key] -= 1
        if not _OPEN[key]:
            del _OPEN[key]


async def _talk(socket: WebSocket, cookie: str, headers: dict[str, str]) -> None:
    listening = asyncio.create_task(socket.receive_text())
    answering: asyncio.Task[bytes | str] | None = None
    try:
        while not HUB.closing:
            if answering is None:
                await asyncio.wait({listening}, timeout=SILENT_S)
                if not listening.done():
                    raise TimeoutError
            else:
                await asyncio.wait({listening, answering}, return_when=asyncio.FIRST_COMPLETED)
            if listening.done():
                question = asked(listening.result(), cookie, headers)
                listening = asyncio.create_task(socket.receive_text())
                if answering is not None:
                    answering.cancel()
                answering = asyncio.create_task(answered(question, HOLD_S))
            elif answering is not None:
                said = answering.result()
                answering = None
                await (
                    socket.send_bytes(said) if isinstance(said, bytes) else socket.send_text(said)
                )
        await socket.close(1012)
    except (WebSocketDisconnect, RuntimeError, KeyError):
        return  # the page has gone, or said no text
    finally:
        for task in (listening, answering):
            if task is not None and not task.done():
                task.cancel()
            elif task is not None:
                with contextlib.suppress(BaseException):
                    task.exception()


async def changed(request: Request) -> Response:
    """Answer one question of a page whose socket does not come through."""
    headers = {name.lower(): told for name, told in request.headers.items()}
    own = {"cache-control": "no-store"}
    try:
        question = asked(
            headers.get("x-plot-question", ""), request.cookies.get(token.BROWSER, ""), headers
        )
        said = await answered(question, POLL_S)
    except token.NotTold as reason:
        return Response(str(reason), reason.status, own, "text/plain")
    if isinstance(said, bytes):
        own["content-encoding"] = "gzip"
    return Response(said, 200, own, "application/json")
