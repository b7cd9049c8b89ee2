"""Being told of new records instead of asking for them, by one thread of each process.

With PostgreSQL whoever records tells so in the same transaction, with no word about what: it is
told once that is committed (its manual, "NOTIFY" and "LISTEN"). Of a file SQLite keeps a number
that is another one as soon as another connection has written (its documentation, "PRAGMA
data_version"); looking at that costs a fiftieth of a question. Where neither can be had, who
wants to know asks each time, as without it.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.journal.tables.engine import plain_faults

if TYPE_CHECKING:
    from layers.journal.store import Journal

CHANNEL = "musterplot"
SURE_S = 1.0  # after which it is asked all the same: nothing may depend on one word
AGAIN_S = 1.0  # between two tries to listen
SILENT_S = 2.0  # that a record may stand there before its word comes
LOOK_S = 0.5  # after which the thread looks whether it is to end
FILE_S = 0.04  # between two looks at a file; they cost what ten questions a second did


def tell(connection: Connection) -> None:
    """Tell all who listen that something is new, once this transaction is committed."""
    if connection.dialect.name == "postgresql":
        connection.execute(sa.select(sa.func.pg_notify(CHANNEL, "")))


class NewRecords:
    """The last record of a journal, asked for only when something was told.

    Parameters
    ----------
    journal : Journal
        Asked for its revision; its database is listened to while somebody is to be woken.
    """

    def __init__(self, journal: Journal) -> None:
        self._journal = journal
        self.hears = False
        self._why = ""  # it does not hear
        self._untold = False  # a record came without a word
        self._count = 0  # of what was told
        self._seen = -1  # of these, when it was last asked
        self._last, self._asked_at = -1, 0.0
        self._unheard: tuple[int, float] | None = None  # a record whose word is still to come
        self._wakes: list[Callable[[], None]] = []
        self._ending, self._try = threading.Event(), threading.Event()
        self._hear = self._listen if journal.engine.dialect.name == "postgresql" else self._look

    @property
    def fault(self) -> str:
        """Why it is not told of new records, in words; empty while it is, or never could be."""
        if self._untold:
            return "records come without a word; is there a pool of connections in between?"
        return self._why

    def wake(self, wake: Callable[[], None]) -> None:
        """Call this, from another thread, whenever there may be something new."""
        self._wakes.append(wake)
        if len(self._wakes) == 1:
            threading.Thread(target=self._run, name="news", daemon=True).start()

    def revision(self) -> int:
        """Return the journal's revision, asked for only where it may have changed."""
        now, count = time.monotonic(), self._count
        quiet = self.hears and not self._untold and count == self._seen
        if quiet and now - self._asked_at < SURE_S:
            return self._last
        found = self._journal.revision()
        if self.hears and self._seen >= 0:
            self._compare(found, count, now)
        self._last, self._asked_at, self._seen = found, now, count
        return found

    def _compare(self, found: int, count: int, now: float) -> None:
        """Note whether what is new was told."""
        if count != self._seen:
            self._unheard, self._untold = None, False
        elif self._unheard is not None and now - self._unheard[1] > SILENT_S:
            self._untold = self._untold or count == self._unheard[0]
        elif self._unheard is None and found != self._last:
            self._unheard = (count, now)

    def try_again(self) -> None:
        """Try to listen now."""
        self._try.set()

    def end(self) -> None:
        """Listen no more."""
        self._ending.set()
        self._try.set()

    def _told(self) -> None:
        self._count += 1
        for wake in self._wakes:
            wake()

    def _run(self) -> None:
        while not self._ending.is_set():
            try:
                self._hear()
            except Exception as fault:  # whatever it was, it is asked meanwhile and tried again
                self._why = str(fault).partition("\n")[0] or type(fault).__name__
            self.hears = False
            self._told()
            self._try.wait(AGAIN_S)
            self._try.clear()

    @contextlib.contextmanager
    def _own(self) -> Iterator[Any]:
        """Give a connection that is nobody else's."""
        with plain_faults(self._journal.place):
            held = self._journal.engine.raw_connection()
            own: Any = held.driver_connection
            held.detach()
        with contextlib.closing(own):
            yield own

    def _begun(self) -> None:
        self.hears, self._why, self._unheard = True, "", None
        self._told()  # what came before is asked for

    def _listen(self) -> None:
        with self._own() as own:
            own.rollback()
            own.autocommit = True
            own.execute(f"LISTEN {CHANNEL}")
            self._begun()
            while not self._ending.is_set():
                for _ in own.notifies(timeout=LOOK_S, stop_after=1):
                    self._told()

    def _look(self) -> None:
        with self._own() as own:
            question = "PRAGMA data_version"
            before = own.execute(question).fetchone()
            self._begun()
            while not self._ending.wait(FILE_S):
                now = own.execute(question).fetchone()
                if now != before:
                    before = now
                    self._told()
