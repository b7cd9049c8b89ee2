"""Answers that can never change, kept: what stands at or below a committed seq stays as it is.

Every viewer and both computing processes ask the same few questions at every look; asked of the
database each time they cost more than all the rest of a page.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from datetime import datetime

MOST = 4_000
PLACES = 60  # of which the last seq of every kind is kept
STEP = 2_000  # records that are looked through to go on from a kept place


class Settled:
    """The last seq of each kind up to a place, and when a record was recorded."""

    def __init__(self) -> None:
        self._upto = 0
        self._last: OrderedDict[int, Mapping[str, int]] = OrderedDict()
        self._recorded: dict[int, datetime] = {}
        self._lock = threading.Lock()

    def committed(self, seq: int) -> None:
        """Note that everything up to here is committed and has its place for good."""
        self._upto = max(self._upto, seq)

    def covers(self, seq: int) -> bool:
        """Return whether everything up to here has its place for good."""
        return seq <= self._upto

    def last_by_kind(
        self, upto_seq: int, ask: Callable[[int, int], Mapping[str, int]]
    ) -> Mapping[str, int]:
        """Return the last seq of each kind up to a place.

        Parameters
        ----------
        upto_seq : int
            The place, settled.
        ask : callable
            ``ask(after_seq, upto_seq)``: the last seq of each kind that has one in between. It
            is asked once for a place, and from a place just before it only for what came since.
        """
        with self._lock:
            found = self._last.get(upto_seq)
            before = max((seq for seq in self._last if seq <= upto_seq), default=0)
            known = self._last.get(before, {})
        if found is None:
            if upto_seq - before > STEP:
                before, known = 0, {}
            found = {**known, **ask(before, upto_seq)}
        with self._lock:
            self._last[upto_seq] = found
            self._last.move_to_end(upto_seq)
            while len(self._last) > PLACES:
                self._last.popitem(last=False)
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
