"""Signs of life between the processes: a small file each, written anew every few seconds.

The wall can then say "the feed reader is gone" although nothing new is in the journal.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from layers.earth.clock import duration_words, from_us, to_us

BEAT_S = 2.0
GONE_AFTER_S = 10.0
NAMES = {"feeds": "feed reader", "worker": "computing process"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """The last sign of life of a process; ``note`` says what it was doing."""

    at: datetime
    pid: int
    note: str


def beat(folder: Path, name: str, now: datetime, note: str = "") -> None:
    """Give a sign of life.

    Parameters
    ----------
    folder : Path
        The data folder; the file is ``alive/<name>.json`` in it.
    name : str
        ``"feeds"`` or ``"worker"``.
    now : datetime
        The system's clock, UTC, not the exercise's.
    note : str
        What the process is doing, for the feeds page.
    """
    place = folder / "alive"
    place.mkdir(parents=True, exist_ok=True)
    text = json.dumps({"at_us": to_us(now), "pid": os.getpid(), "note": note})
    fresh = place / f"{name}.{os.getpid()}.part"
    fresh.write_text(text, encoding="utf-8")
    fresh.replace(place / f"{name}.json")


def last_beat(folder: Path, name: str) -> Beat | None:
    """Return the last sign of life of a process, None when there never was one."""
    try:
        found = json.loads((folder / "alive" / f"{name}.json").read_text("utf-8"))
        return Beat(at=from_us(found["at_us"]), pid=int(found["pid"]), note=str(found["note"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def has_come(folder: Path, name: str, since: datetime) -> bool:
    """Return whether a process gave a sign of life at a time or later."""
    last = last_beat(folder, name)
    return last is not None and last.at >= since


def is_alive(folder: Path, name: str, now: datetime) -> bool:
    """Return whether a process gave a sign of life within the last ten seconds and still runs."""
    last = last_beat(folder, name)
    if last is None or abs((now - last.at).total_seconds()) > GONE_AFTER_S:
        return False
    return _runs(last.pid)


def _runs(pid: int) -> bool:
    """Whether a process of this computer runs: what was killed is known at once, not in 10 s.

    Where the system has no such question (Windows: signal 0 ends a process) the beat decides.
    """
    if os.name != "posix" or pid <= 0:
        return True
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:  # it runs, under another name
        return True
    try:  # killed, and not yet buried by its parent
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except (OSError, IndexError):
        return True


def gone_words(folder: Path, name: str, now: datetime) -> str:
    """Return a sentence when a process is gone, with since when; empty while it lives."""
    if is_alive(folder, name, now):
        return ""
    last = last_beat(folder, name)
    said = NAMES.get(name, name)
    if last is None:
        return f"the {said} is not running"
    age_s = (now - last.at).total_seconds()
    age = f"{age_s:.0f} s" if 0.0 <= age_s < 120.0 else duration_words(now - last.at)
    return f"the {said} is gone, last heard {age} ago"


def end(folder: Path, name: str) -> None:
    """Take the sign of life away, when a process ends as it should."""
    (folder / "alive" / f"{name}.json").unlink(missing_ok=True)
