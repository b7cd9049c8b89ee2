"""What is kept in memory for all viewers, the longest unused let go."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Iterator, MutableMapping
from datetime import timedelta

from layers.contract import Moment, Shown, Unavailable

MOST_BYTES = 8_000_000  # of the results as they lie on disk
LEAST = 12  # results, however large: one whole picture, and what of the next is there
STANDS_IN_FOR = timedelta(minutes=30)  # that an older result may stand while a new one is made


class KeptResults(MutableMapping[str, Shown | Unavailable]):
    """The last results by their key, shared by all viewers; the longest unused goes first."""

    def __init__(self, most: int, most_bytes: int = MOST_BYTES) -> None:
        self._most, self._most_bytes = most, most_bytes
        self._held: OrderedDict[str, Shown | Unavailable] = OrderedDict()
        self._sizes: dict[str, int] = {}
        self._lock = threading.Lock()
        self.let_go = 0  # how many were

    def keep(self, key: str, value: Shown | Unavailable, size: int) -> None:
        """Keep a result whose size on disk is known: a night of ships makes each one large."""
        with self._lock:
            self._sizes[key] = size
        self[key] = value

    def __getitem__(self, key: str) -> Shown | Unavailable:
        with self._lock:
            self._held.move_to_end(key)
            return self._held[key]

    def __setitem__(self, key: str, value: Shown | Unavailable) -> None:
        with self._lock:
            self._held[key] = value
            self._held.move_to_end(key)
            while len(self._held) > self._most or (
                len(self._held) > LEAST and sum(self._sizes.values()) > self._most_bytes
            ):
                old, _ = self._held.popitem(last=False)
                self._sizes.pop(old, None)
                self.let_go += 1

    def holds(self) -> frozenset[int]:
        """Return the identities of what is kept."""
        with self._lock:
            return frozenset(map(id, self._held.values()))

    def __delitem__(self, key: str) -> None:
        with self._lock:
            del self._held[key]
            self._sizes.pop(key, None)

    def __iter__(self) -> Iterator[str]:
        return iter(tuple(self._held))

    def __len__(self) -> int:
        return len(self._held)


class Lasts:
    """The last results of the slow layers, by layer and the moment that they were shown at."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: dict[str, OrderedDict[Moment, Shown]] = {}
        self._lock = threading.Lock()

    def note(self, key: str, moment: Moment, found: Shown) -> None:
        """Keep what a layer said at a moment; the longest unused goes first."""
        with self._lock:
            held = self._held.setdefault(key, OrderedDict())
            held[moment] = found
            held.move_to_end(moment)
            while len(held) > self._most:
                held.popitem(last=False)

    def before(self, key: str, moment: Moment) -> Shown | None:
        """Return the newest that may stand in at a moment, None when none may.

        Never one of a later moment, of another of the three times, or from long before: who
        looks back would be told what was not known then.
        """
        with self._lock:
            fit = [
                (other.as_of, other.at, found)
                for other, found in self._held.get(key, {}).items()
                if other.view is moment.view
                and timedelta(0) <= moment.as_of - other.as_of <= STANDS_IN_FOR
                and timedelta(0) <= moment.at - other.at <= STANDS_IN_FOR
            ]
        return max(fit, key=lambda one: one[:2])[2] if fit else None
