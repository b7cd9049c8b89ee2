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
from layers.journal.intake import FIRST_HASH, about_bytes
from layers.journal.integrity import beside
from layers.journal.integrity.fault import Fault
from layers.journal.opening import rebuild_side
from layers.journal.record import columns_bytes
from layers.journal.store import Journal
from layers.journal.tables.engine import plain_faults, reading, writing
from layers.journal.tables.schema import BLOCKS, RECORDS

__all__ = ["Fault", "Verified", "rebuild", "verify"]

_ROWS = 20_000
_COLUMNS = (
    "seq", "id", "kind", "version", "valid_at_us", "heard_at_us", "recorded_at_us", "source",
    "author", "payload",
)  # fmt: skip
_ASKED = sa.select(*(RECORDS.c[name] for name in _COLUMNS), RECORDS.c.block)


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
        head, covered = FIRST_HASH, False

        def chain() -> Iterator[Fault]:
            nonlocal head, covered
            counts["records"] = _count(connection)
            found = _walk(connection)
            head, covered = found.head, found.covered
            if found.fault is not None:
                yield found.fault

        steps: tuple[Callable[[], Iterator[Fault]], ...] = (
            chain,
            lambda: beside.blocks(connection),
            lambda: beside.sides(connection, journal.kinds, counts),
            lambda: beside.blobs(connection, counts),
            lambda: beside.rejects(connection, counts),
            lambda: beside.sources(connection),
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
    return Verified(faults=tuple(faults), head_hash=head, name_covered=covered, **counts)


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
    question = _ASKED.where(RECORDS.c.seq <= first.last_seq).order_by(RECORDS.c.seq)
    for row in connection.execute(question):
        raw = columns_bytes(row[:10])
        older.update(len(raw).to_bytes(8, "big") + raw)
    return older.hexdigest() != str(first.hash)


def _held(journal: Journal) -> Any:
    return reading(journal.engine, journal.place)


def _count(connection: Connection) -> int:
    return int(connection.execute(sa.select(sa.func.count()).select_from(RECORDS)).scalar_one())


@dataclass(frozen=True, slots=True)
class _Walked:
    head: str
    covered: bool
    fault: Fault | None


def _walk(connection: Connection) -> _Walked:
    """Go along the chain, and stop at the first block that does not fit."""
    rows = _rows(connection)
    row = next(rows, None)
    expected = 1
    held, covered = hashlib.sha256(about_bytes(connection)).hexdigest(), True
    blocks = connection.execute(sa.select(BLOCKS).order_by(BLOCKS.c.block)).fetchall()
    for place, block in enumerate(blocks, start=1):
        bad = _Walked(held, covered, _misfit(expected, int(block.last_seq)))
        if block.block != place or block.first_seq != expected:
            return bad
        digest = hashlib.sha256(bytes.fromhex(held))
        older = hashlib.sha256(bytes.fromhex(FIRST_HASH)) if place == 1 else None
        while row is not None and row[0] <= block.last_seq:
            if row[0] != expected:
                return bad
            if row[10] != place or row[6] != block.recorded_at_us:
                return _Walked(held, covered, _misfit(expected, expected))
            raw = columns_bytes(row[:10])
            raw = len(raw).to_bytes(8, "big") + raw
            digest.update(raw)
            if older is not None:
                older.update(raw)
            expected += 1
            row = next(rows, None)
        if expected != block.last_seq + 1:
            return bad
        if digest.hexdigest() != block.hash:
            if older is None or older.hexdigest() != block.hash:
                if place == 1:
                    where = "name, EXERCISE and time of making, or records 1 to " + str(
                        block.last_seq
                    )
                    return _Walked(held, covered, Fault(1, "does not fit its hash", where))
                return bad
            covered = False
        held = block.hash
    if row is not None:
        return _Walked(held, covered, Fault(expected, "is in no block", "records"))
    return _Walked(held, covered, None)


def _misfit(first: int, last: int) -> Fault:
    where = f"record {first}" if last <= first else f"records {first} to {last}"
    return Fault(first, "does not fit the hash taken when it was recorded", where)


def _rows(connection: Connection) -> Iterator[Any]:
    """Give every record in order, a part at a time, so that memory stays flat."""
    after = 0
    while part := connection.execute(
        _ASKED.where(RECORDS.c.seq > after).order_by(RECORDS.c.seq).limit(_ROWS)
    ).fetchall():
        yield from part
        after = part[-1].seq
