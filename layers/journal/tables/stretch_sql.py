"""The cuts of `layers.journal.tables.stretch` in SQL: steps down an index, whatever the length."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.journal.kinds import Kind
from layers.journal.tables.schema import BLOCKS, Big, side_table
from layers.journal.tables.sides import read_selected
from layers.journal.tables.stretch import Asked, Columns

_ASKED = {
    "sqlite": """
        SELECT json_extract(value, '$[0]') AS whose, json_extract(value, '$[1]') AS first_us,
            json_extract(value, '$[2]') AS last_us
        FROM json_each(:asked)""",
    "postgresql": """
        SELECT value->>0 AS whose, CAST(value->>1 AS bigint) AS first_us,
            CAST(value->>2 AS bigint) AS last_us
        FROM json_array_elements(CAST(:asked AS json))""",
}


_NUMBERS = {
    "sqlite": "SELECT value AS number FROM json_each(:asked)",
    "postgresql": """
        SELECT CAST(value AS bigint) AS number
        FROM json_array_elements_text(CAST(:asked AS json))""",
}


def read_latest(
    connection: Connection,
    kind: Kind,
    upto_seq: int,
    last_us: int,
    having: str = "",
    without: Collection[int] = (),
) -> Columns:
    """Return the last row of each value of ``kind.by``, in order of the value.

    From value to value by one step down the index each, so the cost is that of the values.
    """
    table = side_table(kind)
    names = _values(table.c[f"f_{kind.by}"])
    mine = table.alias("mine")
    last = (
        _standing(sa.select(mine.c.seq), mine, upto_seq, without)
        .where(mine.c[f"f_{kind.by}"] == names.c.whose, mine.c.valid_at_us <= last_us)
        .order_by(mine.c.valid_at_us.desc(), mine.c.seq.desc())
        .limit(1)
    )
    if having:
        column = mine.c[f"f_{having}"]
        last = last.where(column.is_not(None))
        if isinstance(column.type, sa.Text):
            last = last.where(column != "")
    question = sa.select(last.correlate(names).scalar_subquery()).where(names.c.whose != "")
    seqs = [seq for seq in connection.execute(question).scalars() if seq is not None]
    found = _rows(connection, kind, seqs)
    order = sorted(range(len(found["seq"])), key=found[kind.by].tolist().__getitem__)
    return {name: values[order] for name, values in found.items()}


def _values(column: sa.ColumnElement[str]) -> sa.CTE:
    """Return the different values of an indexed column, each found from the one before."""
    first = sa.select(sa.select(sa.func.min(column)).scalar_subquery().label("whose"))
    names = first.cte("names", recursive=True)
    following = sa.select(sa.func.min(column)).where(column > names.c.whose).correlate(names)
    return names.union_all(sa.select(following.scalar_subquery()).where(names.c.whose.is_not(None)))


def read_stretches(
    connection: Connection,
    kind: Kind,
    upto_seq: int,
    asked: Asked,
    most: int,
    without: Collection[int] = (),
) -> Columns:
    """Return, of each value asked for, the rows of its stretch and the one before, by seq."""
    starts = _starts(connection, kind, upto_seq, asked, most, without)
    wanted = _asked(connection, starts)

    side = side_table(kind).alias("side")
    question = _standing(sa.select(side.c.seq), side, upto_seq, without).where(
        side.c[f"f_{kind.by}"] == wanted.c.whose,
        side.c.valid_at_us >= wanted.c.first_us,
        side.c.valid_at_us <= wanted.c.last_us,
    )
    if connection.dialect.name == "postgresql":
        # Its planner takes a hundred stretches for half the table; this walks the index for each.
        each = question.order_by(side.c.valid_at_us).correlate(wanted).lateral("each")
        question = sa.select(each.c.seq).select_from(wanted.join(each, sa.true()))
    return _rows(connection, kind, connection.execute(question).scalars().all())


def _rows(connection: Connection, kind: Kind, seqs: Sequence[int]) -> Columns:
    """Return these rows in order of seq.

    What is found by the index lies scattered; asked for in its own order a page is read once.
    """
    rows = sa.text(_NUMBERS[connection.dialect.name]).bindparams(asked=json.dumps(sorted(seqs)))
    wanted = rows.columns(number=Big).cte("numbers")
    return read_selected(
        connection, kind, lambda side: wanted.join(side, wanted.c.number == side.c.seq)
    )


def _starts(
    connection: Connection,
    kind: Kind,
    upto_seq: int,
    asked: Asked,
    most: int,
    without: Collection[int],
) -> list[list[Any]]:
    """Return value, first and last time of each stretch, moved to the row before or the limit."""
    wanted = _asked(connection, [[who, *times] for who, times in asked.items()])
    side = side_table(kind).alias("side")
    mine = (
        _standing(sa.select(side.c.valid_at_us), side, upto_seq, without)
        .where(side.c[f"f_{kind.by}"] == wanted.c.whose)
        .where(side.c.valid_at_us <= wanted.c.last_us)
        .order_by(side.c.valid_at_us.desc(), side.c.seq.desc())
        .limit(1)
    )
    before = mine.where(side.c.valid_at_us < wanted.c.first_us)
    limit = mine.where(side.c.valid_at_us >= wanted.c.first_us).offset(most - 1)
    question = sa.select(
        wanted.c.whose,
        wanted.c.first_us,
        wanted.c.last_us,
        before.correlate(wanted).scalar_subquery(),
        limit.correlate(wanted).scalar_subquery(),
    )
    return [
        [who, int(next(t for t in (limited, earlier, first_us) if t is not None)), int(last_us)]
        for who, first_us, last_us, earlier, limited in connection.execute(question)
    ]


def _asked(connection: Connection, rows: Sequence[Sequence[Any]]) -> sa.CTE:
    """Return what is asked for as a table; one value holds it all, so there is no limit to it."""
    text = sa.text(_ASKED[connection.dialect.name]).bindparams(asked=json.dumps(list(rows)))
    return text.columns(whose=sa.Text(), first_us=Big, last_us=Big).cte("asked")


def _standing(
    question: sa.Select[Any], side: sa.FromClause, upto_seq: int, without: Collection[int]
) -> sa.Select[Any]:
    question = question.where(side.c.seq <= upto_seq)
    if without:
        # Written out, not bound: a database takes only so many values.
        seqs: sa.BindParameter[Any] = sa.bindparam(
            "without", sorted(without), expanding=True, literal_execute=True
        )
        question = question.where(side.c.seq.not_in(seqs))
    return question


def count_heard(connection: Connection, kind: Kind, after_us: int, upto_seq: int) -> int:
    """Return how many rows were heard after a time.

    Nothing is heard after it was recorded, so only what was recorded since is looked at.
    """
    table = side_table(kind)
    before = connection.execute(
        sa.select(BLOCKS.c.last_seq)
        .where(BLOCKS.c.recorded_at_us <= after_us)
        .order_by(BLOCKS.c.recorded_at_us.desc(), BLOCKS.c.last_seq.desc())
        .limit(1)
    ).scalar()
    question = (
        sa.select(sa.func.count())
        .select_from(table)
        .where(table.c.seq > int(before or 0), table.c.seq <= upto_seq)
        .where(table.c.heard_at_us > after_us)
    )
    return int(connection.execute(question).scalar_one())
