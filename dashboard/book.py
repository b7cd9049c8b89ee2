"""The journal as a page gets it: whole for the watch, shut for who may not see its records.

A page that wants more than what was known asks its book (`Seen.journal`): the log, what could not
be read, the sources, the head. For a release that withholds there is nothing in it, so that no
page, however new, reads past the release.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from layers.journal.record import Record
from layers.journal.rejected import KeptReject
from layers.journal.store import Journal, SourceAge


class ShutBook:
    """The journal of who may not see its records: its name, its time, and nothing in it."""

    def __init__(self, journal: Journal) -> None:
        self._journal = journal
        self.name, self.exercise = journal.name, journal.exercise

    def now(self) -> datetime:
        """Return the journal's time, UTC."""
        return self._journal.now()

    def clock_behind(self) -> str:
        """Return nothing: when a record was made may not be seen."""
        return ""

    def head(self) -> tuple[int, str]:
        """Return no number and no hash: both count what lies between."""
        return 0, ""

    def log(
        self,
        *,
        upto_seq: int,
        after_seq: int = 0,
        kinds: Sequence[str] = (),
        without: Sequence[str] = (),
        text: str = "",
        limit: int = 200,
    ) -> list[Record]:
        """Return no records."""
        return []

    def sources(self) -> list[SourceAge]:
        """Return no sources."""
        return []

    def followed(self, *, least: int = 2) -> list[SourceAge]:
        """Return no sources."""
        return []

    def rejects(self, *, source: str | None = None, limit: int = 200) -> list[KeptReject]:
        """Return nothing: a line that could not be read tells all it says."""
        return []

    def reject_counts(self) -> dict[str, int]:
        """Return nothing."""
        return {}


Book = Journal | ShutBook
