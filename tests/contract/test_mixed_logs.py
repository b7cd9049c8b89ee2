"""Mixed logs through the drop folder: everything accounted for, and memory that does not climb.

The whole size (100 MB) is asked for by name; a short one always goes through the same way.
"""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from functools import reduce
from operator import xor
from pathlib import Path

import numpy as np
import pytest
from pyais.encode import encode_dict

ROOT = Path(__file__).resolve().parents[2]
BEGUN = datetime(2025, 3, 1, tzinfo=UTC)
FILES = 20
BLOCK = 500  # lines of AIS between two dates of the log
BUOY = (
    "#YY MM DD hh mm WDIR WSPD GST WVHT DPD APD MWD PRES ATMP WTMP DEWP VIS PTDY TIDE\n"
    "#yr mo dy hr mn degT m/s m/s m sec sec degT hPa degC degC degC nmi hPa ft\n"
)
MEASURED = "240 12.0 15.0 3.1 9.0 6.1 250 1008.1 8.1 9.2 4.0 MM MM MM"

# Runs the feed reader over a folder until nothing new comes; says what it held after each step.
READER = """
import json, sys, threading
from datetime import UTC, datetime, timedelta
from pathlib import Path
from layers.catalogue import KINDS
from layers.feeds.folder import FolderTransport
from layers.feeds.reader import FeedRunner
from layers.feeds.settings import FeedSetting
from layers.journal.store import open_journal

def held_bytes():
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096

folder, path = Path(sys.argv[1]), Path(sys.argv[2])
clock = [datetime(2027, 3, 16, 6, 0, tzinfo=UTC)]
journal = open_journal(path, KINDS, clock=lambda: clock[0])
setting = FeedSetting.model_validate({"name": "drop", "from": str(folder)})
runner = FeedRunner(setting, FolderTransport(folder), journal, threading.Event())
held, idle = [], 0
while idle < 4:
    clock[0] += timedelta(seconds=3)
    before = runner.state.files
    runner.step()
    idle = 0 if runner.state.files > before else idle + 1
    held.append((runner.state.records, runner.state.rejects, held_bytes()))
records = sum(1 for _ in journal.read(["weather.observation"], journal.head()[0]))
print(json.dumps({"held": held, "revision": journal.revision(), "weather": records,
                  "rejects": sum(journal.reject_counts().values())}))
journal.close()
"""


def summed(body: str) -> str:
    return f"${body}*{reduce(xor, body.encode(), 0):02X}"


def sentences(count: int = 4_000) -> list[str]:
    rng = np.random.default_rng(21)
    return [
        encode_dict(
            {"msg_type": int(rng.choice([1, 1, 3, 18])), "mmsi": str(299_000_000 + number),
             "lat": float(rng.uniform(48, 52)), "lon": float(rng.uniform(-12, -4)),
             "speed": round(float(rng.uniform(0, 20)), 1),
             "course": round(float(rng.uniform(0, 359.9)), 1),
             "heading": int(rng.integers(0, 360))},
            radio_channel="A", sentence_type="VDM",
        )[0]
        for number in range(count)
    ]  # fmt: skip


def written(folder: Path, size: int) -> tuple[int, int, int]:
    """Write logs, tables and buoy text of a size; return fixes, observations and broken lines."""
    said, at = sentences(), BEGUN
    fixes = seen = broken = 0
    for number in range(FILES):
        sort, length = number % 4, 0
        name = {0: "log", 1: "log", 2: "csv", 3: "txt"}[sort]
        with (folder / f"m{number:02d}.{name}").open("w") as file:
            if sort == 2:
                file.write("mmsi,time,lat,lon,sog (m/s)\n")
            elif sort == 3:
                file.write(BUOY)
            # a buoy's file is never as long as a ship's log
            while length < (size // FILES if sort < 3 else min(size // FILES, 300_000)):
                at += timedelta(seconds=20)
                if sort < 2:
                    start = (fixes * 7) % (len(said) - BLOCK)
                    lines = [summed(f"GPZDA,{at:%H%M%S}.00,{at:%d,%m,%Y},00,00"), "x broken"]
                    lines += said[start : start + BLOCK]
                    fixes, broken = fixes + BLOCK, broken + 1
                elif sort == 2:
                    lines = [
                        f"{299_000_000 + row},{at:%Y-%m-%dT%H:%M:%SZ},49.{row:04d},-8.25,5.1"
                        for row in range(BLOCK)
                    ]
                    lines.append(f"299000101,{at:%Y-%m-%dT%H:%M:%SZ},95.0,-8.25,5.1")
                    fixes, broken = fixes + BLOCK, broken + 1
                else:
                    at += timedelta(minutes=10)
                    lines = [f"{at:%Y %m %d %H %M} {MEASURED}"]
                    seen += 1
                text = "\n".join(lines) + "\n"
                file.write(text)
                length += len(text)
    return fixes, seen, broken


@pytest.mark.parametrize(
    "size",
    [
        pytest.param(2 * 1024**2, id="2-MB"),
        pytest.param(
            130 * 1024**2, id="100-MB", marks=[pytest.mark.long, pytest.mark.timeout(3_600)]
        ),
    ],
)
def test_mixed_logs_are_all_read_and_memory_does_not_climb(tmp_path: Path, size: int) -> None:
    drop = tmp_path / "drop"
    drop.mkdir()
    fixes, seen, broken = written(drop, size)
    whole = sum(path.stat().st_size for path in drop.iterdir())
    done = subprocess.run(
        [sys.executable, "-c", READER, str(drop), str(tmp_path / "j.sqlite")],
        cwd=ROOT, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr.decode()[-2_000:]
    found = json.loads(done.stdout)
    assert (found["revision"], found["weather"], found["rejects"]) == (fixes + seen, seen, broken)
    held = [step[2] / 1024**2 for step in found["held"]]
    read_mb = [step[0] / found["revision"] * whole / 1024**2 for step in found["held"]]
    half = len(held) // 2
    slope = float(np.polyfit(read_mb[half:], held[half:], 1)[0]) if size > 100 * 1024**2 else 0.0
    print(
        f"\n{whole / 1024**2:.0f} MB in {FILES} files, {found['revision']} facts: at most "
        f"{max(held):.0f} MB held, slope of the second half {slope * 100:+.1f} MB for 100 MB read"
    )
    assert max(held) < 500.0
    assert slope * 100 < 30.0
