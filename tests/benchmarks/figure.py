"""One performance figure: a ratio to a named reference measured in the same run."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A ratio, what it is a ratio to, and what it should be."""

    issue: int
    name: str
    ratio: float
    target: float
    direction: Literal["at most", "at least"]
    reference: str
    unit: str = "×"
    note: str = ""

    @property
    def met(self) -> bool:
        """Whether the figure keeps its target."""
        return (
            self.ratio <= self.target
            if self.direction == "at most"
            else (self.ratio >= self.target)
        )


def seconds(work: Callable[[], object], runs: int = 5) -> float:
    """Return the median wall-clock seconds of a call, after one warm-up."""
    work()
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return median(taken)
