"""The computing processes: each new record's picture, computed once for all who look at it.

``python -m dashboard`` starts two beside the feed reader and the web server, so that a margin
that takes seconds holds up neither a viewer nor a moved ship: ``python -m layers.worker --part
quick`` and ``--part slow``. Both also answer what viewers ask for who have moved in time; the
quick one keeps the exercise's clock, plays the exercise on, and raises the alarms that the watch
has set. Without ``--part`` one process does it all.
"""

from __future__ import annotations

import argparse
import contextlib
import logging
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from enum import StrEnum
from functools import partial
from pathlib import Path

from layers import alive, incidents
from layers.alarming import COMPARED_WITH, Alarms
from layers.catalogue import BY_KEY, KINDS, LAYERS
from layers.checking import Checking
from layers.contract import Moment, Shown, Unavailable
from layers.earth.errors import JournalError, MusterplotError
from layers.journal.known import Known, Shelf
from layers.journal.naming import address, data_folder, default_url
from layers.journal.releases.released import read_as
from layers.journal.releases.rules import WATCH, Release
from layers.journal.store import Journal, open_journal
from layers.journal.tables.news import NewRecords
from layers.paper_pack import HourlyPaper
from layers.picture import Picture, picture, result_keys, standing
from layers.results import Results
from layers.shared import SharedResults, shared_by

__all__ = ["Results", "Worker", "WorkerPart", "keys_of", "main"]

log = logging.getLogger(__name__)

POLL_S = {"quick": 0.1, "all": 0.1, "slow": 0.2}  # a viewer waits for it, at least for a first look
KEEP_CLOCK_S = 15.0
SPARE_S = 10.0
TRIM_S = 300.0
PAPER_WAITS_MIN = 10
ERRAND_AGAIN_S = 900.0  # after one that was ended or failed
NEEDS_S = 20.0  # that the slow part waits for what its layers need, then computes it itself
NICE = {"quick": 5, "all": 5, "slow": 10}  # viewers and feeds come before the next picture


def keys_of(journal: Journal, moment: Moment) -> dict[str, str]:
    """Return, per layer, the key of its result at a moment."""
    upto_seq = journal.seq_at(moment.as_of)
    return result_keys(Known(journal, KINDS, upto_seq, moment.as_of), moment)


class WorkerPart(StrEnum):
    """Which layers a computing process computes."""

    ALL = "all"
    QUICK = "quick"
    SLOW = "slow"

    @property
    def layers(self) -> tuple[str, ...]:
        """The keys of its layers."""
        if self is WorkerPart.ALL:
            return tuple(layer.key for layer in LAYERS)
        return tuple(layer.key for layer in LAYERS if layer.slow == (self is WorkerPart.SLOW))


