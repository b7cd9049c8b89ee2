"""The computing process: each new record's picture, computed once for all who look at it.

``python -m layers.worker`` is started by ``python -m dashboard`` beside the feed reader and the
web server, so that a datum that takes seconds holds up nobody. It also answers what viewers ask
for who have moved in time, keeps the exercise's clock, plays the exercise on, and raises the
alarms that the watch has set.
"""

from __future__ import annotations

import argparse
import logging
import signal
import sys
import time
from collections.abc import Callable, Iterator, MutableMapping
from datetime import UTC, datetime, timedelta
from pathlib import Path

from layers import alive
from layers.alarming import Alarms
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.errors import JournalError, MusterplotError
from layers.journal.known import Known
from layers.journal.naming import data_folder, default_url
from layers.journal.store import Journal, open_journal
from layers.picture import Picture, picture, result_keys
from layers.results import Result, Results

__all__ = ["Results", "Shelved", "Worker", "keys_of", "looked_up", "main"]

log = logging.getLogger(__name__)

POLL_S = 0.5
KEEP_CLOCK_S = 15.0
TRIM_S = 300.0
COMPARED_WITH = timedelta(hours=1)  # alarms on change compare with the picture an hour ago


def keys_of(journal: Journal, moment: Moment) -> dict[str, str]:
    """Return, per layer, the key of its result at a moment."""
    upto_seq = journal.seq_at(moment.as_of)
    return result_keys(Known(journal, KINDS, upto_seq, moment.as_of), moment)


class Shelved(MutableMapping[str, Result]):
    """Results held in memory in front of those that all processes share.

    Parameters
    ----------
    memory : mutable mapping
        This process's own; what is found behind is put there too.
    behind : Results
        Shared by all processes.
    """

    def __init__(self, memory: MutableMapping[str, Result], behind: Results) -> None:
        self.memory = memory
        self.behind = behind

    def __getitem__(self, key: str) -> Result:
        found = self.memory.get(key)
        if found is None:
            found = self.memory[key] = self.behind[key]
        return found

    def __setitem__(self, key: str, value: Result) -> None:
        self.memory[key] = value
        self.behind[key] = value

    def __delitem__(self, key: str) -> None:
        self.memory.pop(key, None)
        del self.behind[key]

    def __iter__(self) -> Iterator[str]:
        return iter({*self.memory, *self.behind})

    def __len__(self) -> int:
        return len({*self.memory, *self.behind})

    def __contains__(self, key: object) -> bool:
        return key in self.memory or key in self.behind


def looked_up(
    journal: Journal, moment: Moment, kept: Shelved, folder: Path, wait_s: float
) -> Picture | None:
    """Return the picture of a moment for a viewer, None while it is being computed.

    Parameters
    ----------
    journal : Journal
        For reading.
    moment : Moment
        The two times.
    kept : Shelved
        Where results are found; the computing process puts them behind.
    folder : Path
        The data folder, for the computing process's sign of life. When it gives none, the
        picture is computed here.
    wait_s : float
        How long the viewer may wait.
    """
    keys = keys_of(journal, moment)
    if (
        not all(key in kept for key in keys.values())
        and alive.is_alive(folder, "worker", datetime.now(UTC))
        and not kept.behind.wait_for(keys.values(), moment, wait_s)
    ):
        return None
    return picture(journal, moment, journal.seq_at(moment.as_of), kept=kept)


class Worker:
    """Computes what is new and what was asked for.

    Parameters
    ----------
    journal : Journal
        Opened for writing: alarms are records.
    results : Results
        Where the results go.
    folder : Path
        The data folder, for the sign of life.
    play : callable, optional
        Appends what the exercise brings by now.
    """

    def __init__(
        self,
        journal: Journal,
        results: Results,
        folder: Path,
        play: Callable[[], int] | None = None,
    ) -> None:
        self.journal = journal
        self.results = results
        self.folder = folder
        self._play = play
        self._alarms = Alarms(journal)
        self._done: tuple[int, datetime] | None = None
        self._next: dict[str, float] = {}

    def step(self) -> bool:
        """Do the most urgent thing there is; return whether there was anything."""
        self._now_and_then("beat", alive.BEAT_S, self._beat)
        self._now_and_then("clock", KEEP_CLOCK_S, self._keep_clock)
        self._now_and_then("trim", TRIM_S, self.results.trim)
        if self._play is not None:
            self._play()
        revision = self.journal.revision()
        now = self.journal.now()
        minute = now.replace(second=0, microsecond=0)
        if self._done != (revision, minute):
            self._done = (revision, minute)
            self._compute_now(now)
            return True
        asked = self.results.wanted()
        if asked is None:
            return False
        self.compute(asked)
        return True

    def compute(self, moment: Moment) -> Picture:
        """Compute the picture of a moment into the results."""
        self._beat()
        return picture(self.journal, moment, self.journal.seq_at(moment.as_of), kept=self.results)

    def _compute_now(self, now: datetime) -> None:
        made = self.compute(Moment(now, now))
        earlier = now - COMPARED_WITH

        def compared() -> Picture:
            return self.compute(Moment(earlier, earlier))

        self._alarms.raise_due(made, compared)

    def _keep_clock(self) -> None:
        if self.journal.exercise:
            self.journal.keep_clock()

    def _beat(self) -> None:
        alive.beat(self.folder, "worker", datetime.now(UTC))

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


def main() -> int:
    """Run until told to end."""
    parser = argparse.ArgumentParser(prog="python -m layers.worker")
    parser.add_argument("--journal", metavar="URL", default=None)
    arguments = parser.parse_args()
    logging.basicConfig(level=logging.INFO, format="worker: %(message)s")
    ending: list[int] = []
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda number, _frame: ending.append(number))
    folder = data_folder()
    try:
        journal = open_journal(arguments.journal or default_url(), KINDS)
        results = Results(folder, journal.key)
        worker = Worker(journal, results, folder, player(journal))
    except MusterplotError as reason:
        sys.stderr.write(f"worker: {reason}\n")
        return 2
    while not ending:
        try:
            busy = worker.step()
        except JournalError as reason:  # locked or cut off: it may come back
            log.warning("%s", reason)
            busy = False
            time.sleep(2.0)
        if not busy:
            time.sleep(POLL_S)
    alive.end(folder, "worker")
    journal.close()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
