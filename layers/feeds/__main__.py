"""``python -m layers.feeds``: the process that reads every feed into the journal."""

from __future__ import annotations

import argparse
import logging
import signal
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from layers import alive, incidents
from layers.catalogue import KINDS
from layers.earth.errors import InputError, JournalError, MusterplotError
from layers.feeds import rooms
from layers.feeds.reader import FeedReader
from layers.feeds.settings import DROP_FOLDER, FILE, FeedSetting, read_settings
from layers.feeds.state import FeedState, write_states
from layers.ingest.isolated import end_children
from layers.journal.naming import address, default_url
from layers.journal.store import open_journal
from layers.watch import exercise_clock

log = logging.getLogger(__name__)

TICK_S = 1.0


def _changed_ns(folder: Path) -> int:
    try:
        return (folder / FILE).stat().st_mtime_ns
    except OSError:
        return 0


class Loop:
    """Settings, signs of life and the state file, once a second."""

    def __init__(
        self,
        reader: FeedReader,
        folder: Path,
        waits: Callable[[], bool] = lambda: False,
        closed: Callable[[], bool] = lambda: False,
        tell: Callable[..., None] = lambda *_told: None,
    ) -> None:
        self._reader = reader
        self._waits: Callable[[], bool] | None = waits
        self._folder = folder
        self._closed = closed
        self._was_closed = False
        self._tell, self._told_at = tell, -1e9
        self._settings: tuple[FeedSetting, ...] = ()
        self._settings_ns = -1
        self._trouble = ""

    @property
    def own(self) -> tuple[FeedSetting, ...]:
        """The feeds that people set up here; the drop folder is this computer's."""
        return tuple(s for s in self._settings if Path(s.address) != self._folder / DROP_FOLDER)

    def _tell_all(self, states: list[FeedState]) -> None:
        """Tell all rooms what is read here; the journal may be away, and is asked again."""
        now = time.monotonic()
        if now - self._told_at < rooms.TELL_S:
            return
        self._told_at = now
        try:
            self._tell(states, self.own, self._trouble)
        except JournalError as fault:
            log.warning("the other rooms cannot be told of the feeds: %s", fault)

    def _is_closed(self) -> bool:
        try:
            self._was_closed = self._closed()
        except JournalError as fault:  # away: it is as it was
            log.warning("%s", fault)
        return self._was_closed

    def step(self) -> None:
        """Look at the settings, write the state, give a sign of life."""
        changed_ns = _changed_ns(self._folder)
        if self._waits is not None and not self._waits():
            self._waits = None  # asked at the start only
        closed = self._is_closed()
        if closed:  # nothing comes into a closed incident by itself
            self._settings_ns = -1
            self._reader.set_up(())
        elif self._waits is None and changed_ns != self._settings_ns:
            self._settings_ns = changed_ns
            try:
                self._settings = read_settings(self._folder)
                self._reader.set_up(self._settings)
                self._trouble = ""
            except InputError as fault:  # the feeds that run go on as they are
                self._trouble = str(fault)
                log.warning("%s", fault)
        states = self._reader.states()
        self._tell_all(states)
        bad = sum(1 for state in states if state.error)
        note = f"{len(states)} feeds, {bad} in trouble" if bad else f"{len(states)} feeds"
        if self._waits is not None:
            note = "waiting until the watch says how the exercise's clock goes on"
        if closed:
            note = "the incident is closed: nothing is read into it"
        try:
            write_states(self._folder, states, self._trouble)
            alive.beat(self._folder, "feeds", datetime.now(UTC), note)
        except OSError as fault:
            log.warning("the state of the feeds cannot be written: %s", fault)


def main() -> int:
    """Run until told to end."""
    parser = argparse.ArgumentParser(prog="python -m layers.feeds")
    parser.add_argument("--journal", type=address, metavar="URL", default=None)
    arguments = parser.parse_args()
    logging.basicConfig(level=logging.INFO, format="feeds: %(message)s")
    logging.getLogger("httpx").setLevel(logging.WARNING)  # a line for every question is too many
    ending: list[int] = []
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda number, _frame: ending.append(number))
    try:
        url = arguments.journal or default_url()
        journal = open_journal(url, KINDS)
        folder = incidents.claim(journal, url)
    except (MusterplotError, OSError) as reason:
        sys.stderr.write(f"feeds: {reason}\n")
        return 2
    reader = FeedReader(journal, folder)
    loop = Loop(
        reader,
        folder,
        lambda: exercise_clock.waits(journal),
        lambda: incidents.is_closed(journal),
        partial(rooms.tell, journal),
    )
    try:
        while not ending:
            loop.step()
            time.sleep(TICK_S)
    finally:
        reader.close()
        end_children()
        alive.end(folder, "feeds")
        with suppress(JournalError):
            rooms.tell(journal, reader.states(), loop.own, ended=True)
        journal.close()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
