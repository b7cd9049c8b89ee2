"""Signs of life: a process that was killed is known at once, one that hangs after ten seconds."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from layers.alive import beat, gone_words, is_alive
from layers.earth.clock import to_us

NOW = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)


def test_a_process_that_beats_lives_and_one_that_hangs_does_not(tmp_path: Path) -> None:
    beat(tmp_path, "feeds", NOW)
    assert is_alive(tmp_path, "feeds", NOW + timedelta(seconds=9))
    assert gone_words(tmp_path, "feeds", NOW + timedelta(seconds=9)) == ""
    assert not is_alive(tmp_path, "feeds", NOW + timedelta(seconds=11))


def test_one_that_never_beat_is_not_running(tmp_path: Path) -> None:
    assert gone_words(tmp_path, "feeds", NOW) == "the feed reader is not running"


@pytest.mark.skipif(sys.platform != "linux", reason="signal 0 and /proc are asked on Linux")
@pytest.mark.parametrize("buried", [True, False])
def test_one_that_was_killed_is_gone_at_once(tmp_path: Path, *, buried: bool) -> None:
    process = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
    beat(tmp_path, "feeds", NOW)
    place = tmp_path / "alive" / "feeds.json"
    place.write_text(json.dumps({"at_us": to_us(NOW), "pid": process.pid, "note": ""}))
    assert is_alive(tmp_path, "feeds", NOW)
    process.kill()
    if buried:
        process.wait()
    else:  # its parent has not asked for it yet: a line in the table of processes is left
        while "Z" not in Path(f"/proc/{process.pid}/stat").read_text().rpartition(")")[2]:
            pass
    said = gone_words(tmp_path, "feeds", NOW + timedelta(seconds=3))
    assert said == "the feed reader is gone, last heard 3 s ago"
    process.wait()
