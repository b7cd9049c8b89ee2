"""The parts of a copy that are read without the program: tables with plain heads, files, an index.

Beside records.jsonl, which is what was hashed, the same records stand in log.csv for people, with
their times in ISO 8601, UTC; what could not be read is in rejects.csv, every file and grid that a
record rests on in blobs/ under its SHA-256.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.earth.clock import from_us
from layers.journal.kinds import OPINIONS, Kind
from layers.journal.shelf import RECORD_SELECT
from layers.journal.signature import read_signature
from layers.journal.tables.schema import BLOBS, RECORDS, REJECTS
from layers.journal.words.payloads import payload_words

LOG_HEADS = (
    "number", "kind", "what it is", "true at (UTC)", "heard at (UTC)", "recorded at (UTC)",
    "source", "author", "room", "server", "says", "about record", "payload (JSON)", "id",
)  # fmt: skip
REJECT_HEADS = ("number", "kept at (UTC)", "source", "line", "text", "reason", "key")
INDEX = (
    ("log.csv", "every record, one a row, for people; units stand in the words"),
    ("records.jsonl", "every record byte for byte as it was hashed"),
    ("blocks.csv", "the chain: first and last record of each block, its SHA-256"),
    ("rejects.csv", "every line that could not be read, with the reason"),
    ("blobs/", "files and grids that records rest on, each named by its SHA-256"),
    ("check.py", "checks the chain and the blobs; python3 alone is needed"),
)
_ROWS = 20_000


def iso(us: int) -> str:
    """Return a time as it is read everywhere: ``2027-03-16T06:40:00.000000Z``."""
    return from_us(us).isoformat(timespec="microseconds").replace("+00:00", "Z")


def log_csv(
    connection: Connection, last: int, kinds: Mapping[str, Kind], said: Sequence[str]
) -> bytes:
    """Return every record up to a place as CSV, the stamp in its first rows.

    Parameters
    ----------
    said : sequence of str
        The stamp that stands on every export; each is a row that begins with ``#``.
    """
    titles = {name: kind.title for name, kind in kinds.items()}
    titles |= {kind.name: kind.title for kind in OPINIONS}
    numbers: dict[str, int] = {}
    return _csv(LOG_HEADS, _log_rows(connection, last, titles, numbers), said)


def _log_rows(
    connection: Connection, last: int, titles: Mapping[str, str], numbers: dict[str, int]
) -> Iterator[tuple[object, ...]]:
    after = 0
    while part := connection.execute(
        RECORD_SELECT.where(RECORDS.c.seq > after, RECORDS.c.seq <= last)
        .order_by(RECORDS.c.seq)
        .limit(_ROWS)
    ).fetchall():
        for row in part:
            payload: dict[str, Any] = json.loads(row.payload)
            who = read_signature(row.author)
            numbers[row.id] = row.seq
            about = numbers.get(str(payload.get("target") or payload.get("replaces") or ""), "")
            yield (
                row.seq, row.kind, titles.get(row.kind, row.kind), iso(row.valid_at_us),
                iso(row.heard_at_us), iso(row.recorded_at_us), row.source, who.name, who.room,
                who.server, payload_words(payload), about, row.payload, row.id,
            )  # fmt: skip
        after = part[-1].seq


def rejects_csv(connection: Connection, said: Sequence[str]) -> bytes:
    """Return every line that could not be read as CSV."""
    rows = (
        (row.number, iso(row.recorded_at_us), row.source, row.line, row.text, row.reason, row.same)
        for row in connection.execute(sa.select(REJECTS).order_by(REJECTS.c.number))
    )
    return _csv(REJECT_HEADS, rows, said)


def blobs(connection: Connection) -> Iterator[tuple[str, bytes]]:
    """Give the name in the copy and the content of each file and grid."""
    digests = connection.execute(sa.select(BLOBS.c.digest).order_by(BLOBS.c.digest)).scalars().all()
    for digest in digests:
        content = connection.execute(
            sa.select(BLOBS.c.content).where(BLOBS.c.digest == digest)
        ).scalar_one()
        yield f"blobs/{digest}", bytes(content)


def index_csv() -> bytes:
    """Return what each file of a copy holds."""
    return _csv(("file", "holds"), INDEX, ())


def _csv(heads: Sequence[str], rows: Iterable[Sequence[object]], said: Sequence[str]) -> bytes:
    out = io.StringIO()
    table = csv.writer(out)
    table.writerows([f"# {line}"] for line in said)
    table.writerow(heads)
    table.writerows(rows)
    return out.getvalue().encode("utf-8-sig")
