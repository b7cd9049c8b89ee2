"""How fast one place may ask: a store of turns that fills up by and by.

Whoever asks too fast waits; nobody else does. Whoever would have to wait long is sent away.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from dataclasses import dataclass, field

MOST_PLACES = 10_000  # remembered; the one not heard of for longest is forgotten first


@dataclass(slots=True)
class Pace:
    """Turns for each place that asks.

    Parameters
    ----------
    burst : float
        Turns that are there at first, and at most.
    a_second : float
        Turns that are added.
    """

    burst: float
    a_second: float
    _held: OrderedDict[str, tuple[float, float]] = field(default_factory=OrderedDict)

    def take(self, place: str, now: float | None = None) -> float:
        """Take a turn; return how many seconds to wait for it, 0 when it is there.

        Parameters
        ----------
        place : str
            Who asks.
        now : float, optional
            Seconds of a clock that only goes forwards.
        """
        at = time.monotonic() if now is None else now
        left, since = self._held.pop(place, (self.burst, at))
        left = min(self.burst, left + (at - since) * self.a_second) - 1.0
        self._held[place] = (left, at)
        if len(self._held) > MOST_PLACES:
            self._held.popitem(last=False)
        return max(0.0, -left / self.a_second)

    def give_back(self, place: str) -> None:
        """Return a turn that was not used."""
        if place in self._held:
            left, since = self._held[place]
            self._held[place] = (left + 1.0, since)
