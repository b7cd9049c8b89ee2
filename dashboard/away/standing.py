"""The journal for reading, which stands on its last answers while its database is away.

What is answered from memory is what the database would have said: the records of a kind up to a
place never change. The log and the sources are those of the last look, and the page says of when.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Collection, Hashable, Iterable, Sequence
from datetime import datetime
from typing import Any, TypeVar

import numpy as np

from layers.earth.arrays import Array
from layers.earth.errors import JournalAway
from layers.journal.kinds import OPINION_NAMES, OPINIONS, Kind
from layers.journal.record import Record
from layers.journal.rejected import KeptReject
from layers.journal.store import Journal, SourceAge
from layers.journal.tables.stretch import Asked

Answer = TypeVar("Answer")
MOST_ANSWERS = 400
MOST_OF_A_PLACE = 40  # answers of bulk kinds up to a place in the order: the last few places
OF_A_PLACE = frozenset({"latest", "stretches", "heard", "ids"})
MOST_REJECTS = 500  # as many as the feeds page lists
MOST_RECORDS = 3_000  # of one answer; more of a bulk kind are not kept


def _rows(found: Any) -> int:
    """Return how many rows an answer holds: records, columns, or a place with records."""
    if isinstance(found, dict):
        return max((len(one) for one in found.values() if isinstance(one, np.ndarray)), default=0)
    if isinstance(found, tuple):
        return max((len(one) for one in found if isinstance(one, list)), default=0)
    return len(found) if isinstance(found, list) else 0


class StandingJournal(Journal):
    """A journal that is only read, with its last answers."""

    def _last_answers(self) -> tuple[OrderedDict[Hashable, Any], threading.Lock]:
        held: tuple[OrderedDict[Hashable, Any], threading.Lock] = self.__dict__.setdefault(
            "_answers_held", (OrderedDict(), threading.Lock())
        )
        return held

    def _reads(self) -> dict[tuple[str, ...], tuple[int, list[Record]]]:
        """Return the last answer of each list of kinds, with the place it goes up to."""
        held: dict[tuple[str, ...], tuple[int, list[Record]]] = self.__dict__.setdefault(
            "_reads_held", {}
        )
        return held

    def _note(self, question: Hashable, found: Any) -> None:
        if _rows(found) > MOST_RECORDS:
            return
        if isinstance(question, tuple) and question[0] == "read":
            self._reads()[question[1]] = found
            return
        answers, lock = self._last_answers()
        with lock:
            answers[question] = found
            answers.move_to_end(question)
            while len(answers) > MOST_ANSWERS:
                answers.popitem(last=False)
            if isinstance(question, tuple) and question[0] in OF_A_PLACE:
                # each is whole rows of ships: a night of them would fill the memory
                held = [one for one in answers if isinstance(one, tuple) and one[0] in OF_A_PLACE]
                for old in held[:-MOST_OF_A_PLACE]:
                    del answers[old]

    def _or_last(self, question: Hashable, ask: Callable[[], Answer]) -> Answer:
        try:
            found = ask()
        except JournalAway:
            answers, _ = self._last_answers()
            if question not in answers:
                raise
            last: Answer = answers[question]
            return last
        self._note(question, found)
        return found

    def keep_warm(self, upto_seq: int, log_without: tuple[str, ...] = ()) -> None:
        """Read what people record, each kind that has news, so that every page can stand on it."""
        for name, kind in {**self.kinds, **{one.name: one for one in OPINIONS}}.items():
            held = self._reads().get((name,), (-1, []))[0]
            if not kind.columns and (held < 0 or self.last_seq((name,), upto_seq) > held):
                self.read((name,), upto_seq)
        self.read(sorted(OPINION_NAMES), upto_seq)
        self.followed()
        self.reject_counts()
        self.rejects(limit=MOST_REJECTS)
        self.log(upto_seq=upto_seq, without=log_without)
        self.head()

    def followed(self, *, least: int = 2) -> list[SourceAge]:
        """Return the sources that the feed reader follows, of at least so many records."""
        ask = super().followed
        return self._or_last(("followed", least), lambda: ask(least=least))

    def read(self, kinds: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records of these kinds with ``seq <= upto_seq``, in order."""
        names = tuple(kinds)
        try:
            found = super().read(names, upto_seq)
        except JournalAway:
            parts = [self._last_read(part, upto_seq) for part in self._parts(names)]
            if any(part is None for part in parts):
                raise
            held = (record for part in parts for record in part or () if record.seq <= upto_seq)
            return sorted(held, key=lambda record: record.seq)
        self._note(("read", names), (upto_seq, found))
        return found

    def _parts(self, names: tuple[str, ...]) -> list[tuple[str, ...]]:
        return [names] if names in self._reads() else [(name,) for name in names]

    def _last_read(self, names: tuple[str, ...], upto_seq: int) -> list[Record] | None:
        """Return the last answer when it is still the whole one up to a place, None otherwise."""
        upto, held = self._reads().get(names, (-1, []))
        if upto < upto_seq and (upto < 0 or self.last_seq(names, upto_seq) > upto):
            return None
        return held

    def seq_at(self, as_of: datetime) -> int:
        """Return the last seq recorded by ``as_of``, 0 before the first."""
        ask = super().seq_at
        return self._or_last(("seq at", as_of), lambda: ask(as_of))

    def read_ids(self, ids: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records with these ids and ``seq <= upto_seq``, in order."""
        wanted, ask = tuple(ids), super().read_ids
        asked = ("ids", wanted, upto_seq)
        return self._or_last(asked, lambda: ask(wanted, upto_seq))

    def read_latest(
        self,
        kind: Kind,
        upto_seq: int,
        last_us: int,
        having: str = "",
        without: Collection[int] = (),
    ) -> dict[str, Array]:
        """Return the last row of each value of ``kind.by``, in order of the value."""
        ask = super().read_latest
        asked = ("latest", kind.name, upto_seq, last_us, having, tuple(without))
        return self._or_last(asked, lambda: ask(kind, upto_seq, last_us, having, without))

    def read_stretches(
        self, kind: Kind, upto_seq: int, asked: Asked, most: int, without: Collection[int] = ()
    ) -> dict[str, Array]:
        """Return, of each value asked for, the rows of its stretch and the one before, by seq."""
        ask = super().read_stretches
        question = ("stretches", kind.name, upto_seq, tuple(asked.items()), most, tuple(without))
        return self._or_last(question, lambda: ask(kind, upto_seq, asked, most, without))

    def count_heard(self, kind: Kind, after_us: int, upto_seq: int) -> int:
        """Return how many rows of a bulk kind were heard after a time."""
        ask = super().count_heard
        asked = ("heard", kind.name, after_us, upto_seq)
        return self._or_last(asked, lambda: ask(kind, after_us, upto_seq))

    def record(self, id_: str) -> Record | None:
        """Return the record with this id, or None."""
        ask = super().record
        return self._or_last(("record", id_), lambda: ask(id_))

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
        """Return the newest records first, for the log page."""
        asked = ("log", after_seq, tuple(kinds), tuple(without), text, limit)
        ask = super().log
        return self._or_last(
            asked,
            lambda: ask(
                upto_seq=upto_seq,
                after_seq=after_seq,
                kinds=kinds,
                without=without,
                text=text,
                limit=limit,
            ),
        )

    def sources(self) -> list[SourceAge]:
        """Return every source with when it was last heard, by name."""
        return self._or_last("sources", super().sources)

    def rejects(self, *, source: str | None = None, limit: int = 200) -> list[KeptReject]:
        """Return the newest rejects first."""
        ask = super().rejects
        return self._or_last(("rejects", source, limit), lambda: ask(source=source, limit=limit))

    def reject_counts(self) -> dict[str, int]:
        """Return how many rejects there are by source."""
        return self._or_last("reject counts", super().reject_counts)

    def head(self) -> tuple[int, str]:
        """Return the last seq and the hash that stands for everything up to it."""
        return self._or_last("head", super().head)
