"""Connections to SQLite and PostgreSQL, and their faults as one plain sentence each."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.engine import URL, Connection, Engine

from layers.earth.errors import JournalAway, JournalError

# Any 64-bit number will do, as long as every program that writes a journal uses this one.
WRITERS_LOCK = 0x4D55_5354_4552
BUSY_S = 20.0
# A cable that is pulled says nothing: these make the kernel notice within seconds, not in hours.
NOTICE_S = 4
KEEP_ALIVE = {
    "keepalives": 1, "keepalives_idle": 2, "keepalives_interval": 1, "keepalives_count": 3,
    "tcp_user_timeout": NOTICE_S * 1000, "connect_timeout": NOTICE_S,
}  # fmt: skip
WRITER_CACHE_KIB = 16_384  # ids fall anywhere in their index: with less a large file thrashes


def parse_url(url: str | Path) -> URL:
    """Return a database URL for a path of an SQLite file or a URL.

    Raises
    ------
    JournalError
        Neither SQLite nor PostgreSQL.
    """
    text = str(url)
    if "://" not in text:
        return URL.create("sqlite", database=text)
    try:
        parsed = sa.make_url(text)
    except sa.exc.ArgumentError:
        raise JournalError(_accepted(text)) from None
    name = parsed.get_backend_name()
    if name in ("postgresql", "postgres"):
        return parsed.set(drivername="postgresql+psycopg")
    if name == "sqlite" and parsed.database:
        return URL.create("sqlite", database=parsed.database)
    raise JournalError(_accepted(text))


def _accepted(text: str) -> str:
    shown = text.split("@")[-1]  # what stands before an @ may be a password
    return (
        f"{shown!r} does not name a journal; accepted: the path of an SQLite file, "
        "sqlite:///PATH or postgresql://USER@HOST/NAME"
    )


def url_words(url: URL) -> str:
    """Return where a journal is, as said in a sentence; no password in it."""
    if url.get_backend_name() == "sqlite":
        return f"journal {url.database}"
    return f"journal {url.database} on {url.host or 'this host'}"


def make_engine(url: URL, *, readonly: bool, busy_s: float = BUSY_S) -> Engine:
    """Return an engine whose transactions start as a reader's or as the one writer's."""
    if url.get_backend_name() == "sqlite":
        return _sqlite_engine(url, readonly, busy_s)
    options = f"-c lock_timeout={int(busy_s * 1000):d}"
    if readonly:
        options += " -c default_transaction_read_only=on"
    return sa.create_engine(
        url,
        connect_args={"options": options, **KEEP_ALIVE},
        pool_pre_ping=True,
        pool_size=5,
        max_overflow=20,
    )


def _sqlite_engine(url: URL, readonly: bool, busy_s: float) -> Engine:
    path = Path(str(url.database)).absolute()
    mode = "ro" if readonly else "rwc"
    if readonly and not os.access(path.parent, os.W_OK) and not Path(f"{path}-wal").exists():
        mode = "ro&immutable=1"  # a read-only disk has no room for the shared index of WAL

    def connect() -> sqlite3.Connection:
        made = sqlite3.connect(
            f"{path.as_uri()}?mode={mode}",
            uri=True,
            timeout=busy_s,
            isolation_level=None,  # transactions are begun by hand, see _begin
            check_same_thread=False,
        )
        made.execute("PRAGMA synchronous=FULL")
        made.execute("PRAGMA foreign_keys=ON")
        if not readonly:
            made.execute(f"PRAGMA cache_size=-{WRITER_CACHE_KIB}")
        return made

    engine = sa.create_engine(
        "sqlite://",
        creator=connect,
        poolclass=sa.pool.QueuePool,
        pool_size=5,
        max_overflow=20,
    )

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


@contextmanager
def reading(engine: Engine, place: str) -> Iterator[Connection]:
    """Give a connection inside a reader's transaction: one consistent view."""
    with plain_faults(place), engine.connect() as connection:
        if connection.dialect.name == "postgresql":  # else each question sees what is new by then
            connection = connection.execution_options(isolation_level="REPEATABLE READ")
        with connection.begin():
            yield connection


@contextmanager
def writing(engine: Engine, place: str) -> Iterator[Connection]:
    """Give a connection that holds the writer's lock; all or nothing at its end."""
    with plain_faults(place), engine.connect() as connection:
        connection = connection.execution_options(writes=True)
        with connection.begin():
            if connection.dialect.name == "postgresql":
                connection.execute(sa.select(sa.func.pg_advisory_xact_lock(WRITERS_LOCK)))
            yield connection


WRITTEN = ("records", "blocks", "sources", "rejects", "blobs")  # by each record that is taken


