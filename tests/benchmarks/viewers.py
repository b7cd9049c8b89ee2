"""Simulated viewers: small asyncio clients that speak the web server's own messages.

Each opens the plot as a browser does, answers what the page asks to be run again on a timer, and
notes when a record's number first stands in what it is sent. They draw nothing: time to the
pixel is this plus the drawing, which `bench_browser` measures in a real browser.
"""

from __future__ import annotations

import asyncio
import time
from dataclasses import dataclass, field

import websockets
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

BEHIND_A_PROXY = {"X-Forwarded-For": "192.0.2.1"}  # which makes a reader


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
    _timers: dict[str, asyncio.Task[None]] = field(default_factory=dict)

    async def stay(self) -> None:
        """Connect and stay until cancelled."""
        begun = time.monotonic()
        try:
            async with websockets.connect(
                self.address, additional_headers=BEHIND_A_PROXY, max_size=None,
                subprotocols=[websockets.Subprotocol("streamlit")], open_timeout=60,
                ping_interval=None,
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

    def _take(self, link: websockets.ClientConnection, data: bytes, begun: float) -> None:
        now = time.monotonic()
        self.received += len(data)
        for text in self.looked_for.keys() - self.came.keys():
            if text in data:
                self.came[text] = now
        if self.first_chart_s is None and b"musterplot.begin" in data:
            self.first_chart_s = now - begun
        message = ForwardMsg.FromString(data)
        kind = message.WhichOneof("type")
        if kind == "script_finished":
            self.runs += 1
        elif kind == "auto_rerun" and self.every_s is None:
            name, every = message.auto_rerun.fragment_id, message.auto_rerun.interval
            if name in self._timers:
                self._timers[name].cancel()
            self._timers[name] = asyncio.create_task(self._repeat(link, every, name))

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
