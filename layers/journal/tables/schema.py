"""The tables of a journal: one schema for SQLite and for PostgreSQL."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import sqlalchemy as sa

from layers.journal.kinds import Kind

# Every schema ever released, oldest first; the last is the one this program writes.
SCHEMAS = ("0001",)

METADATA = sa.MetaData()

# SQLite numbers rows only under a column declared INTEGER, PostgreSQL needs 64 bits.
Big = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

JOURNAL = sa.Table(
    "journal",
    METADATA,
    sa.Column("one", sa.Integer, sa.CheckConstraint("one = 1"), primary_key=True),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("exercise", sa.Boolean, nullable=False),
    sa.Column("created_us", Big, nullable=False),
    sa.Column("clock_offset_us", Big, nullable=False),
    sa.Column("clock_kept_us", Big, nullable=False),
)
BLOCKS = sa.Table(
    "blocks",
    METADATA,
    sa.Column("block", Big, primary_key=True, autoincrement=False),
    sa.Column("first_seq", Big, nullable=False),
    sa.Column("last_seq", Big, nullable=False),
    sa.Column("recorded_at_us", Big, nullable=False),
    sa.Column("hash", sa.Text, nullable=False),
    sa.Index("blocks_by_time", "recorded_at_us", "last_seq"),
)
RECORDS = sa.Table(
    "records",
    METADATA,
    sa.Column("seq", Big, primary_key=True, autoincrement=False),
    sa.Column("block", Big, nullable=False),
    sa.Column("id", sa.Text, nullable=False, unique=True),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("version", sa.Integer, nullable=False),
    sa.Column("valid_at_us", Big, nullable=False),
    sa.Column("heard_at_us", Big, nullable=False),
    sa.Column("recorded_at_us", Big, nullable=False),
    sa.Column("source", sa.Text, nullable=False),
    sa.Column("author", sa.Text, nullable=False),
    sa.Column("payload", sa.Text, nullable=False),
    sa.Index("records_by_kind", "kind", "seq"),
)
REJECTS = sa.Table(
    "rejects",
    METADATA,
    sa.Column("number", Big, primary_key=True, autoincrement=True),
    # The same line of the same file twice is one reject; lines of a stream have no key.
    sa.Column("same", sa.Text, unique=True),
    sa.Column("recorded_at_us", Big, nullable=False),
    sa.Column("source", sa.Text, nullable=False),
    sa.Column("line", Big),
    sa.Column("text", sa.Text, nullable=False),
    sa.Column("reason", sa.Text, nullable=False),
)
BLOBS = sa.Table(
    "blobs",
    METADATA,
    sa.Column("digest", sa.Text, primary_key=True),
    sa.Column("content", sa.LargeBinary, nullable=False),
    sa.Column("recorded_at_us", Big, nullable=False),
)
SOURCES = sa.Table(
    "sources",
    METADATA,
    sa.Column("source", sa.Text, primary_key=True),
    sa.Column("last_heard_us", Big, nullable=False),
    sa.Column("last_valid_us", Big, nullable=False),
    sa.Column("records", Big, nullable=False),
    sa.Column("by_feed", sa.Boolean, nullable=False),  # a file or stream, not a person's form
)
SIDES = sa.Table(
    "sides",
    METADATA,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("made_of", sa.Text, nullable=False),  # kind version and columns it was built for
)

_SQL_TYPES: dict[str, sa.types.TypeEngine[Any]] = {
    "REAL": sa.Double(),
    "INTEGER": sa.BigInteger(),
    "TEXT": sa.Text(),
}


def side_name(kind: Kind) -> str:
    """Return the name of a kind's side table: ``side_tracks_position``."""
    return "side_" + kind.name.replace(".", "_")


def side_columns(kind: Kind) -> str:
    """Return which columns a side table is built for; when this changes it is built anew."""
    return f"{kind.version}:" + ",".join(f"{c.name} {c.sql}" for c in kind.columns)


def side_made_of(kind: Kind) -> str:
    """Return all that a side table is built for: its columns, and its index if it has one."""
    return side_columns(kind) + (f" by {kind.by}" if kind.by else "")


@lru_cache(maxsize=256)
def side_table(kind: Kind) -> sa.Table:
    """Return the narrow table of a bulk kind, beside the records and rebuilt from them.

    The same object each time: statements are kept compiled by the tables in them.
    """
    metadata = sa.MetaData()
    table = sa.Table(
        side_name(kind),
        metadata,
        sa.Column("seq", Big, primary_key=True, autoincrement=False),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("valid_at_us", Big, nullable=False),
        sa.Column("heard_at_us", Big, nullable=False),
        # Fields keep their own names; a prefix keeps them apart from the five above.
        *(sa.Column(f"f_{c.name}", _SQL_TYPES[c.sql]) for c in kind.columns),
    )
    if kind.by:
        sa.Index(f"{table.name}_by", table.c[f"f_{kind.by}"], table.c.valid_at_us, table.c.seq)
    return table
