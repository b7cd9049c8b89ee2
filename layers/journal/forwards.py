"""Bringing an older journal forwards with Alembic, after a copy is kept."""

from __future__ import annotations

import logging
from pathlib import Path

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from sqlalchemy.engine import URL, Connection, Engine

from layers.journal.tables.engine import plain_faults, writing
from layers.journal.tables.schema import SCHEMAS

log = logging.getLogger(__name__)

MIGRATIONS = Path(__file__).parent / "migrations"


def bring_forwards(engine: Engine, url: URL, place: str, schema: str) -> None:
    """Bring a journal from an older schema to this program's, in one transaction.

    Raises
    ------
    JournalError
        The copy or the change could not be made; the journal is as it was.
    """
    if url.get_backend_name() == "sqlite":
        kept = keep_copy(engine, Path(str(url.database)), place, schema)
        log.info("kept a copy of the %s as %s", place, kept)
    with writing(engine, place) as connection:
        if url.get_backend_name() != "sqlite":
            keep_tables(connection, schema)
        run(connection, SCHEMAS[-1])


def run(connection: Connection, revision: str) -> None:
    """Run Alembic's migrations up to a revision on a connection."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.attributes["connection"] = connection
    command.upgrade(config, revision)


def keep_copy(engine: Engine, path: Path, place: str, schema: str) -> Path:
    """Copy an SQLite journal beside itself, whole and checked; return the copy's path."""
    kept = path.with_name(f"{path.name}.schema-{schema}")
    number = 1
    while kept.exists():
        number += 1
        kept = path.with_name(f"{path.name}.schema-{schema}-{number}")
    with plain_faults(place), engine.connect() as connection:
        raw = connection.connection.driver_connection
        assert raw is not None
        raw.execute("VACUUM INTO ?", (str(kept),))
    return kept


def keep_tables(connection: Connection, schema: str) -> None:
    """Copy a PostgreSQL journal's tables into a schema of their own in the same database."""
    inspector = sa.inspect(connection)
    taken = set(inspector.get_schema_names())
    kept, number = f"kept_{schema}", 1
    while kept in taken:
        number += 1
        kept = f"kept_{schema}_{number}"
    quote = connection.dialect.identifier_preparer.quote
    connection.exec_driver_sql(f"CREATE SCHEMA {quote(kept)}")
    for table in inspector.get_table_names():
        connection.exec_driver_sql(
            f"CREATE TABLE {quote(kept)}.{quote(table)} AS TABLE {quote(table)}"
        )
