"""The two times of a picture, and which of the three views they make."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class View(StrEnum):
    """Which of the three times the screen shows; it always says so."""

    KNOWN = "as known then"  # at equals as_of
    HINDSIGHT = "hindsight"  # at before as_of
    EXPECTED = "expected"  # at after as_of


@dataclass(frozen=True, slots=True)
class Moment:
    """The two times of a picture, never mixed.

    ``as_of`` is what was known; ``at`` is when it is shown for. Both UTC.
    """

    as_of: datetime
    at: datetime

    @property
    def view(self) -> View:
        """Which of the three this is."""
        if self.at == self.as_of:
            return View.KNOWN
        return View.HINDSIGHT if self.at < self.as_of else View.EXPECTED
