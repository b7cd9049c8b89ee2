"""Whether anything that the plot reads was altered since it was recorded.

The hash chain covers every record, and what the journal is (name, EXERCISE, when it was made).
What lies beside the records is compared with them: the blocks' own columns, each row of a side
table, each file by its digest, each reject by its key, the sums by source; and the database
checks itself. What no hash inside a journal can show, a tail cut off together with its blocks or
rewritten, shows against what was noted outside (`layers.journal.integrity.outside`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.earth.errors import JournalError
from layers.journal.integrity import beside
from layers.journal.integrity.fault import Fault, first_few
from layers.journal.integrity.walk import ASKED, Walk
from layers.journal.opening import rebuild_side
from layers.journal.record import columns_bytes
from layers.journal.store import Journal
from layers.journal.tables.engine import plain_faults, reading, writing
from layers.journal.tables.head import FIRST_HASH
from layers.journal.tables.schema import BLOCKS, RECORDS

__all__ = ["Fault", "Verified", "rebuild", "verify"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What a check found.

    Parameters
    ----------
    records, side_rows, blobs, rejects : int
        How many there are.
    faults : tuple of Fault
        What does not fit, that of the records first; none when nothing was altered.
    head_hash : str
        Stands for everything up to ``records``: compare it with one noted elsewhere, since a
        chain by itself cannot show that its tail was rewritten.
    name_covered : bool
        Name, EXERCISE and time of making are in the chain; a journal begun by an older program
        has them outside.
    """

    records: int
    side_rows: int
    blobs: int
    rejects: int
    faults: tuple[Fault, ...]
    head_hash: str
    name_covered: bool

    @property
    def intact(self) -> bool:
        """Whether nothing was found."""
        return not self.faults

    @property
    def first_bad(self) -> int | None:
        """The number of the first record that does not fit, None when that is not known."""
        told = [fault.record for fault in self.faults if fault.record is not None]
        return min(told, default=None)


def verify(journal: Journal) -> Verified:
    """Return whether what the plot reads is what was recorded."""
    with _held(journal) as connection:
        faults: list[Fault] = []
        counts = {"records": 0, "side_rows": 0, "blobs": 0, "rejects": 0}
        walk = Walk(connection)

        def chain() -> Iterator[Fault]:
            counts["records"] = _count(connection)
            return first_few(walk.faults(), "records")

        steps: tuple[Callable[[], Iterator[Fault]], ...] = (
            chain,
            lambda: beside.blocks(connection),
            lambda: beside.sides(connection, journal.kinds, counts),
            lambda: first_few(beside.blobs(connection, counts), "kept files"),
            lambda: first_few(beside.rejects(connection, counts), "rejects"),
            lambda: first_few(beside.sources(connection), "sources"),
            lambda: beside.database(connection),
        )
        for step in steps:
            try:
                with plain_faults(journal.place):
                    faults += step()
            except JournalError as reason:
                faults.append(Fault(None, str(reason), "the database"))
            except (ValueError, TypeError, LookupError) as reason:
                faults.append(Fault(None, f"it can not be read: {reason}", "the database"))
    return Verified(faults=tuple(faults), head_hash=walk.head, name_covered=walk.covered, **counts)


def rebuild(journal: Journal) -> int:
    """Build every side table anew from the records; return how many there are."""
    kinds = [kind for kind in journal.kinds.values() if kind.columns]
    with writing(journal.engine, journal.place) as connection:
        for kind in kinds:
            rebuild_side(connection, kind)
        beside.rebuild_sources(connection)
    return len(kinds)


def rests_on_about(connection: Connection) -> bool:
    """Whether the first block rests on what the journal is, or an older program began it."""
    first = connection.execute(sa.select(BLOCKS).where(BLOCKS.c.block == 1)).first()
    if first is None:
        return True
    older = hashlib.sha256(bytes.fromhex(FIRST_HASH))
    question = ASKED.where(RECORDS.c.seq <= first.last_seq).order_by(RECORDS.c.seq)
    for row in connection.execute(question):
        raw = columns_bytes(row[:10])
        older.update(len(raw).to_bytes(8, "big") + raw)
    return older.hexdigest() != str(first.hash)


def _held(journal: Journal) -> Any:
    return reading(journal.engine, journal.place)


def _count(connection: Connection) -> int:
    return int(connection.execute(sa.select(sa.func.count()).select_from(RECORDS)).scalar_one())
