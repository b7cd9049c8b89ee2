"""The computing process: each new record's picture, computed once for all who look at it.

``python -m layers.worker`` is started by ``python -m dashboard`` beside the feed reader and the
web server, so that a datum that takes seconds holds up nobody. It also answers what viewers ask
for who have moved in time, keeps the exercise's clock, plays the exercise on, and raises the
alarms that the watch has set.
"""

from __future__ import annotations

import argparse
import contextlib
import logging
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from layers import alive
from layers.alarming import COMPARED_WITH, Alarms
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.errors import JournalError, MusterplotError
from layers.journal.known import Known
from layers.journal.naming import data_folder, default_url
from layers.journal.store import Journal, open_journal
from layers.picture import Picture, picture, result_keys
from layers.results import Results

__all__ = ["Results", "Worker", "keys_of", "main"]

log = logging.getLogger(__name__)

POLL_S = 0.5
KEEP_CLOCK_S = 15.0
TRIM_S = 300.0


def keys_of(journal: Journal, moment: Moment) -> dict[str, str]:
    """Return, per layer, the key of its result at a moment."""
    upto_seq = journal.seq_at(moment.as_of)
    return result_keys(Known(journal, KINDS, upto_seq, moment.as_of), moment)


class Worker:
    """Computes what is new and what was asked for.

    Parameters
    ----------
    journal : Journal
        Opened for writing: alarms are records.
    results : Results
        Where the results go.
    play : callable, optional
        Appends what the exercise brings by now.
    """

    def __init__(
        self,
        journal: Journal,
        results: Results,
        play: Callable[[], int] | None = None,
    ) -> None:
        self.journal = journal
        self.results = results
        self._play = play
        self._alarms = Alarms(journal)
        self._done: tuple[int, datetime] | None = None
        self._next: dict[str, float] = {}

    def step(self) -> bool:
        """Do the most urgent thing there is; return whether there was anything."""
        self._now_and_then("clock", KEEP_CLOCK_S, self._keep_clock)
        self._now_and_then("trim", TRIM_S, self.results.trim)
        if self._play is not None:
            self._play()
        asked = self.results.wanted()
        if asked is not None:  # somebody waits; a busy feed must not keep them waiting
            self.compute(asked)
        revision = self.journal.revision()
        now = self.journal.now()
        minute = now.replace(second=0, microsecond=0)
        if self._done == (revision, minute):
            return asked is not None
        self._done = (revision, minute)
        self._compute_now(now)
        return True

    def compute(self, moment: Moment) -> Picture:
        """Compute the picture of a moment into the results."""
        return picture(self.journal, moment, self.journal.seq_at(moment.as_of), kept=self.results)

    def _compute_now(self, now: datetime) -> None:
        made = self.compute(Moment(now, now))
        earlier = now - COMPARED_WITH
        self._alarms.raise_due(made, lambda: self.compute(Moment(earlier, earlier)))

    def _keep_clock(self) -> None:
        if self.journal.exercise:
            self.journal.keep_clock()

    def _now_and_then(self, name: str, every_s: float, work: Callable[[], None]) -> None:
        at = time.monotonic()
        if at >= self._next.get(name, 0.0):
            self._next[name] = at + every_s
            work()


def player(journal: Journal) -> Callable[[], int] | None:
    """Return what plays the exercise on, None for a journal that is not the exercise."""
    from demo_data.load import Player
    from demo_data.scenario import NAME

    if not journal.exercise or journal.name != NAME:
        return None
    return Player(journal).play


def keep_beating(folder: Path, ending: threading.Event) -> None:
    """Give a sign of life until told to end, also while something long is computed."""
    while not ending.wait(alive.BEAT_S):
        with contextlib.suppress(OSError):  # a full disk must not end the computing
            alive.beat(folder, "worker", datetime.now(UTC))


def main() -> int:
    """Run until told to end."""
    parser = argparse.ArgumentParser(prog="python -m layers.worker")
    parser.add_argument("--journal", metavar="URL", default=None)
    arguments = parser.parse_args()
    logging.basicConfig(level=logging.INFO, format="worker: %(message)s")
    ending = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda _number, _frame: ending.set())
    if hasattr(os, "nice"):
        os.nice(5)  # viewers and feeds come before the next picture
    folder = data_folder()
    try:
        journal = open_journal(arguments.journal or default_url(), KINDS)
        results = Results(folder, journal.key)
        worker = Worker(journal, results, player(journal))
    except MusterplotError as reason:
        sys.stderr.write(f"worker: {reason}\n")
        return 2
    beating = threading.Thread(target=keep_beating, args=(folder, ending), daemon=True)
    beating.start()
    while not ending.is_set():
        try:
            busy = worker.step()
        except JournalError as reason:  # locked or cut off: it may come back
            log.warning("%s", reason)
            busy = False
            ending.wait(2.0)
        if not busy:
            ending.wait(POLL_S)
    beating.join(alive.BEAT_S)
    alive.end(folder, "worker")
    journal.close()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
