"""Where the journal's order ends, and what its first block rests on."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.journal.tables.schema import BLOCKS, JOURNAL

FIRST_HASH = "0" * 64  # of journals made before the first block rested on what the journal is


@dataclass(slots=True, kw_only=True)
class Head:
    """Where the journal's order ends."""

    block: int = 0
    seq: int = 0
    recorded_at_us: int = 0
    hash: str = FIRST_HASH


def about_bytes(connection: Connection) -> bytes:
    """Return what a journal is, as its first block's hash rests on it.

    Name, whether it is an exercise, and when it was made (microseconds since 1970), as JSON.
    """
    row = connection.execute(sa.select(JOURNAL)).one()
    told = [row.name, bool(row.exercise), int(row.created_us)]
    return json.dumps(told, ensure_ascii=False, separators=(",", ":")).encode()


def read_head(connection: Connection) -> Head:
    """Return the last block, or the beginning of an empty journal."""
    row = connection.execute(
        sa.select(BLOCKS.c.block, BLOCKS.c.last_seq, BLOCKS.c.recorded_at_us, BLOCKS.c.hash)
        .order_by(BLOCKS.c.block.desc())
        .limit(1)
    ).first()
    if row is None:
        return Head(hash=hashlib.sha256(about_bytes(connection)).hexdigest())
    return Head(block=row[0], seq=row[1], recorded_at_us=row[2], hash=row[3])
