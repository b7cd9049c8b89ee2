"""What lies beside the records, compared with them: blocks, side tables, files, rejects, sums."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.journal.integrity.fault import MOST, Fault, digest_of, first_few
from layers.journal.kinds import Kind
from layers.journal.opening import side_row_of
from layers.journal.rejected import same_key
from layers.journal.shelf import RECORD_SELECT
from layers.journal.tables.schema import (
    BLOBS,
    BLOCKS,
    RECORDS,
    REJECTS,
    SIDES,
    SOURCES,
    side_made_of,
    side_name,
    side_table,
)
from layers.journal.tables.side_row import SideRow

_ROWS = 20_000


def blocks(connection: Connection) -> Iterator[Fault]:
    """Compare the order of the blocks' times with that of their numbers."""
    last = 0
    question = sa.select(BLOCKS.c.first_seq, BLOCKS.c.recorded_at_us).order_by(BLOCKS.c.block)
    for first_seq, at_us in connection.execute(question):
        if at_us < last:
            yield Fault(first_seq, "was recorded before the one before it", "blocks")
            return
        last = at_us


def sides(
    connection: Connection, kinds: Mapping[str, Kind], counts: dict[str, int]
) -> Iterator[Fault]:
    """Compare each row of a side table with its record; count them."""
    made_of = {row.name: row.made_of for row in connection.execute(sa.select(SIDES))}
    for kind in kinds.values():
        name = side_name(kind)
        if not kind.columns or made_of.get(name) != side_made_of(kind):
            if name in made_of and not kind.columns:
                yield Fault(None, "is of no kind that there is", f"side table {name}")
            continue  # built for another version of the program; rebuilt when it opens for writing
        yield from first_few(_misfits(connection, kind, counts), f"table {name}")


def _misfits(connection: Connection, kind: Kind, counts: dict[str, int]) -> Iterator[Fault]:
    """Go along a side table and its records by their numbers, and give each row that differs."""
    name = side_name(kind)
    expected, stored = _expected(connection, kind), _stored(connection, kind)
    wanted, found = next(expected, None), next(stored, None)
    while wanted is not None or found is not None:
        seq = min(int(row[0]) for row in (wanted, found) if row is not None)
        mine = wanted if wanted is not None and wanted[0] == seq else None
        its = found if found is not None and found[0] == seq else None
        if mine != its:
            yield Fault(seq, "differs from its record", f"table {name}", digest_of(its))
        if mine is not None:
            wanted = next(expected, None)
        if its is not None:
            counts["side_rows"] += 1
            found = next(stored, None)


def _expected(connection: Connection, kind: Kind) -> Iterator[tuple[Any, ...]]:
    row_of, after = SideRow(kind), 0
    while part := connection.execute(
        RECORD_SELECT.where(RECORDS.c.kind == kind.name, RECORDS.c.seq > after)
        .order_by(RECORDS.c.seq)
        .limit(_ROWS)
    ).fetchall():
        for row in part:
            yield tuple(side_row_of(kind, row_of, row))
        after = part[-1].seq


def _stored(connection: Connection, kind: Kind) -> Iterator[tuple[Any, ...]]:
    table, after = side_table(kind), 0
    while part := connection.execute(
        sa.select(table).where(table.c.seq > after).order_by(table.c.seq).limit(_ROWS)
    ).fetchall():
        for row in part:
            yield tuple(row)
        after = part[-1].seq


def blobs(connection: Connection, counts: dict[str, int]) -> Iterator[Fault]:
    """Rehash every file that is kept, and look for those that records name."""
    held = set()
    for (digest,) in connection.execute(sa.select(BLOBS.c.digest)).fetchall():
        content = connection.execute(
            sa.select(BLOBS.c.content).where(BLOBS.c.digest == digest)
        ).scalar()
        counts["blobs"] += 1
        held.add(digest)
        if content is None or hashlib.sha256(content).hexdigest() != digest:
            seq, now = _first_naming(connection, digest), digest_of(content)
            yield Fault(seq, "does not fit its digest", f"kept file {digest[:12]}", now)


