"""The hash chain: whether anything recorded was altered since."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.journal.intake import FIRST_HASH
from layers.journal.record import columns_bytes
from layers.journal.shelf import RECORD_SELECT
from layers.journal.store import Journal
from layers.journal.tables.engine import reading
from layers.journal.tables.schema import BLOCKS, RECORDS

_ROWS = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What a check of the chain found.

    ``first_bad`` is the seq at which the block that does not fit begins, None when intact.
    ``head_hash`` stands for everything up to ``records``: compare it with one noted elsewhere,
    since a chain by itself cannot show that its tail was rewritten.
    """

    records: int
    intact: bool
    first_bad: int | None
    head_hash: str


def verify(journal: Journal) -> Verified:
    """Return whether every block's hash follows from the one before and its records."""
    with reading(journal.engine, journal.place) as connection:
        return _verify(connection)


def _verify(connection: Connection) -> Verified:
    total = connection.execute(sa.select(sa.func.count()).select_from(RECORDS)).scalar_one()
    rows = _rows(connection)
    held = FIRST_HASH
    row = next(rows, None)
    expected = 1
    blocks = connection.execute(sa.select(BLOCKS).order_by(BLOCKS.c.block)).fetchall()
    for place, block in enumerate(blocks, start=1):
        bad = Verified(records=total, intact=False, first_bad=expected, head_hash=held)
        if block.block != place or block.first_seq != expected:
            return bad
        digest = hashlib.sha256(bytes.fromhex(held))
        while row is not None and row[0] <= block.last_seq:
            if row[0] != expected:
                return bad
            raw = columns_bytes(row)
            digest.update(len(raw).to_bytes(8, "big") + raw)
            expected += 1
            row = next(rows, None)
        if expected != block.last_seq + 1 or digest.hexdigest() != block.hash:
            return bad
        held = block.hash
    if row is not None:
        return Verified(records=total, intact=False, first_bad=expected, head_hash=held)
    return Verified(records=total, intact=True, first_bad=None, head_hash=held)


def _rows(connection: Connection) -> Iterator[Any]:
    """Give every record in order, a part at a time, so that memory stays flat."""
    after = 0
    while part := connection.execute(
        RECORD_SELECT.where(RECORDS.c.seq > after).order_by(RECORDS.c.seq).limit(_ROWS)
    ).fetchall():
        yield from part
        after = part[-1].seq
