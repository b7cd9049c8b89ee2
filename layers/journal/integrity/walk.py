"""Along the hash chain: every block that does not fit what was recorded, not the first alone.

A block's hash stands on the one before it. Behind a block that does not fit the chain goes on from
that block's hash as it is kept, or as it comes out, whichever the next one stands on: so one
altered record makes one fault, and a second one is still found when the first is known.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.journal.integrity.fault import Fault
from layers.journal.record import columns_bytes
from layers.journal.tables.head import FIRST_HASH, about_bytes
from layers.journal.tables.schema import BLOCKS, RECORDS

_ROWS = 20_000
_COLUMNS = (
    "seq", "id", "kind", "version", "valid_at_us", "heard_at_us", "recorded_at_us", "source",
    "author", "payload",
)  # fmt: skip
ASKED = sa.select(*(RECORDS.c[name] for name in _COLUMNS), RECORDS.c.block)


class Walk:
    """One walk along the chain.

    Attributes
    ----------
    head : str
        The hash of all that fits, up to the first block that does not.
    covered : bool
        Name, EXERCISE and time of making are in the chain.
    """

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self.head, self.covered = FIRST_HASH, False

    def faults(self) -> Iterator[Fault]:
        """Give what does not fit, in order."""
        about = hashlib.sha256(about_bytes(self._connection)).hexdigest()
        self.head, self.covered = about, True
        before: tuple[str, ...] = (about,)  # what the next block may stand on
        rows = _rows(self._connection)
        row = next(rows, None)
        place, expected, sound = 1, 1, True
        asked = sa.select(BLOCKS).order_by(BLOCKS.c.block)
        for block in self._connection.execute(asked).fetchall():
            start, last = min(expected, int(block.first_seq)), int(block.last_seq)
            whole = block.block == place and block.first_seq == expected
            strange: int | None = None  # a record that is not of this block
            roots = (*before, FIRST_HASH) if place == 1 else before
            digests = [hashlib.sha256(_bytes(root)) for root in roots]
            while row is not None and row[0] <= last:
                whole = whole and row[0] == expected
                if whole and (row[10] != place or row[6] != block.recorded_at_us):
                    strange = strange or int(row[0])
                raw = columns_bytes(row[:10])
                for digest in digests:
                    digest.update(len(raw).to_bytes(8, "big") + raw)
                expected = row[0] + 1
                row = next(rows, None)
            found = [digest.hexdigest() for digest in digests]
            hashed = block.hash in found
            whole = whole and expected == last + 1
            if whole and hashed and strange is None:
                # an older program began the first block with no word of what the journal is
                self.covered = self.covered and not (place == 1 and found[0] != block.hash)
                self.head = block.hash if sound else self.head
                before = (block.hash,)
            else:
                sound = False
                yield _fault(place, start, last, found[0], strange, alone=whole)
                before = (block.hash, *found)
            place, expected = int(block.block) + 1, last + 1
        if row is not None:
            yield Fault(expected, "is in no block", "records")


def _fault(
    place: int, start: int, last: int, found: str, strange: int | None, *, alone: bool
) -> Fault:
    if strange is not None:
        start = last = strange
    elif place == 1 and alone:
        where = f"name, EXERCISE and time of making, or records 1 to {last}"
        return Fault(1, "does not fit its hash", where, found)
    where = f"record {start}" if last <= start else f"records {start} to {last}"
    return Fault(start, "does not fit the hash taken when it was recorded", where, found)


def _bytes(root: str) -> bytes:
    """Return a hash as bytes; of one that is none, bytes that nothing stands on."""
    try:
        return bytes.fromhex(root)
    except (TypeError, ValueError):
        return repr(root).encode()


def _rows(connection: Connection) -> Iterator[Any]:
    """Give every record in order, a part at a time, so that memory stays flat."""
    after = 0
    while part := connection.execute(
        ASKED.where(RECORDS.c.seq > after).order_by(RECORDS.c.seq).limit(_ROWS)
    ).fetchall():
        yield from part
        after = part[-1].seq
