"""Writing and finding many rows at once, by each database's own quickest way."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.journal.tables.schema import RECORDS

COPY_FROM = 200  # rows; below it a plain insert is as quick
ASK_AT_ONCE = 5_000


def insert_rows(connection: Connection, table: sa.Table, rows: Sequence[tuple[Any, ...]]) -> None:
    """Insert rows given as tuples in the order of the table's columns."""
    if not rows:
        return
    if connection.dialect.name == "postgresql" and len(rows) >= COPY_FROM:
        raw = connection.connection.driver_connection
        assert raw is not None
        with raw.cursor() as cursor, cursor.copy(_copy_text(table)) as copy:
            for row in rows:
                copy.write_row(row)
        return
    connection.exec_driver_sql(_insert_text(table, connection.dialect.name), list(rows))


@lru_cache(maxsize=64)
def _insert_text(table: sa.Table, dialect: str) -> str:
    mark = "%s" if dialect == "postgresql" else "?"
    marks = ", ".join([mark] * len(table.columns))
    return f"INSERT INTO {table.name} ({_names(table)}) VALUES ({marks})"  # nosec B608 - own names


@lru_cache(maxsize=64)
def _copy_text(table: sa.Table) -> str:
    return f"COPY {table.name} ({_names(table)}) FROM STDIN"


def _names(table: sa.Table) -> str:
    return ", ".join(f'"{column.name}"' for column in table.columns)


def known_ids(connection: Connection, ids: Sequence[str]) -> set[str]:
    """Return those of the ids that the journal already holds."""
    held: set[str] = set()
    for start in range(0, len(ids), ASK_AT_ONCE):
        part = list(ids[start : start + ASK_AT_ONCE])
        if connection.dialect.name == "postgresql":
            found = connection.exec_driver_sql("SELECT id FROM records WHERE id = ANY(%s)", (part,))
        elif len(part) < 900:
            found = connection.execute(sa.select(RECORDS.c.id).where(RECORDS.c.id.in_(part)))
        else:
            marks = ",".join("?" * len(part))
            found = connection.exec_driver_sql(
                f"SELECT id FROM records WHERE id IN ({marks})",  # nosec B608 - question marks only
                tuple(part),
            )
        held.update(found.scalars())
    return held
