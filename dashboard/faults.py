"""What is wrong with this computer, in plain words: disk, journal, clock, sleep, an altered record.

One thread asks every second, for all viewers; a page shows what was found on its strip and
is woken when it changes. Asking reads and writes a few bytes beside the journal and takes the
writer's lock for a moment: what it finds is what a form would run into.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import sqlite3
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import streamlit as st

from dashboard import settings
from dashboard.cache import opened
from layers import checking
from layers.earth.clock import dtg, duration_words
from layers.earth.errors import MusterplotError
from layers.journal.integrity.fault import Fault
from layers.journal.store import Journal
from layers.journal.tables.engine import closed_to_writing, reading
from layers.journal.tables.news import NewRecords

ASK_S, ASK_AGAIN_S = 1.0, 0.5  # the second while a lock is looked at
FULL_BYTES, SCARCE_BYTES = 2_000_000, 200_000_000
LOCKED_S = 2.5  # a writer of a large file holds the lock for less
JUMP = timedelta(seconds=30)
TOLD_FOR = timedelta(minutes=10)  # that a sleep or a clock set anew is told
SLEEP_COUNTS = hasattr(time, "CLOCK_BOOTTIME")  # Linux; elsewhere a sleep looks like a clock set
PROBE = b"x" * 4096
NOT_RECORDED = "nothing can be recorded; what is typed stays in its form"


def boot_s() -> float:
    """Return seconds of a clock that runs on while the computer sleeps, where there is one."""
    return time.clock_gettime(time.CLOCK_BOOTTIME) if SLEEP_COUNTS else time.monotonic()


@dataclass(slots=True)
class Clocks:
    """Whether this computer stood still, or its clock was set."""

    wall: datetime | None = None
    boot_s: float = 0.0
    told: list[tuple[datetime, str]] = field(default_factory=list)

    def look(self, wall: datetime, boot: float) -> list[str]:
        """Compare both clocks with the last look; return what is to be told."""
        if self.wall is not None:
            went, passed = wall - self.wall, timedelta(seconds=boot - self.boot_s)
            if went - passed < -JUMP:
                back = duration_words(passed - went)
                self._tell(wall, f"The clock of this computer was set back by {back}; set it right")
            elif went - passed > JUMP and SLEEP_COUNTS:
                ahead = duration_words(went - passed)
                self._tell(wall, f"The clock of this computer was set forward by {ahead}; check it")
            elif went > JUMP:
                self._tell(
                    wall,
                    f"This computer stood still for {duration_words(went)}, until {dtg(wall)}: "
                    "feeds are catching up, ask for what was missed",
                )
        self.wall, self.boot_s = wall, boot
        self.told = [one for one in self.told if abs(wall - one[0]) < TOLD_FOR]
        return [text for _, text in self.told]

    def _tell(self, at: datetime, text: str) -> None:
        self.told.append((at, text))


def disk(folder: Path) -> Iterator[str]:
    """Say whether a folder's disk is full, nearly full, or can only be read."""
    probe = folder / f".probe-{os.getpid()}"
    try:
        free = shutil.disk_usage(folder).free
        probe.write_bytes(PROBE)
    except OSError as fault:
        if fault.errno in (errno.ENOSPC, errno.EDQUOT):
            yield f"The disk is full: {NOT_RECORDED}. Make room on the disk of {folder}"
        elif fault.errno == errno.EROFS:
            yield f"The disk can only be read: {NOT_RECORDED}. Look at the disk of {folder}"
        else:
            yield f"The folder {folder} can not be written ({fault.strerror}): {NOT_RECORDED}"
        return
    finally:
        with contextlib.suppress(OSError):
            probe.unlink(missing_ok=True)
    if free < FULL_BYTES:
        yield f"The disk is full: {NOT_RECORDED}. Make room on the disk of {folder}"
    elif free < SCARCE_BYTES:
        yield f"The disk is nearly full: {free / 1e6:.0f} MB are left on that of {folder}"


