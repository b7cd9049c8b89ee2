"""A copy opened again: its records, chain, rejects and files in a journal that is read as ever.

The records keep their numbers, times and authors, so that the chain's head is the one that stands
on the copy; what the program builds beside them is built anew.
"""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Mapping
from pathlib import Path

from layers.earth.clock import parse_time, to_us
from layers.earth.errors import ARCHIVE_DAMAGED, InputError
from layers.journal.integrity.chain import rebuild
from layers.journal.kinds import Kind
from layers.journal.store import Journal, open_journal
from layers.journal.tables.engine import writing
from layers.journal.tables.rows import insert_rows
from layers.journal.tables.schema import BLOBS, BLOCKS, JOURNAL, RECORDS, REJECTS

_ROWS = 20_000
_ACCEPTED = "a copy made on the log page, or by: python -m layers copy"


def reopen(copy: Path, into: Path, kinds: Mapping[str, Kind]) -> Journal:
    """Return a journal made of a copy, opened read-only.

    Parameters
    ----------
    copy : Path
        The zip file.
    into : Path
        The SQLite file that is made; refused when it is there.

    Raises
    ------
    InputError
        The copy is not one, or the place is taken.
    """
    if into.exists():
        raise InputError(f"{into} is there already", accepted="the name of a file to be made")
    try:
        with zipfile.ZipFile(copy) as packed:
            held = {name: packed.read(name) for name in packed.namelist()}
        name, exercise, created_us = json.loads(held["journal.json"])
    except ARCHIVE_DAMAGED:
        raise InputError(f"{copy} is no whole copy of a journal", accepted=_ACCEPTED) from None
    made = open_journal(into, kinds, name=str(name), exercise=bool(exercise))
    try:
        _fill(made, held, int(created_us))
        rebuild(made)
    finally:
        made.close()
    return open_journal(into, kinds, readonly=True)


def _fill(journal: Journal, held: Mapping[str, bytes], created_us: int) -> None:
    blocks = list(csv.DictReader(io.StringIO(held["blocks.csv"].decode())))
    ends = [(int(row["block"]), int(row["last"])) for row in blocks]
    with writing(journal.engine, journal.place) as connection:
        connection.execute(JOURNAL.update().values(created_us=created_us, clock_kept_us=created_us))
        rows, times, at = [], {}, 0
        for line in held["records.jsonl"].splitlines():
            told = json.loads(line)
            while told[0] > ends[at][1]:
                at += 1
            rows.append((told[0], ends[at][0], *told[1:]))
            times[ends[at][0]] = told[6]
            if len(rows) >= _ROWS:
                insert_rows(connection, RECORDS, rows)
                rows = []
        insert_rows(connection, RECORDS, rows)
        insert_rows(
            connection,
            BLOCKS,
            [
                (int(row["block"]), int(row["first"]), int(row["last"]),
                 times[int(row["block"])], row["hash"])
                for row in blocks
            ],
        )  # fmt: skip
        for row in _rejects(held.get("rejects.csv", b"")):
            connection.execute(REJECTS.insert().values(**row))
        for name, content in held.items():
            if name.startswith("blobs/"):
                connection.execute(
                    BLOBS.insert().values(
                        digest=name.removeprefix("blobs/"), content=content, recorded_at_us=0
                    )
                )


def _rejects(content: bytes) -> list[dict[str, object]]:
    rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))
    while rows and len(rows[0]) == 1:  # the stamp
        rows.pop(0)
    heads, told = (rows[0], rows[1:]) if rows else ([], [])
    return [
        {
            "number": int(row["number"]),
            "recorded_at_us": to_us(parse_time(row["kept at (UTC)"], "rejects.csv")),
            "source": row["source"],
            "line": int(row["line"]) if row["line"] else None,
            "text": row["text"],
            "reason": row["reason"],
            "same": row["key"] or None,
        }
        for row in (dict(zip(heads, each, strict=True)) for each in told)
    ]
