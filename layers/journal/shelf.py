"""Reading the records of a journal: rows cut in SQL, bulk kinds as arrays."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.earth.clock import from_us
from layers.earth.errors import InputError
from layers.journal.kinds import Kind
from layers.journal.known import column_array
from layers.journal.record import Record
from layers.journal.schema import BLOBS, RECORDS, side_table

Array = npt.NDArray[Any]
FIXED = ("seq", "id", "source", "valid_at_us", "heard_at_us")
_CHUNK = 400  # ids asked for in one question; SQLite takes 999 values at most in old builds

_RECORD_COLUMNS = (
    RECORDS.c.seq,
    RECORDS.c.id,
    RECORDS.c.kind,
    RECORDS.c.version,
    RECORDS.c.valid_at_us,
    RECORDS.c.heard_at_us,
    RECORDS.c.recorded_at_us,
    RECORDS.c.source,
    RECORDS.c.author,
    RECORDS.c.payload,
)
RECORD_SELECT = sa.select(*_RECORD_COLUMNS)


def as_stored(row: Sequence[Any]) -> Record:
    """Return a row of the records table as a record."""
    seq, id_, kind, version, valid, heard, recorded, source, author, payload = row
    return Record(
        seq=seq,
        id=id_,
        kind=kind,
        version=version,
        valid_at=from_us(valid),
        heard_at=from_us(heard),
        recorded_at=from_us(recorded),
        source=source,
        author=author,
        payload=json.loads(payload),
    )


def read_rows(connection: Connection, kinds: Iterable[str], upto_seq: int) -> list[Record]:
    """Return the records of these kinds with ``seq <= upto_seq``, in order."""
    question = (
        RECORD_SELECT.where(RECORDS.c.kind.in_(tuple(kinds)))
        .where(RECORDS.c.seq <= upto_seq)
        .order_by(RECORDS.c.seq)
    )
    return [as_stored(row) for row in connection.execute(question)]


def last_seq_of(connection: Connection, kinds: Iterable[str] | None, upto_seq: int) -> int:
    """Return the last seq of these kinds (of any, for None), 0 if there is none.

    One step down the index of (kind, seq) for each kind, whatever the journal's length.
    """
    if kinds is None:
        one = sa.select(sa.func.max(RECORDS.c.seq)).where(RECORDS.c.seq <= upto_seq)
        return int(connection.execute(one).scalar() or 0)
    last = 0
    names = sorted(set(kinds))
    for start in range(0, len(names), _CHUNK):
        steps = [
            sa.select(sa.func.max(RECORDS.c.seq).label("last"))
            .where(RECORDS.c.kind == name)
            .where(RECORDS.c.seq <= upto_seq)
            for name in names[start : start + _CHUNK]
        ]
        found = sa.union_all(*steps).subquery()
        last = max(
            last, int(connection.execute(sa.select(sa.func.max(found.c.last))).scalar() or 0)
        )
    return last


def read_side(
    connection: Connection, kind: Kind, after_seq: int, upto_seq: int
) -> dict[str, Array]:
    """Return rows ``after_seq < seq <= upto_seq`` of a kind's side table as arrays."""
    table = side_table(kind)
    rows = connection.execute(
        sa.select(
            *(table.c[name] for name in FIXED), *(table.c[f"f_{c.name}"] for c in kind.columns)
        )
        .where(table.c.seq > after_seq)
        .where(table.c.seq <= upto_seq)
        .order_by(table.c.seq)
    ).fetchall()
    turned: Sequence[Sequence[Any]] = (
        list(zip(*rows, strict=True)) if rows else [()] * (len(FIXED) + len(kind.columns))
    )
    columns: dict[str, Array] = {}
    for name, values in zip(FIXED, turned[: len(FIXED)], strict=True):
        texts = name in ("id", "source")
        columns[name] = np.array(values, dtype=object if texts else np.int64)
    for column, values in zip(kind.columns, turned[len(FIXED) :], strict=True):
        columns[column.name] = column_array(list(values), column.sql)
    return columns


class ConnectionShelf:
    """The records as one connection sees them; what a `refuse` looks at inside the lock."""

    def __init__(self, connection: Connection, blobs: dict[str, bytes] | None = None) -> None:
        self._connection = connection
        self._blobs = blobs or {}

    def read(self, kinds: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records of these kinds with ``seq <= upto_seq``, in order."""
        return read_rows(self._connection, kinds, upto_seq)

    def read_columns(self, kind: Kind, upto_seq: int) -> dict[str, Array]:
        """Return the side table of a kind as arrays in order of seq."""
        return read_side(self._connection, kind, 0, upto_seq)

    def last_seq(self, kinds: Iterable[str] | None, upto_seq: int) -> int:
        """Return the last seq of these kinds (of any, for None), 0 if there is none."""
        return last_seq_of(self._connection, kinds, upto_seq)

    def blob(self, digest: str) -> bytes:
        """Return a stored file or grid by its SHA-256."""
        if digest in self._blobs:
            return self._blobs[digest]
        return read_blob(self._connection, digest)


def read_blob(connection: Connection, digest: str) -> bytes:
    """Return a stored file or grid by its SHA-256.

    Raises
    ------
    InputError
        The journal holds no such file.
    """
    content = connection.execute(
        sa.select(BLOBS.c.content).where(BLOBS.c.digest == digest)
    ).scalar()
    if content is None:
        raise InputError(f"the journal holds no file with the digest {digest[:12]}…")
    return bytes(content)


def join_columns(first: dict[str, Array], second: dict[str, Array]) -> dict[str, Array]:
    """Return the rows of one set of arrays followed by those of another."""
    return {name: np.concatenate((first[name], second[name])) for name in first}


def cut_columns(columns: dict[str, Array], upto_seq: int) -> dict[str, Array]:
    """Return the rows with ``seq <= upto_seq`` as read-only views."""
    rows = int(np.searchsorted(columns["seq"], upto_seq, side="right"))
    cut = {name: values[:rows] for name, values in columns.items()}
    for values in cut.values():
        values.flags.writeable = False
    return cut
