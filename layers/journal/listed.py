"""Records in a list instead of a database: for tests, and for the exercise built in memory."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

import numpy as np

from layers.earth.arrays import Array
from layers.earth.clock import to_us
from layers.journal.kinds import Kind
from layers.journal.record import Record
from layers.journal.tables.stretch import Asked, latest_in, stretches_in
from layers.journal.words.apart import Alike, NamesSaid


class ListShelf:
    """Records in memory: for tests, and for the exercise built in memory."""

    def __init__(
        self, records: Iterable[Record] = (), blobs: Mapping[str, bytes] | None = None
    ) -> None:
        self.records = sorted(records, key=lambda record: record.seq)
        self.blobs = dict(blobs or {})
        self._names: NamesSaid | None = None

    def read(self, kinds: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records of these kinds with ``seq <= upto_seq``, in order."""
        wanted = frozenset(kinds)
        return [r for r in self.records if r.kind in wanted and r.seq <= upto_seq]

    def read_columns(self, kind: Kind, upto_seq: int) -> dict[str, Array]:
        """Return the side table of a kind as arrays in order of seq."""
        return columns_of(kind, self.read((kind.name,), upto_seq))

    def read_latest(
        self,
        kind: Kind,
        upto_seq: int,
        last_us: int,
        having: str = "",
        without: Collection[int] = (),
    ) -> dict[str, Array]:
        """Return the last row of each value of ``kind.by``, in order of the value."""
        columns = self.read_columns(kind, upto_seq)
        return latest_in(columns, kind.by, last_us, having, without)

    def read_stretches(
        self, kind: Kind, upto_seq: int, asked: Asked, most: int, without: Collection[int] = ()
    ) -> dict[str, Array]:
        """Return, of each value asked for, the rows of its stretch and the one before, by seq."""
        columns = self.read_columns(kind, upto_seq)
        return stretches_in(columns, kind.by, asked, most, without)

    def read_ids(self, ids: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records with these ids and ``seq <= upto_seq``, in order."""
        wanted = frozenset(ids)
        return [r for r in self.records if r.id in wanted and r.seq <= upto_seq]

    def count_heard(self, kind: Kind, after_us: int, upto_seq: int) -> int:
        """Return how many rows of a bulk kind were heard after a time."""
        return sum(to_us(r.heard_at) > after_us for r in self.read((kind.name,), upto_seq))

    def last_seq(self, kinds: Iterable[str] | None, upto_seq: int) -> int:
        """Return the last seq of these kinds (of any, for None), 0 if there is none."""
        wanted = None if kinds is None else frozenset(kinds)
        return max(
            (
                r.seq
                for r in self.records
                if r.seq <= upto_seq and (wanted is None or r.kind in wanted)
            ),
            default=0,
        )

    def seq_at(self, as_of: datetime) -> int:
        """Return the last seq recorded by ``as_of``, 0 before the first."""
        return max((r.seq for r in self.records if r.recorded_at <= as_of), default=0)

    def recorded_at(self, seq: int) -> datetime | None:
        """Return when a record was recorded, None when there is none of that number."""
        return next((r.recorded_at for r in self.records if r.seq == seq), None)

    def blob(self, digest: str) -> bytes:
        """Return a stored file or grid by its SHA-256."""
        return self.blobs[digest]

    def alike(self, upto_seq: int) -> Alike:
        """Return the names that look like others, recorded with ``seq <= upto_seq``."""
        if self._names is None:
            self._names = NamesSaid()
            for record in self.records:
                self._names.note_record(record)
        return self._names.alike(upto_seq)


def columns_of(kind: Kind, records: Sequence[Record]) -> dict[str, Array]:
    """Return records of a bulk kind as its side table would give them."""
    columns: dict[str, Array] = {
        "seq": np.array([r.seq for r in records], dtype=np.int64),
        "id": np.array([r.id for r in records], dtype=object),
        "source": np.array([r.source for r in records], dtype=object),
        "valid_at_us": np.array([to_us(r.valid_at) for r in records], dtype=np.int64),
        "heard_at_us": np.array([to_us(r.heard_at) for r in records], dtype=np.int64),
    }
    payloads = [_up_to_date(kind, r) for r in records]
    for column in kind.columns:
        values = [p.get(column.name) for p in payloads]
        columns[column.name] = column_array(values, column.sql)
    return columns


def _up_to_date(kind: Kind, record: Record) -> Mapping[str, Any]:
    if record.version < kind.version and kind.upgrade is not None:
        return kind.upgrade(record.version, record.payload)
    return record.payload


def column_array(values: list[Any], sql: str) -> Array:
    """Return one side-table column as an array: REAL with NaN, INTEGER with -1 for missing."""
    if sql == "REAL":
        return np.array([np.nan if v is None else v for v in values], dtype=np.float64)
    if sql == "INTEGER":
        return np.array([-1 if v is None else v for v in values], dtype=np.int64)
    return np.array(["" if v is None else v for v in values], dtype=object)
