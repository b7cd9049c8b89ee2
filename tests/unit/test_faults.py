"""What is wrong with this computer is said in plain words: disk, journal's file, clock, sleep."""

from __future__ import annotations

import errno
import os
import pickle
import shutil
import sqlite3
import subprocess
import time
from datetime import timedelta
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import sqlalchemy as sa

from dashboard import faults
from dashboard.faults import Clocks, Faults, File, disk
from layers import checking, ours
from layers.contract import Unavailable
from layers.earth.errors import JournalError
from layers.journal.integrity.fault import Fault
from layers.journal.store import Journal, open_journal
from layers.results import Results
from tests.databases import fresh
from tests.journals import KINDS, NOW, WATCH, Clock, draft


class Room(NamedTuple):
    """What the system says of a disk."""

    total: int
    used: int
    free: int


@pytest.fixture
def journal(tmp_path: Path) -> Any:
    made = open_journal(tmp_path / "journal.sqlite", KINDS, clock=Clock())
    made.append(WATCH, [draft("a")])
    yield made
    made.close()


def test_two_clocks_tell_a_sleep_from_a_clock_set(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(faults, "SLEEP_COUNTS", True)
    second, hour = timedelta(seconds=1), timedelta(hours=1)
    clocks = Clocks()
    assert clocks.look(NOW, 0.0) == []
    assert clocks.look(NOW + 2 * second, 2.0) == []
    assert "stood still for 1 h" in clocks.look(NOW + hour, 3600.0)[0]
    back = clocks.look(NOW, 3602.0)
    assert "set back by 1 h" in back[-1]
    assert any("set forward by 2 h" in text for text in clocks.look(NOW + 2 * hour, 3604.0))
    later = clocks.look(NOW + 2 * hour + timedelta(minutes=11), 3604.0 + 660.0)
    assert [text for text in later if "set" in text] == []  # it is not told for ever


@pytest.mark.parametrize(
    ("number", "words"),
    [(errno.ENOSPC, "The disk is full"), (errno.EROFS, "can only be read"),
     (errno.EACCES, "can not be written")],
)  # fmt: skip
def test_a_disk_that_takes_nothing_is_told_for_what_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, words: str
) -> None:
    def refuse(_path: Path, _content: bytes) -> None:
        raise OSError(number, os.strerror(number))

    assert list(disk(tmp_path)) == [] or "nearly full" in next(disk(tmp_path))
    monkeypatch.setattr(Path, "write_bytes", refuse)
    said = list(disk(tmp_path))
    assert len(said) == 1
    assert words in said[0]
    assert "stays in its form" in said[0]


def test_room_that_runs_out_is_told_before_it_is_gone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Room(10**9, 9 * 10**8, 10**8))
    assert "nearly full: 100 MB" in next(disk(tmp_path))
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Room(10**9, 10**9, 10**5))
    assert "The disk is full" in next(disk(tmp_path))


def test_a_journal_that_another_program_locks_is_told_after_a_while(journal: Journal) -> None:
    path = Path(journal.place.removeprefix("journal "))
    file = File(path)
    assert list(file.look(0.0)) == []
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    assert list(file.look(1.0)) == []
    assert "locked by another program" in next(file.look(4.0))
    other.execute("ROLLBACK")
    other.close()
    assert list(file.look(6.0)) == []


def test_a_journal_taken_away_or_exchanged_is_told(journal: Journal, tmp_path: Path) -> None:
    path = Path(journal.place.removeprefix("journal "))
    file = File(path)
    copy = tmp_path / "copy.sqlite"
    shutil.copy(path, copy)
    path.unlink()
    assert "taken away or exchanged" in next(file.look(1.0))
    copy.rename(path)
    assert "taken away or exchanged" in next(file.look(2.0))


def test_what_a_check_found_is_told_until_it_is_sound(journal: Journal, tmp_path: Path) -> None:
    asked = Faults(journal, tmp_path)
    assert checking.check(journal, tmp_path).faults == ()
    asked.look()
    assert asked.altered == ()
    with sqlite3.connect(tmp_path / "journal.sqlite") as raw:
        raw.execute("UPDATE records SET author = 'x' WHERE seq = 1")
    raw.close()
    found = checking.check(journal, tmp_path).faults
    asked.look()
    assert asked.altered == found
    assert "journal altered at record 1" in found[0].words()
    assert len({Fault(1, "a", "b").key, Fault(2, "a", "b").key, Fault(1, "a", "b").key}) == 2