class File:
    """An SQLite journal's file: whether it is there, the same, and can be written."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._node = self._stat()
        self._locked_since: float | None = None

    def _stat(self) -> tuple[int, int] | None:
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_dev, found.st_ino

    @property
    def held(self) -> bool:
        """Whether another program held its lock when it was last looked at."""
        return self._locked_since is not None

    def look(self, now_s: float) -> Iterator[str]:
        """Say what is wrong with it."""
        node = self._stat()
        if node is None or node != self._node:
            yield (
                f"The journal's file {self.path} was taken away or exchanged: what is recorded now "
                "may be lost. End the program, put the file back, start again"
            )
            return
        why = self._writable()
        if why != "locked":
            self._locked_since = None
        if why == "locked":
            self._locked_since = self._locked_since or now_s
            if now_s - self._locked_since >= LOCKED_S:
                yield f"The journal is locked by another program: {NOT_RECORDED} until it lets go"
        elif why:
            yield f"The journal {why}: {NOT_RECORDED}"

    def _writable(self) -> str:
        try:
            address = f"{self.path.absolute().as_uri()}?mode=rw"
            with contextlib.closing(
                sqlite3.connect(address, uri=True, timeout=0.2, isolation_level=None)
            ) as probe:
                probe.execute("BEGIN IMMEDIATE")
                probe.execute("ROLLBACK")
        except sqlite3.OperationalError as fault:
            text = str(fault).lower()
            if "locked" in text or "busy" in text:
                return "locked"
            if "readonly" in text:
                return "can only be read"
            if "full" in text:
                return ""  # told as the disk's
            return f"can not be written ({fault})"
        except sqlite3.DatabaseError as fault:
            return f"is damaged ({fault}); keep this file, restore the last copy"
        return ""


class Faults:
    """What is wrong now; asked in a thread of its own."""

    def __init__(self, journal: Journal, folder: Path, news: NewRecords | None = None) -> None:
        self._journal, self._folder, self._news = journal, folder, news
        self._clocks = Clocks()
        database = journal.engine.dialect.name
        path = Path(journal.place.removeprefix("journal "))
        self._file = File(path) if database == "sqlite" else None
        self.now: tuple[str, ...] = ()
        self.altered: tuple[Fault, ...] = ()

    def look(self) -> tuple[str, ...]:
        """Ask everything once."""
        found = list(self._clocks.look(datetime.now(UTC), boot_s()))
        found += disk(self._folder)
        if self._file is not None:
            mine = self._file.path.absolute().parent
            if mine != self._folder.absolute():
                found += [text for text in disk(mine) if text not in found]
            found += self._file.look(time.monotonic())
        else:
            try:
                with reading(self._journal.engine, self._journal.place) as connection:
                    why = closed_to_writing(connection)
                if why:
                    found.append(f"The {self._journal.place} {why}: {NOT_RECORDED}")
                if self._news is not None and (unheard := self._news.fault):
                    found.append(
                        "This server is not told of new records by the database and asks for them "
                        f"instead; they come a little later ({unheard})"
                    )
            except MusterplotError as reason:
                found.append(f"{str(reason)[:1].upper()}{str(reason)[1:]}: {NOT_RECORDED}")
        checked = checking.last(self._journal, self._folder)
        self.altered = () if checked is None else checked.faults
        self.now = tuple(found)
        return self.now

    def run(self) -> None:
        """Ask again and again, for as long as the server lives."""
        while True:
            self.look()
            time.sleep(ASK_AGAIN_S if self._file is not None and self._file.held else ASK_S)


@st.cache_resource(show_spinner=False)
def _faults() -> Faults:
    made = Faults(opened.book(), settings.data_folder(), opened.news())
    threading.Thread(target=made.run, name="faults", daemon=True).start()
    return made


def found_now() -> tuple[str, ...]:
    """Return what is wrong with this computer; a page under test asks nothing of it."""
    return _faults().now if settings.has_worker() else ()


def altered_now() -> tuple[Fault, ...]:
    """Return what the last check of the journal found."""
    return _faults().altered if settings.has_worker() else ()