class Errands:
    """Runs what layers would have worked out beside everything, one at a time."""

    def __init__(self) -> None:
        self._sent: dict[tuple[str, ...], float] = {}
        self._running: subprocess.Popen[bytes] | None = None

    def send(self, made: Picture) -> None:
        """Start one that a layer of a picture asks for, unless one is under way."""
        if self._running is not None and self._running.poll() is None:
            return
        now = time.monotonic()
        for key in made.layers:
            errand, shown = BY_KEY[key].errand, made.shown(key)
            words = errand(shown.result) if errand is not None and shown is not None else ()
            if words and now - self._sent.get(words, -ERRAND_AGAIN_S) >= ERRAND_AGAIN_S:
                self._sent[words] = now
                self._running = subprocess.Popen(
                    [sys.executable, "-m", *words],
                    cwd=Path(__file__).resolve().parent.parent,
                    stdin=subprocess.DEVNULL,
                )
                return

    def end(self) -> None:
        """End the one that runs."""
        if self._running is not None and self._running.poll() is None:
            self._running.terminate()
            self._running.wait(5)


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
    part : WorkerPart
        Which layers it computes. The slow part leaves clock, exercise and alarms to the other.
    paper : HourlyPaper, optional
        What keeps the state on paper every hour.
    shared : SharedResults, optional
        The same results as the other servers of the journal share them.
    """

    def __init__(
        self,
        journal: Journal,
        results: Results,
        play: Callable[[], int] | None = None,
        part: WorkerPart = WorkerPart.ALL,
        paper: HourlyPaper | None = None,
        shared: SharedResults | None = None,
    ) -> None:
        self._shared = shared
        self._paper = paper
        self.journal = journal
        self.results = results
        self.part = part
        self._play = play
        self._alarms = Alarms(journal)
        self.errands = Errands()
        self.news = NewRecords(journal)
        self._woken: threading.Event | None = None
        self._done: tuple[int, datetime] | None = None
        self._earlier: Moment | None = None
        self._awaited: tuple[str, ...] = ()  # the other part's results, once they are there
        self._next: dict[str, float] = {}
        self._slow: dict[str, Shown | Unavailable] = {}
        self._shelves: dict[str, Shelf] = {}

    def step(self) -> bool:
        """Do the most urgent thing there is; return whether there was anything."""
        if self.part is not WorkerPart.SLOW:
            self._now_and_then("clock", KEEP_CLOCK_S, self._keep_clock)
            self._now_and_then("trim", TRIM_S, self.results.trim)
        if self._play is not None:
            self._play()
        asked = self._asked()
        revision = self.news.revision()
        now = self.journal.now()
        minute = now.replace(second=0, microsecond=0)
        if self._done == (revision, minute) and not self._slow_came():
            return asked or self._spare()
        self._done = (revision, minute)
        self._compute_now(Moment(now, now))
        return True

    def rest(self) -> None:
        """Wait until there may be something to do: a record is told, a wish is looked for."""
        if self._woken is None:
            self._woken = threading.Event()
            self.news.wake(self._woken.set)
        self._woken.wait(POLL_S[self.part])
        self._woken.clear()

    def compute(
        self, moment: Moment, release: Release = WATCH, upto_seq: int | None = None
    ) -> Picture:
        """Compute this part of the picture of a moment into the results, as a release reads it."""
        upto_seq = self.journal.seq_at(moment.as_of) if upto_seq is None else upto_seq
        if self.part is WorkerPart.SLOW:  # what the slow layers need is the other process's work
            self._await_needs(moment, upto_seq)
        return self._made(moment, release, upto_seq, self.part.layers)

    def _made(
        self, moment: Moment, release: Release, upto_seq: int, layers: tuple[str, ...]
    ) -> Picture:
        kept = self.results if self._shared is None else self._shared
        try:
            shelf = self._read_as(release)
            return picture(shelf, moment, upto_seq, layers, kept=kept, first_looks=True)
        finally:
            if self._shared is not None:
                self._shared.let_go()

    def _read_as(self, release: Release) -> Shelf:
        """Return the journal as a release reads it; what was read of it is kept."""
        if release.cuts not in self._shelves:
            self._shelves[release.cuts] = read_as(self.journal, KINDS, release)
        return self._shelves[release.cuts]

    def _asked(self) -> bool:
        """Compute what somebody waits for, before anything else."""
        done = False
        for slow in (False, True):
            if self.part in (WorkerPart.ALL, WorkerPart.SLOW if slow else WorkerPart.QUICK):
                asked = self.results.wanted(slow=slow)
                if asked is not None:  # a release is computed only while somebody looks through it
                    self.compute(*asked)
                    done = True
        return done

    def _await_needs(self, moment: Moment, upto_seq: int) -> None:
        known = Known(self.journal, KINDS, upto_seq, moment.as_of)
        for key in self.part.layers:
            stand = standing(BY_KEY[key], known, moment)
            names = result_keys(stand.known, stand.moment)
            if names[key] not in self.results:
                quick = [names[name] for name in WorkerPart.QUICK.layers]
                self.results.wait_for(quick, stand.moment, NEEDS_S, upto_seq=stand.known.upto_seq)

    def _slow_came(self) -> bool:
        """Whether results that the alarms are judged from, too, came since they were judged."""
        return bool(self._awaited) and self.results.there(self._awaited)

    def _compute_now(self, moment: Moment) -> None:
        made = self.compute(moment)
        self.errands.send(made)
        if self.part is WorkerPart.SLOW:  # where records come on and on it never rests
            self._now_and_then("spare", SPARE_S, self._spare)
            return
        whole = self._with_slow(made)
        self._alarms.raise_due(whole, partial(self._compared, moment))
        # a paper waits some minutes for the margin; what is late then is said on it
        if self._paper is not None and (not self._awaited or moment.at.minute >= PAPER_WAITS_MIN):
            self._paper.keep(whole)

    def _compared(self, moment: Moment) -> Picture | None:
        """Return the picture of an hour before, which records of now do not wait for."""
        if self._earlier is None:
            self._earlier = Moment(moment.at - COMPARED_WITH, moment.at - COMPARED_WITH)
        if self.part is WorkerPart.QUICK:
            names = keys_of(self.journal, self._earlier)
            if not self.results.there(names[key] for key in WorkerPart.QUICK.layers):
                self.results.ask(self._earlier, spare=True)
                return None
        return self.compute(self._earlier)

    def _spare(self) -> bool:
        """Work out what has time, of the other part's layers, which it would keep waiting."""
        asked = None if self.part is WorkerPart.QUICK else self.results.wanted(spare=True)
        if asked is None:
            return False
        moment, release, upto_seq = asked
        upto = self.journal.seq_at(moment.as_of) if upto_seq is None else upto_seq
        self._made(moment, release, upto, WorkerPart.QUICK.layers)
        return True

    def _with_slow(self, made: Picture) -> Picture:
        """Return a picture with the slow layers' last results, which alarms are judged from."""
        if self.part is WorkerPart.QUICK:
            names = keys_of(self.journal, made.moment)
            wanted = {key: names[key] for key in WorkerPart.SLOW.layers}
            found = self.results.found(wanted)
            self._awaited = tuple(name for key, name in wanted.items() if key not in found)
            self._slow |= found
        return replace(made, layers={**made.layers, **self._slow})

    def _keep_clock(self) -> None:
        if self.journal.exercise:
            self.journal.keep_clock()

    def _now_and_then(self, name: str, every_s: float, work: Callable[[], object]) -> None:
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