def test_a_check_that_could_not_be_made_is_made_again_soon(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    began: list[float] = []
    at = [1000.0]

    class Failed:
        def __init__(self, *_words: object, **_more: object) -> None:
            began.append(at[0])

        def poll(self) -> int:
            return 1 if len(began) < 3 else 0

    monkeypatch.setattr(subprocess, "Popen", Failed)
    monkeypatch.setattr(time, "monotonic", lambda: at[0])
    checks = checking.Checking(journal, "x")
    for _ in range(2 * 3600):
        at[0] += 1.0
        checks.tend()
    assert began[0] <= 1000.0 + checking.FIRST_S + 1.0
    assert began[1] - began[0] < 90.0
    assert began[2] - began[1] < 90.0
    assert 3000.0 < began[3] - began[2] < 3700.0


@pytest.mark.servers
def test_a_database_that_lets_this_account_only_read_is_told_before_a_form_is_pressed(
    tmp_path: Path,
) -> None:
    url = fresh("postgresql", tmp_path)
    made = open_journal(url, KINDS, clock=Clock())
    made.append(WATCH, [draft("a")])
    account = f"onlooker_{os.getpid()}"

    def alter(line: str) -> None:
        with made.engine.begin() as connection:
            connection.exec_driver_sql(line)

    alter(f"CREATE ROLE {account} LOGIN PASSWORD 'x'")
    alter(f"GRANT SELECT ON ALL TABLES IN SCHEMA public TO {account}")
    theirs = sa.make_url(url).set(username=account, password="x")
    mine = open_journal(theirs.render_as_string(hide_password=False), KINDS, clock=Clock())
    asked = Faults(mine, tmp_path)
    try:
        said = [text for text in asked.look() if "can only be read" in text]
        assert len(said) == 1
        assert "may not write" in said[0]
        assert "stays in its form" in said[0]
        with pytest.raises(JournalError, match="may not write in that database; nothing was"):
            mine.append(WATCH, [draft("b")])
        alter(f"GRANT ALL ON ALL TABLES IN SCHEMA public TO {account}")
        alter(f"GRANT ALL ON ALL SEQUENCES IN SCHEMA public TO {account}")
        assert not [text for text in asked.look() if "can only be read" in text]
        mine.append(WATCH, [draft("b")])
        alter(f"ALTER ROLE {account} SET default_transaction_read_only = on")
        assert any("told so for this account" in text for text in asked.look())
    finally:
        mine.close()
        alter(f"DROP OWNED BY {account}")
        alter(f"DROP ROLE {account}")
        made.close()


def test_files_are_ours_alone_and_what_others_could_have_written_is_not_read(
    tmp_path: Path,
) -> None:
    (tmp_path / "cache").mkdir(mode=0o755)
    (tmp_path / "secret").write_text("x")
    (tmp_path / "secret").chmod(0o644)
    before = os.umask(0o022)
    try:
        ours.keep_to_ourselves(tmp_path)
        (tmp_path / "later").write_text("x")
    finally:
        os.umask(before)
    for name, mode in ((".", 0o700), ("cache", 0o700), ("secret", 0o600), ("later", 0o600)):
        assert (tmp_path / name).stat().st_mode & 0o777 == mode, name
    ours.write(tmp_path / "mine", b"content")
    assert ours.read(tmp_path / "mine") == b"content"
    assert not ours.seen_by_others(tmp_path / "mine")
    (tmp_path / "mine").chmod(0o620)
    with pytest.raises(PermissionError, match="somebody else"):
        ours.read(tmp_path / "mine")
    made = open_journal(tmp_path / "new.sqlite", KINDS)
    made.close()
    assert (tmp_path / "new.sqlite").stat().st_mode & 0o777 == 0o600


class Trap:
    """A pickle that does something when it is read."""

    def __reduce__(self) -> Any:
        return (os.putenv, ("MUSTERPLOT_TRAP", "sprung"))


def test_no_pickle_lies_in_a_database_and_a_foreign_one_is_not_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    results = Results(tmp_path, "a journal")
    kept = Unavailable(reason="nothing told")
    results["k"] = kept
    assert results["k"] == kept
    raw = sqlite3.connect(results.path)
    held = [value for row in raw.execute("SELECT * FROM results") for value in row]
    raw.close()
    assert not [value for value in held if isinstance(value, bytes)]
    file = next(results.kept.iterdir())
    file.write_bytes(pickle.dumps(Trap()))
    file.chmod(0o666)
    sprung: list[object] = []
    monkeypatch.setattr(os, "putenv", lambda *words: sprung.append(words))
    assert results.get("k") is None
    assert sprung == []


def test_a_cache_that_can_not_be_written_is_only_slower(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    results = Results(tmp_path, "a journal")

    def refuse(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(results, "_open", refuse)
    results["k"] = Unavailable(reason="nothing told")
    assert results.get("k") is None
    assert len(results) == 0
    results.trim()
