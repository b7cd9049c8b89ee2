"""A connection that asks nothing is ended: one that was opened and says nothing, or says it slowly.

The server beneath waits for a request's headers for ever, and each such connection holds a file of
the process; some thousand of them, and nobody comes in any more. And it holds a socket's message
whole, of 200 MB, before anybody judges it: here it is refused at the size that its sender may send.
"""

from __future__ import annotations

import asyncio
import contextlib

import uvicorn.config
from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol
from websockets.http11 import Request

from dashboard.door import guard

PATIENCE_S = 15.0


class Patient(H11Protocol):
    """HTTP as before; who has asked nothing whole within the time is sent away."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as its own parent does
        """Begin to look at what is asked."""
        super().connection_made(transport)
        self.loop.call_later(PATIENCE_S, self._look, None)

    def _look(self, before: object) -> None:
        if self.transport.is_closing() or self.transport.get_protocol() is not self:
            return  # ended, or a socket by now
        asked = self.cycle
        if asked is before and (asked is None or asked.response_complete):
            self.transport.close()
            return
        self.loop.call_later(PATIENCE_S, self._look, asked)


class Short(WebSocketsSansIOProtocol):
    """Sockets as before; a message that is too large is refused before it is there."""

    def handle_connect(self, event: Request) -> None:
        """Begin a socket, with the size of message that is taken from where it comes from."""
        self.conn.max_message_size = guard.MOST_FROM_AFAR
        super().handle_connect(event)
        scope = getattr(self, "scope", None)
        with contextlib.suppress(guard.Refused):  # which is then not let in
            if scope is not None:
                where = guard.place(scope, guard.read_headers(scope))
                self.conn.max_message_size = guard.most_of(where)


def be_patient_no_longer() -> None:
    """Have the server end silent connections, and let it hold as many as the system allows."""
    uvicorn.config.HTTP_PROTOCOLS["auto"] = f"{__name__}:{Patient.__name__}"
    for name in ("auto", "websockets-sansio"):  # the names that the framework asks for it by
        uvicorn.config.WS_PROTOCOLS[name] = f"{__name__}:{Short.__name__}"
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        _, most = resource.getrlimit(resource.RLIMIT_NOFILE)
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, most))
