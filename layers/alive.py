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


def is_alive(folder: Path, name: str, now: datetime) -> bool:
    """Return whether a process gave a sign of life within the last ten seconds."""
    last = last_beat(folder, name)
    return last is not None and abs((now - last.at).total_seconds()) <= GONE_AFTER_S


def gone_words(folder: Path, name: str, now: datetime) -> str:
    """Return a sentence when a process is gone, with since when; empty while it lives."""
    if is_alive(folder, name, now):
        return ""
    last = last_beat(folder, name)
    said = NAMES.get(name, name)
    if last is None:
        return f"the {said} is not running"
    return f"the {said} is gone, last heard {duration_words(now - last.at)} ago"


def end(folder: Path, name: str) -> None:
    """Take the sign of life away, when a process ends as it should."""
    (folder / "alive" / f"{name}.json").unlink(missing_ok=True)
