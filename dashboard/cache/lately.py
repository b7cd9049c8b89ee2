"""The last few things worked out, shared by all viewers of this server.

A hundred readers of one plot ask the same questions within the same seconds; each is answered
once. Only what follows from its key for good belongs here: what the records up to a place say.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")


class Itself(Generic[Value]):
    """A thing as part of a key: equal to itself alone, and alive for as long as the key is."""

    __slots__ = ("it",)

    def __init__(self, it: Value) -> None:
        self.it = it

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Itself) and other.it is self.it

    def __hash__(self) -> int:
        return id(self.it)


class Lately(Generic[Key, Value]):
    """Values by their key; the longest unused goes first.

    Parameters
    ----------
    make : callable
        ``make(key)``: works a value out. It raises for itself; nothing is kept then.
    most : int
        How many are kept.
    """

    def __init__(self, make: Callable[[Key], Value], most: int) -> None:
        self._make, self._most = make, most
        self._held: OrderedDict[Key, Value] = OrderedDict()
        self._lock = threading.RLock()

    def newest(self) -> Value | None:
        """Return what was asked for last, None when nothing was."""
        with self._lock:
            return next(reversed(self._held.values()), None)

    def __call__(self, key: Key) -> Value:
        """Return the value of a key, found or worked out; who asks second waits for the first."""
        with self._lock:
            if key not in self._held:
                self._held[key] = self._make(key)
            self._held.move_to_end(key)
            while len(self._held) > self._most:
                self._held.popitem(last=False)
            return self._held[key]

    def let_go(self, gone: Callable[[Key], bool]) -> None:
        """Let go of what nobody can ask for any more, by its key."""
        with self._lock:
            for key in [key for key in self._held if gone(key)]:
                del self._held[key]
