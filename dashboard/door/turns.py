"""Whose page is made now: each place has a few runs at a time, so that nobody's stop the watch's.

A message from a page can have the whole page made anew, for tenths of a second of the processor;
one reader with thirty sockets would hold up everybody. A place that has its turns out waits for one
of its own to end. Who waits is not slower for it: the processor makes no more pages at once anyhow.
This room, and whoever is logged in, are never kept waiting by others.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections import deque
from collections.abc import MutableMapping
from dataclasses import dataclass, field
from typing import Any

from google.protobuf.message import DecodeError  # type: ignore[import-untyped]  # no types
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

from dashboard.door.pace import Pace

ROOM, KNOWN, STRANGERS = "room", "log-in ", "all others"
EACH, TOGETHER = 3, 6  # runs at a time of one place, and of all who are neither here nor logged in
LONGEST_S = 30.0  # after which a turn counts as ended, whatever became of it
RUN = "rerun_script"
# what pages say; nobody here clears the cache of all, watches source files, or stops the server
SAID = frozenset({RUN, "stop_script", "app_heartbeat", "file_urls_request",
                  "backend_operation_request"})  # fmt: skip
AFTER_S = 0.5  # that a run may go on when its viewer has left
SMALL = 400  # bytes: the message that a run has ended is no longer


@dataclass(slots=True)
class Turns:
    """The runs under way, by whom they are for; ``again``: the pace of those that break one off."""

    again: Pace = field(default_factory=lambda: Pace(burst=8, a_second=2))
    _held: dict[str, int] = field(default_factory=dict)
    _waiting: dict[str, deque[asyncio.Future[None]]] = field(default_factory=dict)

    async def take(self, place: str) -> None:
        """Wait until this place, and all strangers together, have a turn left; take it."""
        for name, most in _lines(place):
            if self._held.get(name, 0) < most:
                self._held[name] = self._held.get(name, 0) + 1
                continue
            turn = asyncio.get_running_loop().create_future()
            self._waiting.setdefault(name, deque()).append(turn)
            try:
                await turn
            except asyncio.CancelledError:
                if turn.done() and not turn.cancelled():
                    self._give(name)
                if name == STRANGERS:
                    self._give(place)
                raise

    def give(self, place: str) -> None:
        """Give a turn back; the first who waits has it."""
        for name, _ in _lines(place):
            self._give(name)

    def _give(self, name: str) -> None:
        line = self._waiting.get(name, deque())
        while line:
            turn = line.popleft()
            if not turn.done():
                turn.set_result(None)
                return
        self._waiting.pop(name, None)
        self._held[name] = self._held.get(name, 0) - 1
        if self._held[name] <= 0:
            self._held.pop(name)


def _lines(place: str) -> tuple[tuple[str, int], ...]:
    if place == ROOM:
        return ()
    return ((place, EACH),) if place.startswith(KNOWN) else ((place, EACH), (STRANGERS, TOGETHER))


@dataclass(slots=True)
class SocketRuns:
    """The runs of one socket: it holds a turn from its message until its page is made."""

    turns: Turns
    place: str
    _until: asyncio.TimerHandle | None = None

    async def heard(self, message: MutableMapping[str, Any]) -> bool:
        """Wait for a turn where a message asks for a run; return whether a page says such things.

        The framework clears what all viewers share, for whoever asks; and has more such orders.
        """
        asked = _asked(message.get("bytes"))
        if asked == RUN and self._until is not None and self.place != ROOM:
            await asyncio.sleep(self.turns.again.take(self.place))
        if asked == RUN and self._until is None:
            await self.turns.take(self.place)
            self._until = asyncio.get_running_loop().call_later(LONGEST_S, self.ended)
        return asked in SAID

    def told(self, message: MutableMapping[str, Any]) -> None:
        """Give the turn back when what is sent says that the page is made."""
        if self._until is not None and _ends(message.get("bytes")):
            self.ended()

    def left(self) -> None:
        """Give the turn back a little later: the run breaks off at its next step only."""
        if self._until is not None:
            self._until.cancel()
            self._until = asyncio.get_running_loop().call_later(AFTER_S, self.ended)

    def ended(self) -> None:
        """Give the turn back, if one is held."""
        if self._until is not None:
            self._until.cancel()
            self._until = None
            self.turns.give(self.place)


def _asked(said: bytes | None) -> str:
    back = BackMsg()
    try:
        back.ParseFromString(said or b"")
    except DecodeError:
        return ""
    return back.WhichOneof("type") or ""


def _ends(said: bytes | None) -> bool:
    if not said or len(said) > SMALL:
        return False
    forward = ForwardMsg()
    with contextlib.suppress(DecodeError):
        forward.ParseFromString(said)
    return (
        forward.WhichOneof("type") == "script_finished"
        and forward.script_finished != ForwardMsg.FINISHED_EARLY_FOR_RERUN
    )