def _first_naming(connection: Connection, digest: str) -> int | None:
    question = sa.select(RECORDS.c.seq).where(RECORDS.c.payload.contains(digest))
    found = connection.execute(question.order_by(RECORDS.c.seq).limit(1)).scalar()
    return None if found is None else int(found)


def rejects(connection: Connection, counts: dict[str, int]) -> Iterator[Fault]:
    """Compare each reject with its key; count them, and look for gaps in their numbers."""
    last = 0
    sqlite = connection.dialect.name == "sqlite"  # the other leaves gaps where a batch was undone
    for row in connection.execute(sa.select(REJECTS).order_by(REJECTS.c.number)):
        counts["rejects"] += 1
        keyed = None if row.line is None else same_key(row.source, row.line, row.text, row.reason)
        if row.same != keyed or (sqlite and row.number != last + 1):
            yield Fault(None, "differs from its key, or one before it is gone",
                        f"reject {row.number}", digest_of(tuple(row)))  # fmt: skip
        last = row.number


def sources(connection: Connection) -> Iterator[Fault]:
    """Compare what is kept of each source with its records."""
    wanted = {row.source: tuple(row)[1:] for row in connection.execute(_SUMS)}
    found = {
        row.source: (row.records, row.last_heard_us, row.last_valid_us)
        for row in connection.execute(sa.select(SOURCES))
    }
    for source in sorted({*wanted, *found}):
        if tuple(wanted.get(source, ())) != found.get(source, ()):
            now = digest_of(found.get(source))
            yield Fault(None, "differs from its records", f"source {source}", now)


_SUMS = sa.select(
    RECORDS.c.source,
    sa.func.count(),
    sa.func.max(RECORDS.c.heard_at_us),
    sa.func.max(RECORDS.c.valid_at_us),
).group_by(RECORDS.c.source)


def rebuild_sources(connection: Connection) -> None:
    """Bring the sums by source to what the records say; whether it is a feed stays as it was."""
    by_feed = {
        row.source: bool(row.by_feed) for row in connection.execute(sa.select(SOURCES)).fetchall()
    }
    sums = connection.execute(_SUMS).fetchall()
    connection.execute(SOURCES.delete())
    for source, count, heard_us, valid_us in sums:
        told = {"records": count, "last_heard_us": heard_us, "last_valid_us": valid_us}
        feed = by_feed.get(source, False)
        connection.execute(SOURCES.insert().values(source=source, by_feed=feed, **told))


def database(connection: Connection) -> Iterator[Fault]:
    """Let the database check itself, where it can: pages, cells, and indexes against tables."""
    if connection.dialect.name != "sqlite":
        return
    for (told,) in connection.exec_driver_sql(f"PRAGMA integrity_check({MOST})").fetchall():
        if told != "ok":
            yield Fault(None, " ".join(str(told).split())[:200], "the database's own check")


def outside_digest(connection: Connection, rejects: int, before_us: int) -> str:
    """Return one digest of what no hash in the journal covers and nothing changes any more.

    Parameters
    ----------
    rejects : int
        Up to this number.
    before_us : int
        Files kept before this time.
    """
    whole = hashlib.sha256()
    question = sa.select(REJECTS).where(REJECTS.c.number <= rejects).order_by(REJECTS.c.number)
    for row in connection.execute(question):
        whole.update(json.dumps(list(row), ensure_ascii=False).encode())
    kept = sa.select(BLOBS.c.digest, BLOBS.c.recorded_at_us)
    kept = kept.where(BLOBS.c.recorded_at_us < before_us).order_by(BLOBS.c.digest)
    for row in connection.execute(kept):
        whole.update(json.dumps(list(row)).encode())
    return whole.hexdigest()
