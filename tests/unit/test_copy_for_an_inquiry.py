"""What an inquiry asks of a copy, answered with Python's own library alone; then opened again.

Who knew what when, who decided, which number was shown to whom, what was corrected later, and
whether anything was altered: the five questions of the text. The case is invented.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import subprocess
import sys
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from layers.catalogue import KINDS
from layers.earth.clock import iso
from layers.earth.errors import InputError
from layers.journal.actor import Actor, Role
from layers.journal.copies.copied import copy_zip
from layers.journal.copies.reopened import reopen
from layers.journal.integrity.chain import verify
from layers.journal.record import Draft, Reject, form_identity
from layers.journal.store import open_journal

AT = datetime(2027, 3, 16, 6, 40, tzinfo=UTC)
NORTH = Actor(name="AB", role=Role.WATCH, room="North", server="plot-1:8501")
SERVER = Actor(name="web server", role=Role.WATCH, room="North", server="plot-1:8501")
FEED = Actor(name="feed reader", role=Role.FEED, server="plot-1:8501")
GRID = b"depths, as a survey gave them"


def draft(number: int, kind: str, payload: dict[str, object]) -> Draft:
    return Draft(kind=kind, payload=payload, valid_at=AT, heard_at=AT, source="voice, \nchannel 6",
                 identity=form_identity(str(number)))  # fmt: skip


@pytest.fixture
def made(tmp_path: Path) -> tuple[Path, str]:
    """Return a copy of a journal with one of each, and its head."""
    clock = iter(AT + timedelta(minutes=n) for n in range(1_000))
    journal = open_journal(tmp_path / "op.sqlite", KINDS, name="Exercise Cold Swell",
                           exercise=True, clock=lambda: next(clock))  # fmt: skip
    counted = draft(1, "survivors.complement", {"part": "company", "persons": 60})
    journal.append(NORTH, [counted])
    journal.append(NORTH, [draft(2, "watch.decision", {
        "what": "Dive at first light", "reasons": "sea", "decided_by": "SSRA"})])  # fmt: skip
    journal.append(NORTH, [draft(3, "watch.told_outside", {
        "whom": "families' office", "told": "60 on board", "answer": "persons"})])  # fmt: skip
    journal.append(NORTH, [draft(4, "journal.correct", {
        "target": counted.id, "fields": {"persons": 61}, "reason": "a rider"})])  # fmt: skip
    looked = {"who": "J. Kurtz <kurtz@example; 7>", "browser": "3fa2c1d0", "through": "readers",
              "withheld": ["exact position of the DISSUB"], "began": iso(AT)}  # fmt: skip
    journal.append(SERVER, [draft(5, "watch.look", {**looked, "upto": 3})])
    over = {**looked, "ended": iso(AT + timedelta(minutes=4)), "upto": 3}
    journal.append(SERVER, [draft(6, "watch.look", over)])
    reject = Reject(source="ais.nmea", line=7, text="!AIVDM,broken\nsecond line", reason="checksum")
    digest = hashlib.sha256(GRID).hexdigest()
    journal.append(FEED, [], rejects=[reject], blobs={digest: GRID})
    head = journal.head()[1]
    place = tmp_path / "copy.zip"
    place.write_bytes(copy_zip(journal, ("EXERCISE COLD SWELL", f"head {head}")))
    journal.close()
    return place, head


def rows(packed: zipfile.ZipFile, name: str) -> tuple[list[str], list[dict[str, str]]]:
    table = list(csv.reader(io.StringIO(packed.read(name).decode("utf-8-sig"), newline="")))
    stamp = [row[0] for row in table if len(row) == 1]
    heads, *told = [row for row in table if len(row) > 1]
    return stamp, [dict(zip(heads, row, strict=True)) for row in told]


def test_five_questions_are_answered_from_the_copy_alone(made: tuple[Path, str]) -> None:
    place, head = made
    with zipfile.ZipFile(place) as packed:
        stamp, log = rows(packed, "log.csv")
        by_kind = {row["kind"]: row for row in log}
        assert stamp == ["# EXERCISE COLD SWELL", f"# head {head}"]
        known = by_kind["survivors.complement"]  # who knew what when
        assert (known["author"], known["room"], known["true at (UTC)"][:19]) == (
            "AB", "North", "2027-03-16T06:40:00")  # fmt: skip
        assert known["recorded at (UTC)"] > known["heard at (UTC)"]
        decided = json.loads(by_kind["watch.decision"]["payload (JSON)"])  # who decided
        assert decided["decided_by"] == "SSRA"
        told = by_kind["watch.told_outside"]  # which number was shown to whom
        assert "60 on board" in told["says"]
        assert "families" in told["says"]
        later = by_kind["journal.correct"]  # what was later corrected
        assert later["about record"] == known["number"]
        assert json.loads(later["payload (JSON)"])["fields"] == {"persons": 61}
        _, rejected = rows(packed, "rejects.csv")
        assert [(row["source"], row["line"], row["reason"]) for row in rejected] == [
            ("ais.nmea", "7", "checksum")
        ]
        assert packed.read(f"blobs/{hashlib.sha256(GRID).hexdigest()}") == GRID


def test_which_number_was_shown_to_whom_is_answered_from_the_copy_alone(
    made: tuple[Path, str],
) -> None:
    place, _ = made
    with zipfile.ZipFile(place) as packed:
        _, looks = rows(packed, "tables/watch.look.csv")
        _, log = rows(packed, "log.csv")
        named = {row["file"] for row in rows(packed, "index.csv")[1]}
    assert "tables/watch.look.csv" in named
    begun, over = looks
    assert begun["ended"] == ""
    assert (over["who"], over["through"]) == ("J. Kurtz <kurtz@example; 7>", "readers")
    assert json.loads(over["withheld"]) == ["exact position of the DISSUB"]
    assert (over["author"], over["room"]) == ("web server", "North")
    # of all counts, those that stood in the journal when that page was last looked at
    shown = [
        json.loads(row["payload (JSON)"])
        for row in log
        if int(row["number"]) <= int(over["upto"])
        and row["kind"] in ("survivors.complement", "journal.correct")
    ]
    assert [one["persons"] for one in shown] == [60]  # never the 61 of the correction


def test_it_reads_as_plain_json_and_as_a_table_for_each_sort_with_units(
    tmp_path: Path,
) -> None:
    journal = open_journal(tmp_path / "op.sqlite", KINDS, name="Cold Swell", clock=lambda: AT)
    lkp = {"latitude_deg": 49.83, "longitude_deg": -8.5, "sigma_m": 900.0, "reported_by": "boat"}
    asked = {"what": "depth, where?", "asked_of": "MRCC"}
    journal.append(NORTH, [draft(1, "datum.lkp", dict(lkp))])
    journal.append(NORTH, [draft(2, "watch.question", dict(asked))])
    place = tmp_path / "copy.zip"
    place.write_bytes(copy_zip(journal, ("COLD SWELL",)))
    journal.close()
    with zipfile.ZipFile(place) as packed:
        held = json.loads(packed.read("log.json"))
        stamp, table = rows(packed, "tables/datum.lkp.csv")
        named = {row["file"] for row in rows(packed, "index.csv")[1]}
        names = packed.namelist()
    first, second = held["records"]
    assert held["stamp"] == ["COLD SWELL"]
    assert first["says"]["latitude_deg (°)"] == 49.83
    assert first["says"]["sigma_m (m)"] == 900.0
    assert datetime.fromisoformat(first["true_at"]) == AT
    assert (second["author"], second["room"]) == ("AB", "North")
    assert second["says"]["what"] == "depth, where?"
    assert stamp == ["# COLD SWELL"]
    assert float(table[0]["sigma_m (m)"]) == 900.0
    # every file there is stands in the index
    there = {name.split("/")[0] + "/" if "/" in name else name for name in names}
    assert there - {"READ ME.txt", "index.csv", "journal.json"} <= named


def test_whether_anything_was_altered_is_said_by_python_alone(
    made: tuple[Path, str], tmp_path: Path
) -> None:
    place, head = made
    folder = tmp_path / "unpacked"
    zipfile.ZipFile(place).extractall(folder)

    def check() -> str:
        done = subprocess.run([sys.executable, "-I", "-S", "check.py"], cwd=folder,
                              capture_output=True, text=True, check=False)  # fmt: skip
        return done.stdout.strip()

    assert check() == f"6 records, nothing altered; head {head}"
    blob = folder / "blobs" / hashlib.sha256(GRID).hexdigest()
    blob.write_bytes(GRID + b"!")
    assert check() == f"ALTERED: the file {blob.name}"


def test_a_copy_opens_again_with_the_same_head_and_can_only_be_read(
    made: tuple[Path, str], tmp_path: Path
) -> None:
    place, head = made
    again = reopen(place, tmp_path / "again.sqlite", KINDS)
    assert again.readonly
    assert again.exercise
    assert again.name == "Exercise Cold Swell"
    assert again.head() == (6, head)
    assert verify(again).intact
    assert [one.text for one in again.rejects()] == ["!AIVDM,broken\nsecond line"]
    assert again.blob(hashlib.sha256(GRID).hexdigest()) == GRID
    (counted,) = again.read(["survivors.complement"], again.revision())
    assert counted.author == "AB, room North (plot-1:8501)"
    again.close()
    with pytest.raises(InputError, match="there already"):
        reopen(place, tmp_path / "again.sqlite", KINDS)


def test_what_is_no_copy_is_refused(tmp_path: Path) -> None:
    other = tmp_path / "other.zip"
    with zipfile.ZipFile(other, "w") as packed:
        packed.writestr("a.txt", "nothing")
    with pytest.raises(InputError, match="no whole copy"):
        reopen(other, tmp_path / "x.sqlite", KINDS)
