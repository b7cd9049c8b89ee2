"""How often somebody may do a thing: at most so many times within a stretch of time."""

from __future__ import annotations

import threading
from collections import deque


class RateLimit:
    """Counts what each person did lately.

    Parameters
    ----------
    most : int
        How often within the stretch.
    within_s : float
        The stretch in seconds.
    """

    def __init__(self, most: int, within_s: float) -> None:
        self.most, self.within_s = most, within_s
        self._done: dict[str, deque[float]] = {}
        self._lock = threading.Lock()

    def take(self, who: str, at_s: float) -> float:
        """Count one more in; return 0, or how many seconds to wait when it is one too many.

        What is refused is not counted. ``at_s`` is of a clock that only goes forwards.
        """
        with self._lock:
            self._forget(at_s)
            done = self._done.setdefault(who, deque())
            if len(done) >= self.most:
                return done[0] + self.within_s - at_s
            done.append(at_s)
            return 0.0

    def _forget(self, at_s: float) -> None:
        for who, done in list(self._done.items()):
            while done and done[0] <= at_s - self.within_s:
                done.popleft()
            if not done:
                del self._done[who]
