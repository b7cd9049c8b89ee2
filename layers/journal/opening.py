"""Opening a journal: made where there is none, an older schema brought forwards."""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import URL, Connection, Engine

from layers.earth.errors import JournalError
from layers.journal.kinds import Kind
from layers.journal.shelf import RECORD_SELECT
from layers.journal.tables.engine import (
    make_engine,
    parse_url,
    plain_faults,
    reading,
    url_words,
    writable_folder,
    writing,
)
from layers.journal.tables.rows import insert_rows
from layers.journal.tables.schema import (
    JOURNAL,
    METADATA,
    RECORDS,
    SCHEMAS,
    SIDES,
    side_columns,
    side_made_of,
    side_name,
    side_table,
)
from layers.journal.tables.side_row import SideRow

_REBUILD_ROWS = 20_000
_VERSION = sa.Table("alembic_version", sa.MetaData(), sa.Column("version_num", sa.String(32)))


def opened_engine(
    url: str | Path,
    kinds: Mapping[str, Kind],
    *,
    create: bool,
    readonly: bool,
    name: str,
    exercise: bool,
    now_us: int,
    busy_s: float,
) -> tuple[Engine, str]:
    """Return the engine of a journal that is there and of this schema, and its place.

    Raises
    ------
    JournalError
        It cannot be opened or made; or a newer program made it.
    """
    parsed = parse_url(url)
    place = url_words(parsed)
    sqlite = parsed.get_backend_name() == "sqlite"
    if sqlite:
        _check_file(Path(str(parsed.database)), place, create, readonly)
    engine = make_engine(parsed, readonly=readonly, busy_s=busy_s)
    try:
        schema = _schema(engine, place)
        if schema is None:
            if not create:
                raise JournalError(f"the {place} is empty; there is no journal in it yet")
            _make(engine, place, name, exercise, now_us)
        elif schema != SCHEMAS[-1]:
            _bring_forwards(engine, parsed, place, schema, readonly)
        if not readonly:
            _set_up_sides(engine, place, kinds)
    except BaseException:
        engine.dispose()
        raise
    return engine, place


def _check_file(path: Path, place: str, create: bool, readonly: bool) -> None:
    if path.is_dir():
        raise JournalError(f"the {place} cannot be opened: it is a folder, not a file")
    if path.exists():
        if not readonly and not (os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)):
            raise JournalError(f"the {place} can only be read: the file or its disk is read-only")
        return
    if not create:
        raise JournalError(f"the {place} is not there")
    writable_folder(path)
    with plain_faults(place), contextlib.suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL, 0o600))  # what goes with it is made alike


def _schema(engine: Engine, place: str) -> str | None:
    """Return the schema a database holds, None for an empty one."""
    with reading(engine, place) as connection:
        names = set(sa.inspect(connection).get_table_names())
        if "alembic_version" in names:
            found = connection.execute(sa.select(_VERSION.c.version_num)).scalar()
            if found is not None:
                return str(found)
    if names - {"alembic_version"}:
        raise JournalError(f"the {place} is not a journal: it holds other tables")
    return None


def _make(engine: Engine, place: str, name: str, exercise: bool, now_us: int) -> None:
    if engine.dialect.name == "sqlite":
        with plain_faults(place), engine.connect() as connection:
            raw = connection.connection.driver_connection
            assert raw is not None
            raw.execute("PRAGMA journal_mode=WAL")
    with writing(engine, place) as connection:
        if sa.inspect(connection).has_table("journal"):
            return  # another program made it while this one waited for the lock
        METADATA.create_all(connection)
        _VERSION.metadata.create_all(connection)
        connection.execute(_VERSION.insert().values(version_num=SCHEMAS[-1]))
        connection.execute(
            JOURNAL.insert().values(
                one=1,
                name=name,
                exercise=exercise,
                created_us=now_us,
                clock_offset_us=0,
                clock_kept_us=now_us,
            )
        )


def _bring_forwards(engine: Engine, url: URL, place: str, schema: str, readonly: bool) -> None:
    if schema not in SCHEMAS:
        raise JournalError(
            f"the {place} was made by a newer version of this program (schema {schema}, this "
            f"one knows up to {SCHEMAS[-1]}); start the newer version, or name another journal"
        )
    if readonly:
        raise JournalError(
            f"the {place} is of an older version (schema {schema}) and was opened for reading; "
            "start the program once, so that it is brought forwards"
        )
    from layers.journal.forwards import bring_forwards  # Alembic loads slowly, and rarely is needed

    bring_forwards(engine, url, place, schema)


def _set_up_sides(engine: Engine, place: str, kinds: Mapping[str, Kind]) -> None:
    """Make the side tables that are missing, and build anew those made for other columns."""
    wanted = {side_name(kind): kind for kind in kinds.values() if kind.columns}
    with reading(engine, place) as connection:
        held = {row.name: row.made_of for row in connection.execute(sa.select(SIDES))}
    if all(held.get(name) == side_made_of(kind) for name, kind in wanted.items()):
        return
    with writing(engine, place) as connection:
        held = {row.name: row.made_of for row in connection.execute(sa.select(SIDES))}
        for name, kind in wanted.items():
            if held.get(name) == side_columns(kind) and kind.by:
                _index_side(connection, kind)
            elif held.get(name) != side_made_of(kind):
                rebuild_side(connection, kind)


def _index_side(connection: Connection, kind: Kind) -> None:
    """Give a side table of the right columns its index; its rows can stay."""
    for index in side_table(kind).indexes:
        index.create(connection, checkfirst=True)
    connection.execute(
        SIDES.update().where(SIDES.c.name == side_name(kind)).values(made_of=side_made_of(kind))
    )


def rebuild_side(connection: Connection, kind: Kind) -> None:
    """Build a kind's side table anew from its records."""
    table = side_table(kind)
    table.drop(connection, checkfirst=True)
    table.create(connection)
    connection.execute(SIDES.delete().where(SIDES.c.name == side_name(kind)))
    connection.execute(SIDES.insert().values(name=side_name(kind), made_of=side_made_of(kind)))
    side_row, after = SideRow(kind), 0
    while rows := connection.execute(
        RECORD_SELECT.where(RECORDS.c.kind == kind.name, RECORDS.c.seq > after)
        .order_by(RECORDS.c.seq)
        .limit(_REBUILD_ROWS)
    ).fetchall():
        insert_rows(connection, table, [side_row_of(kind, side_row, row) for row in rows])
        after = rows[-1].seq


def side_row_of(kind: Kind, side_row: SideRow, row: Any) -> tuple[object, ...]:
    """Return what a record's row in its side table is."""
    payload = json.loads(row.payload)
    if row.version < kind.version and kind.upgrade is not None:
        payload = kind.upgrade(row.version, payload)
    fixed = (row.seq, row.id, row.source, row.valid_at_us, row.heard_at_us)
    return side_row(payload, fixed)
