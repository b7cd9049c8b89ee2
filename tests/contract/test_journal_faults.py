"""Full disk, read-only disk, an older schema: each has its sentence, and nothing is lost."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from layers.earth.errors import JournalError
from layers.journal import forwards, opening
from layers.journal.integrity.chain import verify
from layers.journal.store import open_journal
from layers.journal.tables.engine import make_engine, parse_url, writing
from layers.journal.tables.schema import METADATA
from tests.databases import fresh
from tests.journals import FEED, KINDS, NOW, WATCH, Clock, draft

BOTH = ["sqlite", pytest.param("postgresql", marks=pytest.mark.servers)]


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Give a file system of one megabyte."""
    place = tmp_path / "disk"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place)],
        capture_output=True,
        check=False,
    )
    if mounted.returncode != 0:
        pytest.skip("not run: a small file system may not be mounted here; see the one below")
    yield place
    subprocess.run(["umount", "--lazy", str(place)], check=True)


def fill_until_full(url: Path) -> None:
    journal = open_journal(url, KINDS, clock=Clock())
    taken, said = 0, ""
    for number in range(5_000):
        batch = [draft(f"{number}-{n}", text="x" * 500) for n in range(10)]
        try:
            taken += len(journal.append(WATCH, batch).records)
        except JournalError as reason:
            said = str(reason)
            break
    assert "the disk is full; nothing was recorded" in said
    assert taken > 0
    assert journal.revision() == taken
    found = verify(journal)
    assert (found.intact, found.records) == (True, taken)
    journal.close()


def test_a_full_disk_has_its_sentence_and_loses_nothing(small_disk: Path) -> None:
    fill_until_full(small_disk / "journal.sqlite")


def test_a_journal_that_may_not_grow_has_the_same_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite's own limit of pages raises the very fault of a full disk, on any machine."""
    made = opening.make_engine

    def limited(*args: Any, **more: Any) -> sa.Engine:
        engine = made(*args, **more)

        @sa.event.listens_for(engine, "connect")
        def _limit(connection: Any, _record: Any) -> None:
            connection.execute("PRAGMA max_page_count = 200")

        return engine

    monkeypatch.setattr(opening, "make_engine", limited)
    fill_until_full(tmp_path / "journal.sqlite")


def test_a_read_only_disk_can_be_read_and_says_that_it_cannot_be_written(tmp_path: Path) -> None:
    folder = tmp_path / "disk"
    folder.mkdir()
    journal = open_journal(folder / "journal.sqlite", KINDS, clock=Clock())
    journal.append(WATCH, [draft("a")])
    journal.close()
    mounted = subprocess.run(
        ["mount", "--bind", "-o", "ro", str(folder), str(folder)], capture_output=True, check=False
    )
    if mounted.returncode != 0:
        pytest.skip("not run: a file system may not be mounted here")
    try:
        reader = open_journal(folder / "journal.sqlite", KINDS, readonly=True)
        assert reader.revision() == 1
        reader.close()
        with pytest.raises(JournalError, match="can only be read: the file or its disk"):
            open_journal(folder / "journal.sqlite", KINDS, clock=Clock())
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


@pytest.mark.parametrize("database", BOTH)
def test_the_first_migration_makes_the_schema_of_a_new_journal(
    database: str, tmp_path: Path
) -> None:
    engine = make_engine(parse_url(fresh(database, tmp_path)), readonly=False)
    with writing(engine, "journal") as connection:
        forwards.run(connection, "0001")
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, METADATA) == []
    engine.dispose()


NEXT = '''"""A schema that a test invents."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add a column, and an index."""
    op.add_column("rejects", sa.Column("seen_by", sa.Text))
    op.create_index("records_by_source", "records", ["source", "seq"])
'''


@pytest.mark.parametrize("database", BOTH)
def test_an_older_journal_is_brought_forwards_full_after_a_copy_is_kept(
    database: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = fresh(database, tmp_path)
    journal = open_journal(url, KINDS, clock=Clock())
    for number in range(20):
        journal.append(FEED, [draft(f"{number}-{n}") for n in range(200)])
    before = verify(journal)
    journal.close()

    shutil.copytree(Path(forwards.__file__).parent / "migrations", tmp_path / "migrations")
    (tmp_path / "migrations" / "versions" / "0002_next.py").write_text(NEXT)
    for module in (opening, forwards):
        monkeypatch.setattr(module, "SCHEMAS", ("0001", "0002"))
    monkeypatch.setattr(forwards, "MIGRATIONS", tmp_path / "migrations")

    with pytest.raises(JournalError, match=r"of an older version .* opened for reading"):
        open_journal(url, KINDS, readonly=True)
    journal = open_journal(url, KINDS, clock=Clock())
    assert verify(journal) == before
    journal.append(WATCH, [draft("after")])
    assert verify(journal).records == before.records + 1
    with journal.engine.connect() as connection:
        inspector = sa.inspect(connection)
        assert "seen_by" in {c["name"] for c in inspector.get_columns("rejects")}
        if database == "postgresql":
            kept = connection.exec_driver_sql("SELECT count(*) FROM kept_0001.records").scalar()
            assert kept == before.records
    journal.close()
    if database == "sqlite":
        monkeypatch.undo()
        (copy,) = tmp_path.glob("*.schema-0001")
        old = open_journal(copy, KINDS, readonly=True)
        assert verify(old) == before
        old.close()


def test_a_migration_that_fails_leaves_the_journal_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = fresh("sqlite", tmp_path)
    journal = open_journal(url, KINDS, clock=Clock())
    journal.append(WATCH, [draft("a")])
    journal.close()
    shutil.copytree(Path(forwards.__file__).parent / "migrations", tmp_path / "migrations")
    broken = NEXT + "    op.execute('SELECT nonsense FROM nowhere')\n"
    (tmp_path / "migrations" / "versions" / "0002_next.py").write_text(broken)
    with monkeypatch.context() as patched:
        for module in (opening, forwards):
            patched.setattr(module, "SCHEMAS", ("0001", "0002"))
        patched.setattr(forwards, "MIGRATIONS", tmp_path / "migrations")
        with pytest.raises(JournalError):
            open_journal(url, KINDS, clock=Clock())
    journal = open_journal(url, KINDS, clock=Clock())
    assert verify(journal).records == 1
    journal.close()


def test_a_damaged_file_has_its_sentence(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    journal = open_journal(path, KINDS, clock=Clock())
    journal.append(FEED, [draft(str(n), text="x" * 400) for n in range(500)])
    journal.close()
    size = path.stat().st_size
    with path.open("r+b") as held:
        held.seek(4096)
        held.write(os.urandom(size - 8192))
    with pytest.raises(JournalError, match="is damaged; restore the last copy"):
        open_journal(path, KINDS, clock=Clock())


@pytest.mark.parametrize("database", BOTH)
def test_large_and_small_batches_come_in_alike(database: str, tmp_path: Path) -> None:
    """PostgreSQL takes large batches by COPY and small ones by INSERT: one order, one chain."""
    journal = open_journal(fresh(database, tmp_path), KINDS, clock=Clock())
    journal.append(FEED, [draft(str(n), text="tab\tnew\nline \\N") for n in range(250)])
    journal.append(FEED, [draft("one", text="tab\tnew\nline \\N")])
    assert verify(journal).intact
    assert {r.payload["text"] for r in journal.read(["test.note"], 999)} == {"tab\tnew\nline \\N"}
    assert journal.read(["test.note"], 1)[0].recorded_at == NOW
    journal.close()