def keep_beating(folder: Path, name: str, ending: threading.Event) -> None:
    """Give a sign of life until told to end, also while something long is computed."""
    while not ending.wait(alive.BEAT_S):
        with contextlib.suppress(OSError):  # a full disk must not end the computing
            alive.beat(folder, name, datetime.now(UTC))


def main() -> int:
    """Run until told to end."""
    parser = argparse.ArgumentParser(prog="python -m layers.worker")
    parser.add_argument("--journal", type=address, metavar="URL", default=None)
    parser.add_argument(
        "--part", choices=[part.value for part in WorkerPart], default=WorkerPart.ALL.value
    )
    arguments = parser.parse_args()
    part = WorkerPart(arguments.part)
    name = "slow worker" if part is WorkerPart.SLOW else "worker"
    logging.basicConfig(level=logging.INFO, format=f"{name}: %(message)s")
    ending = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda _number, _frame: ending.set())
    if hasattr(os, "nice"):
        os.nice(NICE[part])
    try:
        url = arguments.journal or default_url()
        journal = open_journal(url, KINDS)
        folder = incidents.claim(journal, url)
        results = Results(folder, journal.key)
        play = None if part is WorkerPart.SLOW else player(journal)
        paper = None if part is WorkerPart.SLOW else HourlyPaper(folder, journal)
        shared = shared_by(data_folder(), results, journal)
        worker = Worker(journal, results, play, part, paper, shared)
    except MusterplotError as reason:
        sys.stderr.write(f"{name}: {reason}\n")
        return 2
    beating = threading.Thread(target=keep_beating, args=(folder, name, ending), daemon=True)
    beating.start()
    checking = None if part is WorkerPart.SLOW else Checking(journal, url)
    while not ending.is_set():
        try:
            busy = worker.step()
            if checking is not None:
                checking.tend()
        except JournalError as reason:  # locked or cut off: it may come back
            log.warning("%s", reason)
            busy = False
            ending.wait(2.0)
        if not busy:
            worker.rest()
    worker.news.end()
    if checking is not None:
        checking.end()
    worker.errands.end()
    beating.join(alive.BEAT_S)
    alive.end(folder, name)
    journal.close()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
