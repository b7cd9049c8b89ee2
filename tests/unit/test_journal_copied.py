"""A copy of the journal: anyone can check it with Python alone, and a changed letter shows."""

from __future__ import annotations

import io
import subprocess
import sys
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from layers.catalogue import KINDS
from layers.journal.actor import Actor, Role
from layers.journal.copies.copied import copy_zip
from layers.journal.record import Draft, form_identity
from layers.journal.store import open_journal

WATCH = Actor(name="watch officer 1", role=Role.WATCH)


@pytest.fixture
def copied(tmp_path: Path) -> tuple[Path, str, bytes]:
    """Return the folder of an unpacked copy, the journal's head, and the zip's bytes."""
    journal = open_journal(str(tmp_path / "journal.sqlite"), KINDS)
    now = datetime.now(UTC)
    for number in range(5):
        drafts = [
            Draft(kind="watch.question", payload={"what": f"{number}\n“{part}”?", "asked_of": "x"},
                  valid_at=now, heard_at=now, source="room", 
                  identity=form_identity(f"{number}{part}"))
            for part in range(number + 1)
        ]  # fmt: skip
        journal.append(WATCH, drafts)
    head = journal.head()[1]
    content = copy_zip(journal, ("EXERCISE X", f"head {head}"))
    assert copy_zip(journal, ("EXERCISE X", f"head {head}")) == content
    journal.close()
    folder = tmp_path / "copy"
    zipfile.ZipFile(io.BytesIO(content)).extractall(folder)
    return folder, head, content


def check(folder: Path) -> tuple[int, str]:
    # -I -S: nothing of this project and nothing installed is there
    done = subprocess.run([sys.executable, "-I", "-S", "check.py"], cwd=folder,
                          capture_output=True, text=True, check=False)  # fmt: skip
    assert done.stderr == ""
    return done.returncode, done.stdout.strip()


def test_anyone_can_check_it(copied: tuple[Path, str, bytes]) -> None:
    folder, head, _ = copied
    assert check(folder) == (0, f"15 records, nothing altered; head {head}")
    note = (folder / "READ ME.txt").read_text()
    assert note.startswith(f"EXERCISE X\nhead {head}\n")
    assert "python3 check.py" in note


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (b'"room"', b'"ROOM"', "ALTERED: somewhere in records 1 to 1"),
        (b"watch officer 1", b"watch officer 2", "ALTERED: somewhere in records 1 to 1"),
        (b"[2,", b"[3,", "ALTERED: record 2 is not where it should be"),
    ],
)
def test_whatever_was_altered_shows(
    copied: tuple[Path, str, bytes], old: bytes, new: bytes, said: str
) -> None:
    folder, _, _ = copied
    place = folder / "records.jsonl"
    held = place.read_bytes()
    assert old in held
    place.write_bytes(held.replace(old, new, 1))
    assert check(folder) == (1, said)


def test_what_was_added_or_taken_away_shows(copied: tuple[Path, str, bytes]) -> None:
    folder, _, _ = copied
    place = folder / "records.jsonl"
    held = place.read_bytes()
    place.write_bytes(held + held.splitlines(keepends=True)[-1])
    assert check(folder) == (1, "ALTERED: something follows after record 15")
    place.write_bytes(b"".join(held.splitlines(keepends=True)[:-1]))
    assert check(folder) == (1, "ALTERED: record 15 is not where it should be")
