"""The names that a database holds, for telling apart those that look alike: read once each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any
from weakref import WeakKeyDictionary

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from layers.journal.kinds import Kind
from layers.journal.shelf import RECORD_SELECT, as_stored, last_seq_of
from layers.journal.tables.schema import RECORDS, side_table
from layers.journal.words.apart import LONGEST, NAMING, NUMBERED, NamesSaid

_HELD: WeakKeyDictionary[Engine, NamesSaid] = WeakKeyDictionary()


def names_held(engine: Engine) -> NamesSaid:
    """Return the names that were read from a database, as far as they were."""
    return _HELD.setdefault(engine, NamesSaid())


def read_names(connection: Connection, kinds: Mapping[str, Kind], upto_seq: int) -> NamesSaid:
    """Return the names recorded up to a place, those read that came since.

    Of kinds that come in bulk each name is read once with the first record that says it.
    """
    held = names_held(connection.engine)
    with held.lock:
        if held.upto_seq >= upto_seq:
            return held
        last = last_seq_of(connection, None, upto_seq)
        few = [name for name, kind in kinds.items() if not kind.columns]
        question = (
            RECORD_SELECT.where(RECORDS.c.kind.in_((*few, "journal.correct")))
            .where(RECORDS.c.seq > held.upto_seq)
            .where(RECORDS.c.seq <= last)
            .order_by(RECORDS.c.seq)
        )
        for row in connection.execute(question):
            held.note_record(as_stored(row))
        for kind in kinds.values():
            for column in kind.columns:
                if column.name in NAMING - {NUMBERED}:
                    for seq, id_, name in _first_said(
                        connection, kind, column.name, held.upto_seq, last
                    ):
                        if name and len(name) <= LONGEST:
                            held.note(name, seq, id_, bulk=True)
        held.upto_seq = last
    return held


def _first_said(
    connection: Connection, kind: Kind, column: str, after_seq: int, upto_seq: int
) -> Iterable[Any]:
    table = side_table(kind)
    told = table.c[f"f_{column}"]
    first = (
        sa.select(sa.func.min(table.c.seq))
        .where(table.c.seq > after_seq)
        .where(table.c.seq <= upto_seq)
        .group_by(told)
    )
    asked = sa.select(table.c.seq, table.c.id, told).where(table.c.seq.in_(first))
    return connection.execute(asked.order_by(table.c.seq)).all()
