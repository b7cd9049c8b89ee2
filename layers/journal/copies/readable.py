"""The parts of a copy that are read without the program: tables with plain heads, files, an index.

Beside records.jsonl, which is what was hashed, the same records stand in log.csv for people, with
their times in ISO 8601, UTC, in log.json for other programs, and in a table for each sort; what
could not be read is in rejects.csv, every file and grid that a record rests on in blobs/ under
its SHA-256.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.earth.clock import from_us
from layers.journal.kinds import OPINIONS, Kind
from layers.journal.shelf import RECORD_SELECT
from layers.journal.signature import Signature, read_signature
from layers.journal.tables.schema import BLOBS, RECORDS, REJECTS
from layers.journal.words.fields import unit_of
from layers.journal.words.payloads import payload_words

LOG_HEADS = (
    "number", "kind", "what it is", "true at (UTC)", "heard at (UTC)", "recorded at (UTC)",
    "source", "author", "room", "server", "says", "about record", "payload (JSON)", "id",
)  # fmt: skip
TABLE_HEADS = (
    "number", "true at (UTC)", "heard at (UTC)", "recorded at (UTC)", "source", "author", "room",
)  # fmt: skip
REJECT_HEADS = ("number", "kept at (UTC)", "source", "line", "text", "reason", "key")
INDEX = (
    ("log.csv", "every record, one a row, for people; units stand in the words"),
    ("log.json", "the same as plain JSON: each thing told under its name, with its unit"),
    ("tables/", "a table for each sort of record, a column for each thing told, units in heads"),
    ("tables/watch.look.csv", "who looked through which release, when; where anybody did"),
    ("tables/watch.export.csv", "which exports were made, to whom they may go"),
    ("tables/watch.told_outside.csv", "what was told to people outside"),
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


@dataclass(frozen=True, slots=True)
class PlainRecord:
    """A record as it is read without the program; ``about`` is the number of the one it names."""

    row: Any
    title: str
    who: Signature
    payload: dict[str, Any]
    about: int | None


def told(connection: Connection, last: int, kinds: Mapping[str, Kind]) -> Iterator[PlainRecord]:
    """Give every record up to a place, in its order."""
    titles = {name: kind.title for name, kind in kinds.items()}
    titles |= {kind.name: kind.title for kind in OPINIONS}
    numbers: dict[str, int] = {}
    after = 0
    while part := connection.execute(
        RECORD_SELECT.where(RECORDS.c.seq > after, RECORDS.c.seq <= last)
        .order_by(RECORDS.c.seq)
        .limit(_ROWS)
    ).fetchall():
        for row in part:
            payload: dict[str, Any] = json.loads(row.payload)
            numbers[row.id] = row.seq
            about = numbers.get(str(payload.get("target") or payload.get("replaces") or ""))
            title = titles.get(row.kind, row.kind)
            yield PlainRecord(row, title, read_signature(row.author), payload, about)
        after = part[-1].seq


def log_csv(records: Iterable[PlainRecord], said: Sequence[str]) -> bytes:
    """Return records as CSV, the stamp in its first rows.

    Parameters
    ----------
    said : sequence of str
        The stamp that stands on every export; each is a row that begins with ``#``.
    """
    rows = (
        (
            row.seq, row.kind, one.title, *_times(row), row.source, one.who.name, one.who.room,
            one.who.server, payload_words(one.payload), "" if one.about is None else one.about,
            row.payload, row.id,
        )
        for one in records
        for row in (one.row,)
    )  # fmt: skip
    return _csv(LOG_HEADS, rows, said)


def log_json(records: Iterable[PlainRecord], said: Sequence[str]) -> bytes:
    """Return records as plain JSON: no text within a text, times in ISO, a record a line."""
    lines = []
    for one in records:
        true_at, heard_at, recorded_at = _times(one.row)
        lines.append(json.dumps({
            "number": one.row.seq, "kind": one.row.kind, "what_it_is": one.title,
            "true_at": true_at, "heard_at": heard_at, "recorded_at": recorded_at,
            "source": one.row.source, "author": one.who.name, "room": one.who.room,
            "server": one.who.server, "about_record": one.about,
            "says": {_head(name): value for name, value in one.payload.items()},
            "id": one.row.id,
        }, ensure_ascii=False))  # fmt: skip
    stamp = json.dumps(list(said), ensure_ascii=False)
    inner = ",\n".join(lines)
    return f'{{"stamp": {stamp},\n"records": [\n{inner}\n]}}\n'.encode()


def tables(records: Iterable[PlainRecord], said: Sequence[str]) -> Iterator[tuple[str, bytes]]:
    """Give a table for each sort of record, a column for each thing told, its unit in the head."""
    sorts: dict[str, list[PlainRecord]] = {}
    for one in records:
        sorts.setdefault(one.row.kind, []).append(one)
    for kind, of_it in sorted(sorts.items()):
        names = list(dict.fromkeys(name for one in of_it for name in one.payload))
        rows = (
            (one.row.seq, *_times(one.row), one.row.source, one.who.name, one.who.room,
             *(_cell(one.payload.get(name)) for name in names))
            for one in of_it
        )  # fmt: skip
        yield f"tables/{kind}.csv", _csv((*TABLE_HEADS, *map(_head, names)), rows, said)


def _times(row: Any) -> tuple[str, str, str]:
    return iso(row.valid_at_us), iso(row.heard_at_us), iso(row.recorded_at_us)


def _head(name: str) -> str:
    """Return a field's name as it is kept, with its unit: the value is told in that."""
    unit = unit_of(name)
    return f"{name} ({unit})" if unit else name


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    return value if isinstance(value, str | int | float) else json.dumps(value, ensure_ascii=False)


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