def closed_to_writing(connection: Connection) -> str:
    """Return why a database takes nothing from this account, in words; empty when it does.

    Read from PostgreSQL's own catalogue (its manual, 9.27 "System Information Functions" and
    54 "pg_db_role_setting"); a file is tried by whoever asks.
    """
    if connection.dialect.name != "postgresql":
        return ""
    if connection.execute(sa.select(sa.func.pg_is_in_recovery())).scalar_one():
        return "can only be read: this database is a standing copy of another one"
    for name in WRITTEN:
        asked = sa.select(sa.func.has_table_privilege(name, "INSERT"))
        if not connection.execute(asked).scalar_one():
            return _MAY_NOT
    if connection.execute(_TOLD_TO_READ).scalar_one():
        return "can only be read: the database is told so for this account"
    return ""


_MAY_NOT = "can only be read: the account it is opened with may not write in that database"
_TOLD_TO_READ = sa.text(
    "SELECT EXISTS (SELECT 1 FROM pg_db_role_setting AS told WHERE (told.setdatabase = 0 OR "
    "told.setdatabase = (SELECT oid FROM pg_database WHERE datname = current_database())) AND "
    "(told.setrole = 0 OR told.setrole = (SELECT oid FROM pg_roles WHERE rolname = current_user))"
    " AND 'default_transaction_read_only=on' = ANY (told.setconfig))"
)
_SENTENCES = (
    ("permission denied", f"{_MAY_NOT}; nothing was recorded"),
    ("database is locked", "is locked by another program; nothing was recorded, try again"),
    ("lock timeout", "is locked by another program; nothing was recorded, try again"),
    ("disk is full", "cannot grow: the disk is full; nothing was recorded, make room first"),
    ("no space left", "cannot grow: the disk is full; nothing was recorded, make room first"),
    ("could not extend file", "cannot grow: the disk is full; nothing was recorded"),
    ("readonly database", "can only be read: the file or its disk is read-only"),
    ("read-only transaction", "can only be read: it was opened for reading"),
    ("unable to open", "cannot be opened: the folder is missing or may not be used"),
    ("disk i/o error", "cannot be read or written: the disk reports an error"),
    ("not a database", "is not a journal: the file is something else"),
    ("malformed", "is damaged; restore the last copy and keep this file"),
    ("connection refused", "cannot be reached: no database answers there"),
    ("password authentication", "cannot be opened: the database refused the name or password"),
    ("no password supplied", "cannot be opened: the database asks for a password"),
    ("could not translate host", "cannot be reached: there is no such host"),
    ("failed to resolve host", "cannot be reached: there is no such host"),
    ("does not exist", "is not there: the database has no such name or table"),
    ("timeout expired", "cannot be reached: no database answers there"),
    ("server closed the connection", "was cut off: the database stopped; nothing was recorded"),
    ("terminating connection", "was cut off: the database stopped; nothing was recorded"),
    ("connection is lost", "was cut off: the database stopped; nothing was recorded"),
    ("connection is bad", "cannot be reached: no database answers there"),
    ("connection failed", "cannot be reached: no database answers there"),
    ("could not receive data", "was cut off: the way to the database is gone"),
    ("connection reset", "was cut off: the database stopped; nothing was recorded"),
    ("connection timed out", "was cut off: the way to the database is gone"),
    ("network is unreachable", "cannot be reached: there is no way to the database"),
    ("no route to host", "cannot be reached: there is no way to the database"),
    ("shutting down", "cannot be reached: the database is stopping"),
    ("starting up", "cannot be reached yet: the database is starting"),
)
_AWAY = (
    "cannot be reached", "was cut off", "cannot be opened: the folder",
    "cannot be read or written",
)  # fmt: skip


@contextmanager
def plain_faults(place: str) -> Iterator[None]:
    """Turn a database's fault into a `JournalError` of one sentence."""
    try:
        yield
    except (sa.exc.SQLAlchemyError, sqlite3.Error, OSError) as fault:
        said = _sentence(fault)
        sort = JournalAway if said.startswith(_AWAY) else JournalError
        raise sort(f"the {place} {said}") from fault


def _sentence(fault: BaseException) -> str:
    text = " ".join(str(getattr(fault, "orig", None) or fault).split()).lower()
    for sign, words in _SENTENCES:
        if sign in text:
            return words
    return f"reports a fault: {text[:200]}"


def writable_folder(path: Path) -> None:
    """Make the folder of a new journal, or say why it cannot be used.

    Raises
    ------
    JournalError
        The folder cannot be made or written.
    """
    folder = path.absolute().parent
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise JournalError(
            f"the folder {folder} cannot be made ({fault.strerror}); name another place "
            "with --journal"
        ) from None
    if not os.access(folder, os.W_OK | os.X_OK):
        raise JournalError(
            f"the folder {folder} cannot be written; name another place with --journal"
        )
