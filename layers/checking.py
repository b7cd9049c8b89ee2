"""The journal is checked at the start and every hour, beside everything else.

The check reads all that was ever recorded, so it runs in a process of its own that gives way to
everything; the quick computing process starts it, and notes the head every minute. What it found
lies in a small file in the data folder for whoever shows it.
"""

from __future__ import annotations

import json
import logging
import os
import subprocess
import sys
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from layers.catalogue import KINDS
from layers.earth.clock import from_us, to_us
from layers.earth.errors import MusterplotError
from layers.journal.integrity import outside
from layers.journal.integrity.fault import Fault
from layers.journal.naming import DATABASE, data_folder, default_url
from layers.journal.store import Journal, open_journal

log = logging.getLogger(__name__)

FIRST_S, EVERY_S, NOTE_S = 20.0, 3600.0, 60.0
AGAIN_S = 60.0  # after a check that could not be made
NICE = 19


@dataclass(frozen=True, slots=True)
class Finding:
    """What the last check found, and when."""

    at: datetime
    faults: tuple[Fault, ...]


def _place(journal: Journal, folder: Path | None = None) -> Path:
    return outside.place_of(journal, folder).with_suffix(".found.json")


def last(journal: Journal, folder: Path | None = None) -> Finding | None:
    """Return what the last check of a journal found, None when there was none."""
    try:
        told = json.loads(_place(journal, folder).read_text("utf-8"))
        faults = tuple(Fault(*fault) for fault in told["faults"])
        return Finding(from_us(told["at_us"]), faults)
    except (OSError, ValueError, TypeError, KeyError):
        return None


def check(journal: Journal, folder: Path | None = None) -> Finding:
    """Check a journal and leave what was found for whoever shows it."""
    found, _ = outside.check(journal, folder)
    now = datetime.now(UTC)
    path = _place(journal, folder)
    part = path.with_suffix(f".{os.getpid()}.part")
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    part.touch(mode=0o600)
    part.write_text(json.dumps({"at_us": to_us(now), "faults": found.faults}), "utf-8")
    part.replace(path)
    return Finding(now, found.faults)


class Checking:
    """Starts the check now and then, and notes the head in between.

    Parameters
    ----------
    journal : Journal
        The one that is checked.
    url : str
        Its address; it is handed to the check by the environment, since it may hold a password.
    """

    def __init__(self, journal: Journal, url: str) -> None:
        self._journal, self._url = journal, url
        self._running: subprocess.Popen[bytes] | None = None
        self._next_check = time.monotonic() + FIRST_S
        self._next_note = time.monotonic() + NOTE_S

    def tend(self) -> None:
        """Start what is due; nothing waits for it."""
        now = time.monotonic()
        if self._running is not None and (ended := self._running.poll()) is not None:
            self._running = None
            if ended:
                self._next_check = min(self._next_check, now + AGAIN_S)
        if now >= self._next_check and self._running is None:
            self._next_check = now + EVERY_S
            self._running = subprocess.Popen(
                [sys.executable, "-m", "layers.checking"],
                cwd=Path(__file__).resolve().parent.parent,
                env={**os.environ, DATABASE: self._url},
                stdin=subprocess.DEVNULL,
            )
        if now >= self._next_note:
            self._next_note = now + NOTE_S
            outside.note_head(self._journal)

    def end(self) -> None:
        """End a check that runs."""
        if self._running is not None and self._running.poll() is None:
            self._running.terminate()
            self._running.wait(5)


def main() -> int:
    """Check the journal that the environment names."""
    logging.basicConfig(level=logging.INFO, format="check of the journal: %(message)s")
    if hasattr(os, "nice"):
        os.nice(NICE)
    try:
        journal = open_journal(default_url(), KINDS, create=False, readonly=True)
        found = check(journal, data_folder())
        journal.close()
    except (MusterplotError, OSError) as reason:
        log.warning("it could not be made: %s", reason)
        return 1
    for fault in found.faults:
        log.warning("%s", fault.words())
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
