"""A changed number is found: every sort of alteration, and single bits anywhere in the file."""

from __future__ import annotations

import random
import shutil
import sqlite3
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from demo_data.load import fill
from layers.catalogue import KINDS
from layers.earth.errors import JournalError
from layers.journal.integrity import outside
from layers.journal.integrity.chain import rebuild, verify
from layers.journal.store import open_journal

# nothing covers this: it moves with the clock, and only says where an exercise was left
NOT_COVERED = {("journal", "clock_kept_us")}


@dataclass(frozen=True)
class Whole:
    """A journal in one file, and the folder where its head was noted."""

    path: Path
    folder: Path


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Whole:
    """Return the exercise's journal, checked once."""
    folder = tmp_path_factory.mktemp("whole")
    path = folder / "exercise.sqlite"
    journal = open_journal(path, KINDS, exercise=True, name="Exercise SABLE TIDE")
    fill(journal)
    journal.close()
    with sqlite3.connect(path) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        raw.execute("PRAGMA journal_mode=DELETE")
    raw.close()
    found, since = found_in(path, folder)
    assert found.intact, found.faults
    assert since == ""
    assert min(found.records, found.side_rows, found.blobs) > 0
    return Whole(path, folder)


def found_in(path: Path, folder: Path) -> Any:
    """Return what a check finds, with what was noted of the journal at this path."""
    journal = open_journal(path, KINDS, readonly=True)
    try:
        return outside.check(journal, folder)
    finally:
        journal.close()


@pytest.fixture
def copy(whole: Whole, tmp_path: Path) -> Path:
    """Return the path of the journal, to be altered; it is brought back afterwards."""
    return _copied(whole, tmp_path)


def _copied(whole: Whole, folder: Path) -> Path:
    """Copy a journal with its note, as if it had always been there."""
    path = folder / whole.path.name
    shutil.copy(whole.path, path)
    journal = open_journal(path, KINDS, readonly=True)
    note = outside.place_of(journal, folder)
    journal.close()
    note.parent.mkdir(exist_ok=True)
    shutil.copy(next((whole.folder / "heads").glob("*.json")), note)
    return path


def _sql(*lines: str) -> Callable[[sqlite3.Connection], None]:
    def alter(raw: sqlite3.Connection) -> None:
        for line in lines:
            assert raw.execute(line).rowcount > 0, line

    return alter


LAST = "(SELECT max(seq) FROM records)"
ALTERED = {
    "a payload": (_sql("UPDATE records SET payload = replace(payload, '1', '2') WHERE seq = 7"), 7),
    "when it was heard": (_sql("UPDATE records SET heard_at_us = 1 WHERE seq = 9"), 9),
    "an author": (_sql("UPDATE records SET author = 'x' WHERE seq = 11"), 9),  # its block
    "a record gone": (_sql("DELETE FROM records WHERE seq = 12"), 12),
    "a latitude beside": (
        _sql("UPDATE side_tracks_position SET f_latitude_deg = f_latitude_deg + 0.5 WHERE seq = "
             "(SELECT max(seq) FROM side_tracks_position)"), "side"),
    "a row gone beside": (_sql("DELETE FROM side_tracks_position WHERE seq = "
             "(SELECT min(seq) FROM side_tracks_position)"), "side"),
    "a row too many beside": (
        _sql("INSERT INTO side_tracks_position (seq, id, source, valid_at_us, heard_at_us) "
             "VALUES (900000, 'x', 'x', 1, 1)"), 900000),
    "a file": (_sql("UPDATE blobs SET content = zeroblob(length(content))"), "any"),
    "a file's time": (_sql("UPDATE blobs SET recorded_at_us = recorded_at_us - 1"), None),
    "EXERCISE": (_sql("UPDATE journal SET exercise = 0"), 1),
    "the name": (_sql("UPDATE journal SET name = 'Operation'"), 1),
    "when it was made": (_sql("UPDATE journal SET created_us = created_us + 1"), 1),
    "the exercise's clock": (
        _sql("UPDATE journal SET clock_offset_us = clock_offset_us + 600000000"), None),
    "a feed that is none": (_sql("UPDATE sources SET by_feed = 1 - by_feed WHERE source = "
             "(SELECT max(source) FROM sources WHERE by_feed)"), None),
    "no feed that is one": (_sql("UPDATE sources SET by_feed = 1 - by_feed WHERE source = "
             "(SELECT max(source) FROM sources WHERE NOT by_feed)"), None),
    "rejects gone": (_sql("DELETE FROM rejects"), None),
    "a reject's words": (_sql("UPDATE rejects SET reason = reason || ' x'"), None),
    "a source's age": (_sql("UPDATE sources SET last_heard_us = last_heard_us + 60000000"), None),
    "a block's time": (_sql("UPDATE blocks SET recorded_at_us = 1 WHERE block = 2"),
             "any"),
    "the tail with its hashes": (
        _sql("DELETE FROM records WHERE block = (SELECT max(block) FROM blocks)",
             "DELETE FROM blocks WHERE block = (SELECT max(block) FROM blocks)"), "any"),
}  # fmt: skip


