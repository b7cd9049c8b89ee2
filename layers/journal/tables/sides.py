"""Reading a bulk kind's narrow side table as arrays."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.earth.arrays import Array
from layers.journal.kinds import Kind
from layers.journal.listed import column_array
from layers.journal.tables.schema import side_table

FIXED = ("seq", "id", "source", "valid_at_us", "heard_at_us")
PART = 4_000  # rows that are held as objects at once: they take some ten times an array's room


def read_side(
    connection: Connection, kind: Kind, after_seq: int, upto_seq: int
) -> dict[str, Array]:
    """Return rows ``after_seq < seq <= upto_seq`` of a kind's side table as arrays."""
    return read_selected(
        connection,
        kind,
        where=lambda question, side: question.where(side.c.seq > after_seq, side.c.seq <= upto_seq),
    )


def read_selected(
    connection: Connection,
    kind: Kind,
    of: Callable[[sa.Table], sa.FromClause] = lambda side: side,
    where: Callable[[sa.Select[Any], sa.Table], sa.Select[Any]] = lambda question, _: question,
) -> dict[str, Array]:
    """Return rows of a kind's side table, joined and cut as asked, in order of seq."""
    table = side_table(kind)
    question = sa.select(
        *(table.c[name] for name in FIXED), *(table.c[f"f_{c.name}"] for c in kind.columns)
    ).select_from(of(table))
    told = connection.execute(where(question, table).order_by(table.c.seq))
    known: dict[str, str] = {}
    parts = [_arrays(kind, rows, known) for rows in told.partitions(PART)] or [
        _arrays(kind, (), known)
    ]
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _arrays(kind: Kind, rows: Sequence[Sequence[Any]], known: dict[str, str]) -> dict[str, Array]:
    """Return rows as arrays; a text that was met before is the same object again."""
    turned: Sequence[Sequence[Any]] = (
        list(zip(*rows, strict=True)) if rows else [()] * (len(FIXED) + len(kind.columns))
    )
    columns: dict[str, Array] = {}
    for name, values in zip(FIXED, turned[: len(FIXED)], strict=True):
        if name == "source":
            values = [known.setdefault(text, text) for text in values]
        texts = name in ("id", "source")
        columns[name] = np.array(values, dtype=object if texts else np.int64)
    for column, values in zip(kind.columns, turned[len(FIXED) :], strict=True):
        if column.sql == "TEXT":
            values = [known.setdefault(text, text) for text in values]
        columns[column.name] = column_array(list(values), column.sql)
    return columns


def join_columns(first: dict[str, Array], second: dict[str, Array]) -> dict[str, Array]:
    """Return the rows of one set of arrays followed by those of another."""
    return {name: np.concatenate((first[name], second[name])) for name in first}


def cut_columns(columns: dict[str, Array], upto_seq: int) -> dict[str, Array]:
    """Return the rows with ``seq <= upto_seq`` as read-only views."""
    rows = int(np.searchsorted(columns["seq"], upto_seq, side="right"))
    cut = {name: values[:rows] for name, values in columns.items()}
    for values in cut.values():
        values.flags.writeable = False
    return cut
