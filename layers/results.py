"""Results shared between the processes: computed once, found by everybody under their key.

A small SQLite file in the data folder, made anew whenever the program's code changes. It can be
deleted at any time: everything in it follows from the journal.
"""

from __future__ import annotations

import hashlib
import logging
import pickle  # nosec B403 - only this program's own results, in the user's own folder
import sqlite3
import threading
import time
from collections.abc import Iterable, Iterator, Mapping, MutableMapping
from datetime import datetime
from functools import lru_cache
from pathlib import Path

from layers.contract import Moment, Shown, Unavailable
from layers.earth.clock import from_us, to_us
from layers.journal.releases.rules import WATCH, Release, with_cuts

log = logging.getLogger(__name__)

Result = Shown | Unavailable
MAX_BYTES = 1_000_000_000
TRIM_STEP, TRIM_AT_MOST_S = 100, 1.0  # rows thrown away at once; seconds
ASKED_FOR_S = 60.0  # a wish that old is no longer anybody's


@lru_cache(maxsize=1)
def code_key() -> str:
    """Return a digest of the program's own source: other code, other results."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


class Results(MutableMapping[str, Result]):
    """The results of one journal, shared by all processes of this computer.

    Parameters
    ----------
    folder : Path
        The data folder.
    journal_key : str
        Tells one journal from another.

    Notes
    -----
    Safe to share between threads. A result that cannot be read counts as not there. The folder
    is the user's own: whoever can write there can also change the program.
    """

    def __init__(self, folder: Path, journal_key: str) -> None:
        place = folder / "cache"
        place.mkdir(parents=True, exist_ok=True)
        name = hashlib.sha256(f"{journal_key} {code_key()}".encode()).hexdigest()[:16]
        self.path = place / f"results-{name}.sqlite"
        for old in place.glob("results-*.sqlite*"):
            if (
                not old.name.startswith(self.path.name)
                and time.time() - old.stat().st_mtime > 86400
            ):
                old.unlink(missing_ok=True)
        self._local = threading.local()
        with self._open() as connection:
            connection.execute(
                "CREATE TABLE IF NOT EXISTS results "
                "(key TEXT PRIMARY KEY, content BLOB NOT NULL, size INTEGER, used REAL)"
            )
            # holds all that `trim` asks: behind a content of megabytes a size is slow to reach
            connection.execute(
                "CREATE INDEX IF NOT EXISTS results_by_age ON results (used, size, key)"
            )
            connection.execute(
                "CREATE TABLE IF NOT EXISTS wanted "
                "(as_of_us INTEGER, at_us INTEGER, slow INTEGER, cuts TEXT, asked REAL, "
                "PRIMARY KEY (as_of_us, at_us, slow, cuts))"
            )

    def _open(self) -> sqlite3.Connection:
        held: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if held is None:
            held = sqlite3.connect(self.path, timeout=10.0, isolation_level=None)
            held.execute("PRAGMA journal_mode=WAL")
            held.execute("PRAGMA synchronous=OFF")  # all of it can be computed again
            self._local.connection = held
        return held

    def __getitem__(self, key: str) -> Result:
        row = self._open().execute("SELECT content FROM results WHERE key = ?", (key,)).fetchone()
        if row is None:
            raise KeyError(key)
        try:
            found = pickle.loads(row[0])  # nosec B301 - see the class's notes
        except Exception as fault:  # a half-written or foreign row: compute it again
            log.warning("a kept result could not be read: %s", fault)
            raise KeyError(key) from None
        if not isinstance(found, Shown | Unavailable):
            raise KeyError(key)
        return found

    def __setitem__(self, key: str, value: Result) -> None:
        content = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
        self._open().execute(
            "INSERT OR REPLACE INTO results VALUES (?, ?, ?, ?)",
            (key, content, len(content), time.time()),
        )

    def __delitem__(self, key: str) -> None:
        self._open().execute("DELETE FROM results WHERE key = ?", (key,))

    def __iter__(self) -> Iterator[str]:
        return (row[0] for row in self._open().execute("SELECT key FROM results").fetchall())

    def __len__(self) -> int:
        return int(self._open().execute("SELECT count(*) FROM results").fetchone()[0])

    def __contains__(self, key: object) -> bool:
        row = self._open().execute("SELECT 1 FROM results WHERE key = ?", (key,)).fetchone()
        return row is not None

    def there(self, keys: Iterable[str]) -> bool:
        """Return whether all of these results are there."""
        return all(key in self for key in keys)

    def found(self, keys: Mapping[str, str]) -> dict[str, Result]:
        """Return, per layer, the results that are there."""
        return {layer: result for layer, key in keys.items() if (result := self.get(key))}

    def ask(self, moment: Moment, *, slow: bool = False, release: Release = WATCH) -> None:
        """Ask for the picture of a moment: its quick layers, or its slow ones, for a release."""
        self._open().execute(
            "INSERT OR REPLACE INTO wanted VALUES (?, ?, ?, ?, ?)",
            (to_us(moment.as_of), to_us(moment.at), slow, release.cuts, time.time()),
        )

    def wanted(self, *, slow: bool = False) -> tuple[Moment, Release] | None:
        """Return what was asked for last and take it off the list, None when there is nothing."""
        connection = self._open()
        oldest = time.time() - ASKED_FOR_S
        row = connection.execute(
            "SELECT as_of_us, at_us, cuts FROM wanted WHERE slow = ? AND asked >= ? "
            "ORDER BY asked DESC LIMIT 1",
            (slow, oldest),
        ).fetchone()
        if row is None:
            return None
        connection.execute("DELETE FROM wanted WHERE asked < ?", (oldest,))
        connection.execute(
            "DELETE FROM wanted WHERE as_of_us = ? AND at_us = ? AND cuts = ? AND slow = ?",
            (*row, slow),
        )
        return Moment(from_us(row[0]), from_us(row[1])), with_cuts(row[2])

    def trim(self, most_bytes: int = MAX_BYTES, most_s: float = TRIM_AT_MOST_S) -> None:
        """Throw the oldest away until what is left fits, or until that has taken long enough.

        Viewers wait for the process that does this; the rest goes the next time.
        """
        connection = self._open()
        end = time.monotonic() + most_s
        total = connection.execute(
            "SELECT coalesce(sum(size), 0) FROM results INDEXED BY results_by_age"
        ).fetchone()[0]
        while total > most_bytes and time.monotonic() < end:
            oldest = connection.execute(
                "SELECT key, size FROM results INDEXED BY results_by_age ORDER BY used LIMIT ?",
                (TRIM_STEP,),
            ).fetchall()
            gone = []
            for key, size in oldest:
                if total <= most_bytes:
                    break
                gone.append((key,))
                total -= size
            connection.execute("BEGIN IMMEDIATE")
            connection.executemany("DELETE FROM results WHERE key = ?", gone)
            connection.execute("COMMIT")

    def wait_for(
        self, keys: Iterable[str], moment: Moment, wait_s: float, release: Release = WATCH
    ) -> bool:
        """Ask for a moment and wait until its results are there; return whether they are."""
        keys = tuple(keys)
        if self.there(keys):
            return True
        self.ask(moment, release=release)
        end = time.monotonic() + wait_s
        while time.monotonic() < end:
            time.sleep(0.05)
            if self.there(keys):
                return True
        return False


def minute_of(at: datetime) -> datetime:
    """Return the whole minute in which a time lies; results are kept to that grain."""
    return at.replace(second=0, microsecond=0)