@pytest.mark.parametrize("what", ALTERED)
def test_what_was_altered_is_found_and_told_where(copy: Path, what: str) -> None:
    alter, record = ALTERED[what]
    with sqlite3.connect(copy) as raw:
        alter(raw)
    raw.close()
    found, since = found_in(copy, copy.parent)
    assert not found.intact
    assert since  # when it was last whole
    if record == "side":
        assert any("side_tracks_position" in fault.where for fault in found.faults)
    elif isinstance(record, int):
        assert found.first_bad == record
    assert all(fault.words().startswith("journal altered") for fault in found.faults)


def _keys(path: Path) -> set[str]:
    return {fault.key for fault in found_in(path, path.parent)[0].faults}


def _alter(path: Path, *lines: str) -> set[str]:
    """Alter a journal by hand; return the keys of what a check then finds."""
    with sqlite3.connect(path) as raw:
        _sql(*lines)(raw)
    raw.close()
    return _keys(path)


@pytest.mark.parametrize(
    "line",
    [
        "UPDATE records SET payload = payload || ' ' WHERE seq = {}",
        "UPDATE side_tracks_position SET f_latitude_deg = f_latitude_deg + 0.5 WHERE seq = "
        "(SELECT seq FROM side_tracks_position ORDER BY seq LIMIT 1 OFFSET {})",
        "DELETE FROM side_tracks_position WHERE seq = "
        "(SELECT seq FROM side_tracks_position ORDER BY seq LIMIT 1 OFFSET {})",
        "UPDATE rejects SET reason = reason || ' x' WHERE number = {}",
    ],
)
def test_what_is_altered_after_one_alteration_is_known_is_another_finding(
    copy: Path, line: str
) -> None:
    """Whoever took note of one alteration is told of the next: beside it, behind it, of it."""
    first = _alter(copy, line.format(3))
    second = _alter(copy, line.format(17)) if "rejects" not in line else _alter(
        copy, line.format(1)
    )  # fmt: skip
    assert first
    assert second - first
    if "DELETE" not in line:
        assert _alter(copy, line.format(3)) - second  # the same place once more


def test_however_many_are_altered_few_are_told_and_one_more_is_seen(copy: Path) -> None:
    many = "UPDATE records SET author = 'x' WHERE seq > 50 AND seq % 100 = 0"
    before = _alter(copy, many)
    assert len(before) < 12
    assert _alter(copy, "UPDATE records SET author = 'x' WHERE seq = 3555") - before
    found = found_in(copy, copy.parent)[0]
    assert found.first_bad is not None
    assert any("more do not fit" in fault.what for fault in found.faults)


def test_one_altered_record_is_one_fault_and_all_behind_it_stand(copy: Path) -> None:
    _alter(copy, "UPDATE records SET payload = payload || ' ' WHERE seq = 7")
    chain = [fault for fault in found_in(copy, copy.parent)[0].faults if "hash" in fault.what]
    assert [fault.record for fault in chain] == [7]
    _alter(copy, "UPDATE blocks SET hash = replace(hash, substr(hash, 1, 1), 'z') WHERE block = 4")
    chain = [fault for fault in found_in(copy, copy.parent)[0].faults if "hash" in fault.what]
    assert len(chain) == 2


