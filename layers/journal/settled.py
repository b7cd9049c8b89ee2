"""Answers that can never change, kept: what stands at or below a committed seq stays as it is.

Every viewer and both computing processes ask the same few questions at every look; asked of the
database each time they cost more than all the rest of a page.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from datetime import datetime

MOST = 4_000


class Settled:
    """The last seq of kinds up to a place, and when a record was recorded."""

    def __init__(self) -> None:
        self._upto = 0
        self._last: dict[tuple[frozenset[str] | None, int], int] = {}
        self._recorded: dict[int, datetime] = {}
        self._lock = threading.Lock()

    def committed(self, seq: int) -> None:
        """Note that everything up to here is committed and has its place for good."""
        self._upto = max(self._upto, seq)

    def last_seq(self, kinds: Iterable[str] | None, upto_seq: int, ask: Callable[[], int]) -> int:
        """Return the last seq of these kinds up to a place; asked once when it is settled."""
        if upto_seq > self._upto:
            return ask()
        key = (None if kinds is None else frozenset(kinds), upto_seq)
        with self._lock:
            found = self._last.get(key)
        if found is None:
            found = ask()
            with self._lock:
                if len(self._last) >= MOST:
                    self._last.clear()
                self._last[key] = found
        return found

    def recorded_at(self, seq: int, ask: Callable[[], datetime | None]) -> datetime | None:
        """Return when a record was recorded; asked once when it is there."""
        with self._lock:
            found = self._recorded.get(seq)
        if found is None and (found := ask()) is not None:
            with self._lock:
                if len(self._recorded) >= MOST:
                    self._recorded.clear()
                self._recorded[seq] = found
        return found
