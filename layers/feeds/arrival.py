"""What a transport hands over, and what every transport can do."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

MOST_A_POLL = 4 * 1024 * 1024  # bytes of a stream taken at once; the rest waits for the next


@dataclass(frozen=True, slots=True, kw_only=True)
class Incoming:
    """Something that came: a file on disk, a file in memory, or whole lines of a stream.

    ``first_line`` and ``digest`` are set for a log that has grown: the number of its next line,
    and what stands for the whole of it; ``live`` where it grew while it was watched.
    """

    source: str
    received_at: datetime
    content: bytes | None = None
    path: Path | None = None
    stream: bool = False
    first_line: int = 1
    digest: str = ""
    live: bool = False


class Transport(Protocol):
    """One way for data to come; bounded in memory, and it can be stopped."""

    def poll(self, now: datetime) -> list[Incoming]:
        """Return what has come since; never waits longer than its timeout.

        Raises
        ------
        InputError
            It cannot be reached or read now; the text is one sentence for the feeds page.
        """
        ...

    def close(self) -> None:
        """Let go of sockets and connections."""
        ...


class BackOff:
    """How long to wait after failures: doubled each time, with jitter, an hour at most."""

    def __init__(self, every_s: float, jitter: float) -> None:
        self.every_s = every_s
        self.failures = 0
        self._jitter = jitter  # 0 to 1, drawn once for each feed, so that they do not march

    def wait_s(self) -> float:
        """Return the seconds until the next try."""
        if not self.failures:
            return self.every_s
        longer = max(self.every_s, 5.0) * 2.0 ** min(self.failures, 10)
        return min(longer, 3_600.0) * (0.75 + 0.5 * self._jitter)
