"""Reading the records of a journal: rows cut in SQL, bulk kinds as arrays."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.earth.arrays import Array
from layers.earth.clock import from_us, to_us
from layers.earth.errors import InputError
from layers.journal.kinds import Kind
from layers.journal.record import Record
from layers.journal.tables.schema import BLOBS, BLOCKS, RECORDS
from layers.journal.tables.sides import read_side
from layers.journal.tables.stretch import Asked
from layers.journal.tables.stretch_sql import count_heard, read_latest, read_stretches

if TYPE_CHECKING:
    from layers.journal.words.apart import Alike

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


def read_ids(connection: Connection, ids: Iterable[str], upto_seq: int) -> list[Record]:
    """Return the records with these ids and ``seq <= upto_seq``, in order."""
    wanted, found = sorted(set(ids)), []
    for start in range(0, len(wanted), _CHUNK):
        part = wanted[start : start + _CHUNK]
        question = RECORD_SELECT.where(RECORDS.c.id.in_(part)).where(RECORDS.c.seq <= upto_seq)
        found += [as_stored(row) for row in connection.execute(question)]
    return sorted(found, key=lambda record: record.seq)


def last_seq_of(connection: Connection, kinds: Iterable[str] | None, upto_seq: int) -> int:
    """Return the last seq of these kinds (of any, for None), 0 if there is none."""
    if kinds is None:
        one = sa.select(sa.func.max(RECORDS.c.seq)).where(RECORDS.c.seq <= upto_seq)
        return int(connection.execute(one).scalar() or 0)
    return max(last_by_kind(connection, kinds, upto_seq).values(), default=0)


def last_by_kind(
    connection: Connection, kinds: Iterable[str], upto_seq: int, after_seq: int = 0
) -> dict[str, int]:
    """Return the last seq of each kind that has one with ``after_seq < seq <= upto_seq``.

    From the beginning it is one step down the index of (kind, seq) for each kind, whatever the
    journal's length; after a place it looks through the records that came since.
    """
    names = tuple(sorted(set(kinds)))
    asked = {"upto": upto_seq}
    if after_seq:
        since = connection.execute(_SINCE, asked | {"after": after_seq})
        return {kind: int(last) for kind, last in since if kind in names}
    found: dict[str, int] = {}
    for start in range(0, len(names), _CHUNK):
        rows = connection.execute(_steps_down(names[start : start + _CHUNK]), asked)
        found |= {kind: int(last) for kind, last in rows if last is not None}
    return found


_SINCE = (
    sa.select(RECORDS.c.kind, sa.func.max(RECORDS.c.seq))
    .where(RECORDS.c.seq > sa.bindparam("after"))
    .where(RECORDS.c.seq <= sa.bindparam("upto"))
    .group_by(RECORDS.c.kind)
)


@cache  # putting the words together takes longer than the answer; the catalogue is small
def _steps_down(names: tuple[str, ...]) -> sa.CompoundSelect[Any]:
    return sa.union_all(
        *(
            sa.select(sa.literal(name), sa.func.max(RECORDS.c.seq))
            .where(RECORDS.c.kind == name)
            .where(RECORDS.c.seq <= sa.bindparam("upto"))
            for name in names
        )
    )


def seq_at(connection: Connection, as_of: datetime) -> int:
    """Return the last seq recorded by ``as_of``, 0 before the first."""
    question = (
        sa.select(BLOCKS.c.last_seq)
        .where(BLOCKS.c.recorded_at_us <= to_us(as_of))
        .order_by(BLOCKS.c.recorded_at_us.desc(), BLOCKS.c.last_seq.desc())
        .limit(1)
    )
    return int(connection.execute(question).scalar() or 0)


def recorded_at(connection: Connection, seq: int) -> datetime | None:
    """Return when a record was recorded, None when there is none of that number."""
    question = sa.select(RECORDS.c.recorded_at_us).where(RECORDS.c.seq == seq)
    found = connection.execute(question).scalar()
    return None if found is None else from_us(int(found))


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

    def read_latest(
        self,
        kind: Kind,
        upto_seq: int,
        last_us: int,
        having: str = "",
        without: Collection[int] = (),
    ) -> dict[str, Array]:
        """Return the last row of each value of ``kind.by``, in order of the value."""
        return read_latest(self._connection, kind, upto_seq, last_us, having, without)

    def read_stretches(
        self, kind: Kind, upto_seq: int, asked: Asked, most: int, without: Collection[int] = ()
    ) -> dict[str, Array]:
        """Return, of each value asked for, the rows of its stretch and the one before, by seq."""
        return read_stretches(self._connection, kind, upto_seq, asked, most, without)

    def read_ids(self, ids: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records with these ids and ``seq <= upto_seq``, in order."""
        return read_ids(self._connection, ids, upto_seq)

    def count_heard(self, kind: Kind, after_us: int, upto_seq: int) -> int:
        """Return how many rows of a bulk kind were heard after a time."""
        return count_heard(self._connection, kind, after_us, upto_seq)

    def last_seq(self, kinds: Iterable[str] | None, upto_seq: int) -> int:
        """Return the last seq of these kinds (of any, for None), 0 if there is none."""
        return last_seq_of(self._connection, kinds, upto_seq)

    def seq_at(self, as_of: datetime) -> int:
        """Return the last seq recorded by ``as_of``, 0 before the first."""
        return seq_at(self._connection, as_of)

    def recorded_at(self, seq: int) -> datetime | None:
        """Return when a record was recorded, None when there is none of that number."""
        return recorded_at(self._connection, seq)

    def blob(self, digest: str) -> bytes:
        """Return a stored file or grid by its SHA-256."""
        if digest in self._blobs:
            return self._blobs[digest]
        return read_blob(self._connection, digest)

    def alike(self, upto_seq: int) -> Alike:
        """Return none: what is written is judged by names as they are recorded."""
        return {}


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
