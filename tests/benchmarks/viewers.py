"""Simulated viewers: small asyncio clients that speak the web server's own messages.

Each opens the plot as a browser does, answers what the page asks to be run again on a timer, and
fetches the marks that it is told of once, and notes when a record's number first stands in what
it has. Bytes are counted as they come over the line, packed. They draw nothing; one real
Chromium beside them does (`painted`).
"""

from __future__ import annotations

import asyncio
import gzip
import re
import time
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

import websockets
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

BEHIND_A_PROXY = {"X-Forwarded-For": "192.0.2.1"}  # which makes a reader
PART = re.compile(rb"(?:\.\./)+(media/[0-9a-f]+\.[a-z]+)")
UNPACKED: dict[bytes, bytes] = {}  # by address; each viewer fetches, one unpacks for all


class Counted(websockets.ClientConnection):
    """A link that counts what comes over the line."""

    line_bytes = 0

    def data_received(self, data: bytes) -> None:
        """Count, then take."""
        self.line_bytes += len(data)
        super().data_received(data)


@dataclass
class Viewer:
    """One viewer's link, what it was sent, and when each looked-for text came."""

    address: str  # ws://…/_stcore/stream
    page: str = ""
    every_s: float | None = None  # redraws everything by itself so often: the plain way
    received: int = 0
    sent: int = 0
    runs: int = 0
    first_chart_s: float | None = None
    looked_for: dict[bytes, float] = field(default_factory=dict)
    came: dict[bytes, float] = field(default_factory=dict)
    fault: str = ""
    fetched: set[bytes] = field(default_factory=set)
    _timers: dict[str, asyncio.Task[None]] = field(default_factory=dict)

    async def stay(self) -> None:
        """Connect and stay until cancelled."""
        begun = time.monotonic()
        try:
            async with websockets.connect(
                self.address, additional_headers=BEHIND_A_PROXY, max_size=None,
                subprotocols=[websockets.Subprotocol("streamlit")], open_timeout=60,
                ping_interval=None, create_connection=Counted,
            ) as link:  # fmt: skip
                await self._ask(link)
                if self.every_s is not None:
                    self._timers["all"] = asyncio.create_task(self._repeat(link, self.every_s, ""))
                async for data in link:
                    if isinstance(data, bytes):
                        self._take(link, data, begun)
        except (OSError, websockets.WebSocketException) as fault:
            self.fault = str(fault)[:100] or type(fault).__name__
        finally:
            for timer in self._timers.values():
                timer.cancel()

    def _take(self, link: Any, data: bytes, begun: float) -> None:
        self.received += link.line_bytes
        link.line_bytes = 0
        if parts := set(PART.findall(data)):
            task = asyncio.create_task(self._fetch(parts, begun))
            self._timers[f"parts {id(task)}"] = task
        message = ForwardMsg.FromString(data)
        kind = message.WhichOneof("type")
        if kind == "script_finished":
            self.runs += 1
        elif kind == "auto_rerun" and self.every_s is None:
            name, every = message.auto_rerun.fragment_id, message.auto_rerun.interval
            if name in self._timers:
                self._timers[name].cancel()
            self._timers[name] = asyncio.create_task(self._repeat(link, every, name))

    async def _fetch(self, parts: set[bytes], begun: float) -> None:
        for part in parts - self.fetched:
            self.fetched.add(part)
            content = await self._get(part)
            if part not in UNPACKED and content:
                UNPACKED[part] = gzip.decompress(content)
        now = time.monotonic()
        if self.first_chart_s is None:
            self.first_chart_s = now - begun
        for text in self.looked_for.keys() - self.came.keys():
            if any(text in UNPACKED.get(part, b"") for part in parts):
                self.came[text] = now

    async def _get(self, part: bytes) -> bytes:
        """Return what is at an address; nothing when it has gone already: something newer came."""
        to = urlsplit(self.address)
        reader, writer = await asyncio.open_connection(to.hostname, to.port)
        base = to.path.removesuffix("/_stcore/stream")
        ask = (
            f"GET {base}/{part.decode()} HTTP/1.1\r\nHost: {to.netloc}\r\nConnection: close\r\n\r\n"
        )
        writer.write(ask.encode())
        self.sent += len(ask)
        whole = await reader.read()
        writer.close()
        self.received += len(whole)
        head, _, content = whole.partition(b"\r\n\r\n")
        return content if b" 200 " in head.split(b"\r\n")[0] else b""

    async def _repeat(
        self, link: websockets.ClientConnection, every_s: float, fragment: str
    ) -> None:
        while True:
            await asyncio.sleep(every_s)
            await self._ask(link, fragment)

    async def _ask(self, link: websockets.ClientConnection, fragment: str = "") -> None:
        message = BackMsg()
        message.rerun_script.query_string = ""
        message.rerun_script.page_name = self.page
        if fragment:
            message.rerun_script.fragment_id = fragment
            message.rerun_script.is_auto_rerun = True
        data = message.SerializeToString()
        self.sent += len(data)
        await link.send(data)
