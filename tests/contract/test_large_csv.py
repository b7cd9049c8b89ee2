"""A CSV as large as is accepted, by the real command and by the feed reader: memory stays bounded.

The whole size (100 MB, 1.4 million positions) is asked for by name; a short file always goes
through the same way.
"""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from layers.catalogue import KINDS
from layers.feeds.reader import FeedRunner, transport_for
from layers.feeds.settings import FeedSetting
from layers.ingest.pieces import LARGEST_FILE
from layers.journal.store import open_journal

ROOT = Path(__file__).resolve().parents[2]
MOST_BYTES = 500 * 1024**2  # that a process may hold while it reads; measured 276 MB at 100 MB
BEGUN = datetime(2025, 3, 1, tzinfo=UTC)  # a report from the future would be turned away
AT = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
HEADS = "Time,MMSI,Latitude_degrees,Longitude_degrees,COG_degrees,SOG_knots\n"
WRONG = "2025-03-01 00:00:00,235000001,92.0,-8.0,0.0,0.0\n"


def written(path: Path, size: int) -> int:
    """Write AIS rows of a size, one of them wrong; return how many are right."""
    count, length = 0, len(HEADS) + len(WRONG)
    with path.open("w") as file:
        file.write(HEADS + WRONG)
        while True:
            at = BEGUN + timedelta(milliseconds=230 * count)
            row = (
                f"{at:%Y-%m-%d %H:%M:%S}.{at.microsecond // 1000:03d},{235_000_000 + count % 500},"
                f"{49 + count % 4_000 / 4_000:.12f},{-8 + count % 3_000 / 3_000:.12f},"
                f"{count % 360}.0,{count % 200 / 10}\n"
            )
            length += len(row)
            if length > size:
                return count
            file.write(row)
            count += 1


# A process is counted from its fork on: started from a large one it would seem as large. So a
# small one starts it, and says what its child held at most.
LAUNCHER = """
import resource, subprocess, sys
done = subprocess.run(sys.argv[1:], stdout=subprocess.PIPE)
sys.stdout.buffer.write(done.stdout)
print()
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
sys.exit(done.returncode)
"""


def by_command(path: Path, journal: Path) -> tuple[dict[str, object], int]:
    """Run the real command; return its answer for the file and the most memory it held."""
    words = [sys.executable, "-m", "layers", "read", str(path), "--into", str(journal), "--json"]
    done = subprocess.run(
        [sys.executable, "-c", LAUNCHER, *words], cwd=ROOT, stdout=subprocess.PIPE, check=True
    )
    answer, _, held_kib = done.stdout.strip().rpartition(b"\n")
    return json.loads(answer)["files"][0], int(held_kib) * 1024


@pytest.mark.parametrize(
    "size",
    [
        pytest.param(2 * 1024**2, id="2-MB"),
        pytest.param(
            LARGEST_FILE,
            id="100-MB",
            marks=[pytest.mark.long, pytest.mark.timeout(3_600)],
        ),
    ],
)
def test_every_row_is_recorded_and_memory_stays_bounded(tmp_path: Path, size: int) -> None:
    path = tmp_path / "ais.csv"
    right = written(path, size)
    found, held_bytes = by_command(path, tmp_path / "j.sqlite")
    assert found["format"] == "ais_csv"
    assert found["records"] == {"tracks.position": right}
    assert (found["new"], found["rejects"]) == (right, 1)
    assert held_bytes < MOST_BYTES


def test_a_file_over_the_limit_is_one_reject_by_command_and_by_the_reader(tmp_path: Path) -> None:
    folder = tmp_path / "drop"
    folder.mkdir()
    path = folder / "huge.csv"
    with path.open("wb") as file:
        file.write(HEADS.encode() + WRONG.encode() * 2_000)
        file.truncate(LARGEST_FILE + 1)  # sparse: it takes no room
    said = "too large; accepted: files up to 100 MB, cut the file"
    found, _ = by_command_refused(path)
    assert said in next(iter(found))
    journal = open_journal(tmp_path / "j.sqlite", KINDS, clock=lambda: AT)
    setting = FeedSetting.model_validate({"name": "drop", "from": str(folder)})
    reader = FeedRunner(setting, transport_for(setting, tmp_path, 0.5), journal, threading.Event())
    transport = transport_for(setting, tmp_path, 0.5)
    transport.poll(AT)
    for arrival in transport.poll(AT + timedelta(seconds=3)):
        reader._take(arrival)
    (reject,) = journal.rejects()
    journal.close()
    assert said in reject.reason
    assert reject.source == "huge.csv"


def by_command_refused(path: Path) -> tuple[dict[str, int], int]:
    """Run the real command on what it refuses; return the reasons and how it ended."""
    words = [sys.executable, "-m", "layers", "read", str(path), "--json"]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, check=False)
    return json.loads(done.stdout)["files"][0]["reasons"], done.returncode
