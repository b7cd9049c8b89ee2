"""Reading a journal that is kept in a database: the shelf that everything is read from.

What never changes is kept: rows of a side table, the order, who recorded a source first.
"""

from __future__ import annotations

import threading
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.engine import Engine

from layers.earth.arrays import Array
from layers.journal.kinds import OPINION_NAMES, Kind
from layers.journal.record import Record
from layers.journal.rejected import KeptReject, read_rejects, reject_counts
from layers.journal.settled import Settled
from layers.journal.shelf import (
    RECORD_SELECT,
    as_stored,
    last_by_kind,
    last_seq_of,
    read_blob,
    read_ids,
    read_rows,
    recorded_at,
    seq_at,
)
from layers.journal.signature import read_signature
from layers.journal.sources import FEED_READER, SourceAge, first_by, read_sources
from layers.journal.tables.engine import reading
from layers.journal.tables.head import read_head
from layers.journal.tables.names import names_held, read_names
from layers.journal.tables.rows import known_ids
from layers.journal.tables.schema import RECORDS
from layers.journal.tables.sides import cut_columns, join_columns, read_side
from layers.journal.tables.stretch import Asked
from layers.journal.tables.stretch_sql import count_heard, read_latest, read_stretches
from layers.journal.words.apart import Alike


class StoredShelf:
    """The records of a database, read in their order; follows `layers.journal.known.Shelf`.

    Parameters
    ----------
    engine : Engine
        The database, opened and of this program's schema.
    place : str
        Where it is, as said in a sentence.
    kinds : mapping of str to Kind
        The catalogue's kinds by name.
    """

    def __init__(self, engine: Engine, place: str, kinds: Mapping[str, Kind]) -> None:
        self.engine = engine
        self.place = place
        self.kinds = kinds
        self._columns: dict[str, tuple[int, dict[str, Array]]] = {}
        self._columns_lock = threading.Lock()
        self._settled = Settled()
        self._first_by: dict[str, str] = {}

    def read(self, kinds: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records of these kinds with ``seq <= upto_seq``, in order."""
        with reading(self.engine, self.place) as connection:
            return read_rows(connection, kinds, upto_seq)

    def read_columns(self, kind: Kind, upto_seq: int) -> dict[str, Array]:
        """Return the side table of a kind as read-only arrays in order of seq.

        Rows never change, so what was read once is kept and only the new rows are fetched.
        """
        with self._columns_lock:
            upto, held = self._columns.get(kind.name, (0, None))
            if held is None or upto < upto_seq:
                with reading(self.engine, self.place) as connection:
                    head = last_seq_of(connection, None, upto_seq)
                    news = read_side(connection, kind, upto, head)
                held = news if held is None else join_columns(held, news)
                self._columns[kind.name] = (max(upto, head), held)
        return cut_columns(held, upto_seq)

    def read_latest(
        self,
        kind: Kind,
        upto_seq: int,
        last_us: int,
        having: str = "",
        without: Collection[int] = (),
    ) -> dict[str, Array]:
        """Return the last row of each value of ``kind.by``, in order of the value."""
        with reading(self.engine, self.place) as connection:
            return read_latest(connection, kind, upto_seq, last_us, having, without)

    def read_stretches(
        self, kind: Kind, upto_seq: int, asked: Asked, most: int, without: Collection[int] = ()
    ) -> dict[str, Array]:
        """Return, of each value asked for, the rows of its stretch and the one before, by seq.

        Nothing of it is kept: it costs what is asked for, and memory does not grow.
        """
        with reading(self.engine, self.place) as connection:
            return read_stretches(connection, kind, upto_seq, asked, most, without)

    def read_ids(self, ids: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records with these ids and ``seq <= upto_seq``, in order."""
        with reading(self.engine, self.place) as connection:
            return read_ids(connection, ids, upto_seq)

    def count_heard(self, kind: Kind, after_us: int, upto_seq: int) -> int:
        """Return how many rows of a bulk kind were heard after a time."""
        with reading(self.engine, self.place) as connection:
            return count_heard(connection, kind, after_us, upto_seq)

    def last_seq(self, kinds: Iterable[str] | None, upto_seq: int) -> int:
        """Return the last seq of these kinds (of any, for None), 0 if there is none."""
        every = OPINION_NAMES | self.kinds.keys()
        names = None if kinds is None else frozenset(kinds)
        if names is None or not names <= every or not self._settled.covers(upto_seq):
            with reading(self.engine, self.place) as connection:
                return last_seq_of(connection, names, upto_seq)

        def ask(after_seq: int, upto_seq: int) -> dict[str, int]:
            with reading(self.engine, self.place) as connection:
                return last_by_kind(connection, every, upto_seq, after_seq)

        last = self._settled.last_by_kind(upto_seq, ask)
        return max((last[name] for name in names if name in last), default=0)

    def blob(self, digest: str) -> bytes:
        """Return a stored file or grid by its SHA-256."""
        with reading(self.engine, self.place) as connection:
            return read_blob(connection, digest)

    def seq_at(self, as_of: datetime) -> int:
        """Return the last seq recorded by ``as_of``, 0 before the first."""
        with reading(self.engine, self.place) as connection:
            return seq_at(connection, as_of)

    def recorded_at(self, seq: int) -> datetime | None:
        """Return when a record was recorded, None when there is none of that number."""

        def ask() -> datetime | None:
            with reading(self.engine, self.place) as connection:
                return recorded_at(connection, seq)

        return self._settled.recorded_at(seq, ask)

    def alike(self, upto_seq: int) -> Alike:
        """Return the names that look like others, recorded with ``seq <= upto_seq``."""
        held = names_held(self.engine)
        if held.upto_seq < upto_seq:
            with reading(self.engine, self.place) as connection:
                held = read_names(connection, self.kinds, upto_seq)
        return held.alike(upto_seq)

    def head(self) -> tuple[int, str]:
        """Return the last seq and the hash that stands for everything up to it."""
        with reading(self.engine, self.place) as connection:
            head = read_head(connection)
        return head.seq, head.hash

    def record(self, id_: str) -> Record | None:
        """Return the record with this id, or None."""
        with reading(self.engine, self.place) as connection:
            row = connection.execute(RECORD_SELECT.where(RECORDS.c.id == id_)).first()
        return None if row is None else as_stored(row)

    def held(self, ids: Sequence[str]) -> set[str]:
        """Return those of the ids that are recorded."""
        with reading(self.engine, self.place) as connection:
            return known_ids(connection, ids)

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
        """Return the newest records first, for the log page.

        ``kinds`` and ``without`` are names of kinds wanted and not wanted; ``text`` is looked
        for in payload, source and author.
        """
        question = RECORD_SELECT.where(RECORDS.c.seq <= upto_seq, RECORDS.c.seq > after_seq)
        if kinds:
            question = question.where(RECORDS.c.kind.in_(tuple(kinds)))
        if without:
            question = question.where(RECORDS.c.kind.not_in(tuple(without)))
        if text:
            columns = (RECORDS.c.payload, RECORDS.c.source, RECORDS.c.author, RECORDS.c.id)
            question = question.where(
                sa.or_(*(column.icontains(text, autoescape=True) for column in columns))
            )
        question = question.order_by(RECORDS.c.seq.desc()).limit(limit)
        with reading(self.engine, self.place) as connection:
            return [as_stored(row) for row in connection.execute(question)]

    def sources(self) -> list[SourceAge]:
        """Return every source with when it was last heard, by name."""
        with reading(self.engine, self.place) as connection:
            return read_sources(connection)

    def followed(self, *, least: int = 2) -> list[SourceAge]:
        """Return the sources that the feed reader follows, of at least so many records.

        What people type is a report, a file that somebody dropped is theirs, and what came once
        is mostly no feed. Who recorded a source first never changes: it is asked for once.
        """
        found = [one for one in self.sources() if one.by_feed and one.records >= least]
        with reading(self.engine, self.place) as connection:
            for one in found:
                if one.source not in self._first_by:
                    self._first_by[one.source] = first_by(connection, one.source)
        return [
            one for one in found if read_signature(self._first_by[one.source]).name == FEED_READER
        ]

    def rejects(self, *, source: str | None = None, limit: int = 200) -> list[KeptReject]:
        """Return the newest rejects first."""
        with reading(self.engine, self.place) as connection:
            return read_rejects(connection, source, limit)

    def reject_counts(self) -> dict[str, int]:
        """Return how many rejects there are by source."""
        with reading(self.engine, self.place) as connection:
            return reject_counts(connection)
