"""A copy of the journal to hand out: every record, the chain, and a check that anyone can run."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Sequence
from pathlib import Path

import sqlalchemy as sa

from layers.journal.copies import copy_check
from layers.journal.copies.readable import (
    blobs,
    index_csv,
    log_csv,
    log_json,
    rejects_csv,
    tables,
    told,
)
from layers.journal.integrity.chain import rests_on_about
from layers.journal.record import columns_bytes
from layers.journal.shelf import RECORD_SELECT
from layers.journal.store import Journal
from layers.journal.tables.engine import reading
from layers.journal.tables.head import about_bytes
from layers.journal.tables.schema import BLOCKS, RECORDS

EPOCH = (1980, 1, 1, 0, 0, 0)  # a zip's first date: the same journal gives the same bytes
_ROWS = 20_000
HOW = (
    "Check it: python3 check.py",
    "A line of records.jsonl is [number, id, kind, version, true at, heard at, recorded at "
    "(microseconds since 1970, UTC), source, author, what it says]; log.csv and "
    "log.json hold the same to be read, tables/ a table for each sort; index.csv says what each "
    "file is.",
    "Open it again: python -m layers copy --open THIS.zip --into FILE.sqlite",
)


def copy_zip(journal: Journal, said: Sequence[str]) -> bytes:
    """Return the journal whole as a zip file: records, chain, rejects, blobs, check and a note.

    Parameters
    ----------
    journal : Journal
        For reading; what is recorded meanwhile is not in the copy.
    said : sequence of str
        The lines that stand on every export: exercise, time, for whom, head.
    """
    blocks = io.StringIO()
    rows = csv.writer(blocks)
    rows.writerow(("block", "first", "last", "hash"))
    records = io.BytesIO()
    parts: list[tuple[str, bytes]] = []
    with reading(journal.engine, journal.place) as connection:
        about = about_bytes(connection) if rests_on_about(connection) else b""
        last = 0
        for block in connection.execute(sa.select(BLOCKS).order_by(BLOCKS.c.block)).fetchall():
            rows.writerow((block.block, block.first_seq, block.last_seq, block.hash))
            last = block.last_seq
        after = 0
        while part := connection.execute(
            RECORD_SELECT.where(RECORDS.c.seq > after, RECORDS.c.seq <= last)
            .order_by(RECORDS.c.seq)
            .limit(_ROWS)
        ).fetchall():
            records.writelines(columns_bytes(row) + b"\n" for row in part)
            after = part[-1].seq
        parts += [
            ("log.csv", log_csv(told(connection, last, journal.kinds), said)),
            ("log.json", log_json(told(connection, last, journal.kinds), said)),
            *tables(told(connection, last, journal.kinds), said),
            ("rejects.csv", rejects_csv(connection, said)),
            ("index.csv", index_csv()),
            *blobs(connection),
        ]
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in (
            ("READ ME.txt", "\n".join((*said, *HOW, "")).encode()),
            ("records.jsonl", records.getvalue()),
            ("blocks.csv", blocks.getvalue().encode()),
            *((("journal.json", about),) if about else ()),
            ("check.py", Path(copy_check.__file__).read_bytes()),
            *parts,
        ):
            packed.writestr(zipfile.ZipInfo(name, EPOCH), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()