def test_side_tables_are_built_anew_from_the_records(copy: Path) -> None:
    with sqlite3.connect(copy) as raw:
        ALTERED["a latitude beside"][0](raw)
        ALTERED["a source's age"][0](raw)
    raw.close()
    journal = open_journal(copy, KINDS)
    assert not verify(journal).intact
    assert rebuild(journal) > 0
    assert verify(journal).intact
    journal.close()


def test_the_verb_says_what_where_and_rebuilds(copy: Path) -> None:
    with sqlite3.connect(copy) as raw:
        ALTERED["a latitude beside"][0](raw)
    raw.close()
    words = [sys.executable, "-m", "layers", "verify", "--journal", str(copy)]
    root = Path(__file__).resolve().parents[2]
    told = subprocess.run(words, cwd=root, capture_output=True, text=True, check=False)
    assert told.returncode == 1
    assert "journal altered at record" in told.stdout
    assert "side_tracks_position" in told.stdout
    whole = subprocess.run([*words, "--rebuild"], cwd=root, capture_output=True, check=False)
    assert whole.returncode == 0


def test_a_journal_that_goes_on_is_whole_and_its_note_follows(copy: Path) -> None:
    journal = open_journal(copy, KINDS, readonly=True)
    outside.note_head(journal, copy.parent)
    noted = outside.read(outside.place_of(journal, copy.parent))
    journal.close()
    assert noted is not None
    assert noted.seq > 3000
    mode = next((copy.parent / "heads").glob("*.json")).stat().st_mode & 0o777
    assert mode == 0o600


def _dump(path: Path) -> dict[str, list[Any]]:
    """Return every row of every table, read without the program."""
    raw = sqlite3.connect(path)
    names = [row[0] for row in raw.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    held = {name: raw.execute(f"SELECT * FROM {name} ORDER BY 1").fetchall() for name in names}
    raw.close()
    return held


def _differs(path: Path, before: dict[str, list[Any]]) -> set[tuple[str, str]]:
    """Return the columns that hold something else than before."""
    raw = sqlite3.connect(path)
    found: set[tuple[str, str]] = set()
    for name, rows in _dump(path).items():
        if rows != before[name]:
            heads = [row[1] for row in raw.execute(f"PRAGMA table_info({name})")]
            for one, other in zip(rows, before[name], strict=False):
                found |= {
                    (name, head)
                    for head, a, b in zip(heads, one, other, strict=True)
                    if a != b or type(a) is not type(b)
                }
            if len(rows) != len(before[name]):
                found.add((name, "rows"))
    raw.close()
    return found


def bits(whole: Whole, folder: Path, count: int, seed: int) -> Counter[str]:
    """Flip single bits, one at a time; return how many were found, and where the others lie."""
    rng = random.Random(seed)  # nosec B311 - of a test
    path = _copied(whole, folder)
    sound, before = path.read_bytes(), _dump(path)
    told: Counter[str] = Counter()
    for _ in range(count):
        place, bit = rng.randrange(len(sound)), rng.randrange(8)
        altered = bytearray(sound)
        altered[place] ^= 1 << bit
        path.write_bytes(altered)
        try:
            found, _ = found_in(path, folder)
        except JournalError:
            told["found"] += 1
            continue
        if not found.intact:
            told["found"] += 1
            continue
        differs = _differs(path, before)
        if not differs:
            told["nothing that is read"] += 1
        else:
            missed = differs - NOT_COVERED
            told[f"missed {sorted(missed)} at {place}.{bit}" if missed else "not covered"] += 1
    return told


def _judge(told: Counter[str], count: int) -> None:
    sys.stdout.write(f"{count} single bits: {dict(told)}\n")
    assert not [what for what in told if what.startswith("missed")], told
    assert told["found"] > count / 2


def test_a_single_flipped_bit_is_found_or_lies_where_nothing_is(
    whole: Whole, tmp_path: Path
) -> None:
    _judge(bits(whole, tmp_path, 25, seed=7), 25)


@pytest.mark.long
@pytest.mark.timeout(3600)
def test_of_five_hundred_flipped_bits_none_is_missed(whole: Whole, tmp_path: Path) -> None:
    _judge(bits(whole, tmp_path, 500, seed=11), 500)
