"""NMEA sentences over UDP (listening) and TCP (calling a server), as whole lines."""

from __future__ import annotations

import contextlib
import socket
from datetime import datetime, timedelta

from layers.earth.errors import InputError
from layers.feeds.arrival import MOST_A_POLL, BackOff, Incoming

LONGEST_WAITING = 65_536  # of a line that has no end yet
CONNECT_S = 5.0
_BLOCK = 65_536


class UdpTransport:
    """Datagrams on a port of this computer.

    Parameters
    ----------
    host, port : str, int
        The address to listen on.
    source : str
        As it will stand in the records.
    """

    def __init__(self, host: str, port: int, source: str) -> None:
        self._place = (host, port)
        self._source = source
        self._socket: socket.socket | None = None

    def poll(self, now: datetime) -> list[Incoming]:
        """Return the lines that have come, each datagram closed by a line's end."""
        listening = self._open()
        held, length = [], 0
        with contextlib.suppress(BlockingIOError):
            while length < MOST_A_POLL:
                block = listening.recv(_BLOCK)
                block = block if block.endswith(b"\n") else block + b"\n"
                held.append(block)
                length += len(block)
        if not held:
            return []
        return [Incoming(source=self._source, received_at=now, content=b"".join(held), stream=True)]

    def _open(self) -> socket.socket:
        if self._socket is None:
            fresh: socket.socket | None = None
            try:
                family, kind, _, _, place = socket.getaddrinfo(
                    *self._place, type=socket.SOCK_DGRAM, flags=socket.AI_PASSIVE
                )[0]
                fresh = socket.socket(family, kind)
                fresh.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, MOST_A_POLL)
                fresh.bind(place)
                fresh.setblocking(False)
            except (OSError, UnicodeError) as fault:
                if fresh is not None:
                    fresh.close()
                raise InputError(
                    f"cannot listen on udp {self._place[0]}:{self._place[1]} ({fault})"
                ) from None
            self._socket = fresh
        return self._socket

    def close(self) -> None:
        """Close the port."""
        if self._socket is not None:
            self._socket.close()
            self._socket = None


class TcpTransport:
    """A server that sends lines; called again when it hangs up."""

    def __init__(self, host: str, port: int, source: str, jitter: float) -> None:
        self._place = (host, port)
        self._source = source
        self._socket: socket.socket | None = None
        self._waiting = b""
        self._back_off = BackOff(1.0, jitter)
        self.next_at: datetime | None = None

    @property
    def failures(self) -> int:
        """Failures in a row."""
        return self._back_off.failures

    def poll(self, now: datetime) -> list[Incoming]:
        """Return the whole lines that have come."""
        if self._socket is None and not self._call(now):
            return []
        assert self._socket is not None
        held, length, hung_up = [self._waiting], len(self._waiting), False
        try:
            while length < MOST_A_POLL:
                block = self._socket.recv(_BLOCK)
                if not block:
                    hung_up = True
                    break
                held.append(block)
                length += len(block)
        except BlockingIOError:
            pass
        except OSError:
            hung_up = True
        content = b"".join(held)
        end = len(content) if hung_up or len(content) > MOST_A_POLL else content.rfind(b"\n") + 1
        self._waiting = content[end:]
        if len(self._waiting) > LONGEST_WAITING:  # an endless line: let the reader reject it
            end, self._waiting = len(content), b""
        if hung_up:
            self._failed(now)
        if not end:
            return []
        return [Incoming(source=self._source, received_at=now, content=content[:end], stream=True)]

    def _call(self, now: datetime) -> bool:
        if self.next_at is not None and now < self.next_at:
            return False
        try:
            self._socket = socket.create_connection(self._place, CONNECT_S)
            self._socket.setblocking(False)
        except (OSError, UnicodeError) as fault:
            self._failed(now)
            raise InputError(
                f"{self._place[0]}:{self._place[1]} does not answer ({fault})"
            ) from None
        self._back_off.failures = 0
        return True

    def _failed(self, now: datetime) -> None:
        self.close()
        self._back_off.failures += 1
        self.next_at = now + timedelta(seconds=self._back_off.wait_s())

    def close(self) -> None:
        """Hang up."""
        if self._socket is not None:
            self._socket.close()
            self._socket = None
