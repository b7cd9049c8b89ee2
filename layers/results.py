"""Results shared between the processes: computed once, found by everybody under their key.

A small SQLite file in the data folder, made anew whenever the program's code changes. It can be
deleted at any time: everything in it follows from the journal.
"""

from __future__ import annotations

import hashlib
import logging
import pickle  # nosec B403 - only this program's own results, in files of its own
import shutil
import sqlite3
import threading
import time
from collections.abc import Iterable, Iterator, Mapping, MutableMapping
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from layers import ours
from layers.contract import Moment, Shown, Unavailable
from layers.earth.clock import from_us, to_us
from layers.journal.releases.rules import WATCH, Release, with_cuts

log = logging.getLogger(__name__)

Result = Shown | Unavailable
MAX_BYTES = 1_000_000_000
TRIM_STEP, TRIM_AT_MOST_S = 100, 1.0  # rows thrown away at once; seconds
ASKED_FOR_S = 60.0  # a wish that old is no longer anybody's
SPARE = 2  # beside 0 and 1, the quick and the slow layers: what may wait until there is time
BY_TIME = -1


@lru_cache(maxsize=1)
def code_key() -> str:
    """Return a digest of the program's own source: other code, other results."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _throw_old_away(place: Path, mine: str) -> None:
    """Throw away what an older program kept, a day after it was last used."""
    for old in place.glob("results-*"):
        if old.name.startswith(mine) or time.time() - old.stat().st_mtime <= 86400:
            continue
        if old.is_dir():
            shutil.rmtree(old, ignore_errors=True)
        else:
            old.unlink(missing_ok=True)


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
    Safe to share between threads. A result that cannot be read counts as not there, and so does
    one that somebody else could have written (`layers.ours`). The database holds names and ages
    only; what is pickled lies in files.
    """

    def __init__(self, folder: Path, journal_key: str) -> None:
        place = folder / "cache"
        place.mkdir(parents=True, exist_ok=True, mode=0o700)
        name = hashlib.sha256(f"{journal_key} {code_key()}".encode()).hexdigest()[:16]
        self.path = place / f"results-{name}.sqlite"
        self.kept = place / f"results-{name}"
        self.kept.mkdir(exist_ok=True, mode=0o700)
        _throw_old_away(place, self.path.stem)
        self._local = threading.local()
        with self._patiently() as connection:
            connection.execute(
                "CREATE TABLE IF NOT EXISTS results (key TEXT PRIMARY KEY, size INTEGER, used REAL)"
            )
            connection.execute(
                "CREATE INDEX IF NOT EXISTS results_by_age ON results (used, size, key)"
            )
            connection.execute(
                "CREATE TABLE IF NOT EXISTS wanted "
                "(as_of_us INTEGER, at_us INTEGER, upto INTEGER, slow INTEGER, cuts TEXT, "
                "asked REAL, PRIMARY KEY (as_of_us, at_us, upto, slow, cuts))"
            )

    def _patiently(self) -> sqlite3.Connection:
        """Open it; several processes do so at once at the first start, and one at a time may."""
        for wait_s in (0.2, 0.5, 1.0, 2.0):
            try:
                return self._open()
            except sqlite3.OperationalError:
                time.sleep(wait_s)
        return self._open()

    def _open(self) -> sqlite3.Connection:
        held: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if held is None:
            held = sqlite3.connect(self.path, timeout=10.0, isolation_level=None)
            try:
                held.execute("PRAGMA journal_mode=WAL")
                held.execute("PRAGMA synchronous=OFF")  # all of it can be computed again
            except sqlite3.Error:
                held.close()
                raise
            self._local.connection = held
        return held

    def __getitem__(self, key: str) -> Result:
        if key not in self:
            raise KeyError(key)
        try:
            found = pickle.loads(ours.read(self._file(key)))  # nosec B301 - our own, see there
        except FileNotFoundError:
            raise KeyError(key) from None
        except Exception as fault:  # a half-written or foreign row: compute it again
            log.warning("a kept result could not be read: %s", fault)
            raise KeyError(key) from None
        if not isinstance(found, Shown | Unavailable):
            raise KeyError(key)
        return found

    def size(self, key: str) -> int:
        """Return how many bytes a result takes on disk, 0 when it is gone."""
        try:
            return self._file(key).stat().st_size
        except OSError:
            return 0

    def __setitem__(self, key: str, value: Result) -> None:
        content = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
        try:
            ours.write(self._file(key), content)
        except OSError as fault:  # a full disk: it is computed again when it is asked for
            log.warning("a result could not be kept: %s", fault)
            return
        self._ask(
            "INSERT OR REPLACE INTO results VALUES (?, ?, ?)", (key, len(content), time.time())
        )

    def __delitem__(self, key: str) -> None:
        self._ask("DELETE FROM results WHERE key = ?", (key,))
        self._file(key).unlink(missing_ok=True)

    def _file(self, key: str) -> Path:
        return self.kept / hashlib.sha256(key.encode()).hexdigest()[:40]

    def __iter__(self) -> Iterator[str]:
        return (row[0] for row in self._ask("SELECT key FROM results"))

    def __len__(self) -> int:
        return sum(row[0] for row in self._ask("SELECT count(*) FROM results"))

    def __contains__(self, key: object) -> bool:
        return bool(self._ask("SELECT 1 FROM results WHERE key = ?", (key,)))

    def _ask(self, question: str, values: tuple[Any, ...] = ()) -> list[Any]:
        """Ask the cache; a disk that is full or broken means that it holds and takes nothing."""
        try:
            return self._open().execute(question, values).fetchall()
        except sqlite3.Error as fault:
            log.warning("kept results can not be used: %s", fault)
            return []

    def there(self, keys: Iterable[str]) -> bool:
        """Return whether all of these results are there."""
        return all(key in self for key in keys)

    def found(self, keys: Mapping[str, str]) -> dict[str, Result]:
        """Return, per layer, the results that are there."""
        return {layer: result for layer, key in keys.items() if (result := self.get(key))}

    def ask(
        self,
        moment: Moment,
        upto_seq: int | None = None,
        *,
        slow: bool = False,
        spare: bool = False,
        release: Release = WATCH,
    ) -> None:
        """Ask for the picture of a moment: its quick layers, or its slow ones, for a release.

        ``spare`` asks for quick ones of whichever process of the slow layers has time to spare.
        ``upto_seq`` is the last record it is made of, without it the last recorded by then: what
        a release sees of ships goes on while the moment it is shown stands still.
        """
        upto = BY_TIME if upto_seq is None else upto_seq
        self._ask(
            "INSERT OR REPLACE INTO wanted VALUES (?, ?, ?, ?, ?, ?)",
            (
                to_us(moment.as_of),
                to_us(moment.at),
                upto,
                SPARE if spare else slow,
                release.cuts,
                time.time(),
            ),
        )

    def wanted(
        self, *, slow: bool = False, spare: bool = False
    ) -> tuple[Moment, Release, int | None] | None:
        """Return what was asked for last and take it off the list, None when there is nothing."""
        oldest = time.time() - ASKED_FOR_S
        sort = SPARE if spare else int(slow)
        rows = self._ask(
            "SELECT as_of_us, at_us, upto, cuts FROM wanted WHERE slow = ? AND asked >= ? "
            "ORDER BY asked DESC LIMIT 1",
            (sort, oldest),
        )
        if not rows:
            return None
        as_of_us, at_us, upto, cuts = rows[0]
        self._ask("DELETE FROM wanted WHERE asked < ?", (oldest,))
        self._ask(
            "DELETE FROM wanted "
            "WHERE as_of_us = ? AND at_us = ? AND upto <= ? AND cuts = ? AND slow = ?",
            (as_of_us, at_us, upto, cuts, sort),  # what was asked for before is overtaken
        )
        moment = Moment(from_us(as_of_us), from_us(at_us))
        return moment, with_cuts(cuts), None if upto == BY_TIME else upto

    def trim(self, most_bytes: int = MAX_BYTES, most_s: float = TRIM_AT_MOST_S) -> None:
        """Throw the oldest away until what is left fits, or until that has taken long enough.

        Viewers wait for the process that does this; the rest goes the next time.
        """
        end = time.monotonic() + most_s
        sums = self._ask("SELECT coalesce(sum(size), 0) FROM results INDEXED BY results_by_age")
        total = sums[0][0] if sums else 0
        while total > most_bytes and time.monotonic() < end:
            oldest = self._ask(
                "SELECT key, size FROM results INDEXED BY results_by_age ORDER BY used LIMIT ?",
                (TRIM_STEP,),
            )
            if not oldest:
                return
            for key, size in oldest:
                if total <= most_bytes:
                    break
                del self[key]
                total -= size

    def wait_for(
        self,
        keys: Iterable[str],
        moment: Moment,
        wait_s: float,
        release: Release = WATCH,
        upto_seq: int | None = None,
    ) -> bool:
        """Ask for a moment and wait until its results are there; return whether they are."""
        keys = tuple(keys)
        if self.there(keys):
            return True
        self.ask(moment, upto_seq, release=release)
        end = time.monotonic() + wait_s
        while time.monotonic() < end:
            time.sleep(0.05)
            if self.there(keys):
                return True
        return False


def minute_of(at: datetime) -> datetime:
    """Return the whole minute in which a time lies; results are kept to that grain."""
    return at.replace(second=0, microsecond=0)
