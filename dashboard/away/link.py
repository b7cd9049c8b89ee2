"""The way to the journal: whether it answers, since when it does not, and who asks meanwhile.

While the database or the network is away the pages stand on what this server saw last and say of
when it is. One thread asks whether it is back; nobody else waits for an answer that does not come.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import event
from sqlalchemy.engine import Engine

from layers.earth.errors import JournalAway

AGAIN_S = 1.0  # between two questions while it is away


@dataclass(frozen=True, slots=True)
class Loss:
    """The journal is away.

    Parameters
    ----------
    since : datetime
        When it last answered, by the journal's clock, UTC.
    reason : str
        In one plain sentence.
    """

    since: datetime
    reason: str


class RoomLink:
    """Whether the journal answers; one for a web server."""

    def __init__(self) -> None:
        self._loss: Loss | None = None
        self._answered: datetime | None = None
        self._asked_at = 0.0
        self._lock = threading.Lock()
        self._asking = threading.local()
        self._guarded: list[Engine] = []

    @property
    def loss(self) -> Loss | None:
        """What is lost, None while the journal answers."""
        return self._loss

    def answered(self, now: datetime) -> None:
        """Note that the journal answered at its time `now`."""
        with self._lock:
            self._answered, self._loss = now, None

    def failed(self, reason: JournalAway, now: datetime | None = None) -> Loss:
        """Note that it did not answer; the first time counts."""
        with self._lock:
            first = self._loss is None
            if self._loss is None:
                self._loss = Loss(self._answered or now or datetime.now(UTC), str(reason))
            found = self._loss
        if first:
            for engine in self._guarded:
                engine.dispose()  # what is held open leads nowhere, and asking it takes seconds
        return found

    def guard(self, engine: Engine) -> None:
        """Refuse new connections at once while the journal is away, but for who asks."""
        self._guarded.append(engine)

        @event.listens_for(engine, "do_connect")
        def refuse(*_: object) -> None:
            if (loss := self._loss) is not None and not getattr(self._asking, "on", False):
                raise JournalAway(loss.reason)

    @contextmanager
    def asking(self) -> Iterator[None]:
        """Let this thread through to the database although it is away."""
        self._asking.on = True
        try:
            yield
        finally:
            self._asking.on = False

    def ask(self, question: Callable[[], datetime]) -> Loss | None:
        """Ask again whether it is back, at most once a second; return what is lost now.

        Parameters
        ----------
        question : callable
            Asks the journal something and returns its time; raises `JournalAway`.
        """
        now = time.monotonic()
        with self._lock:
            if self._loss is None or now - self._asked_at < AGAIN_S:
                return self._loss
            self._asked_at = now
        try:
            with self.asking():
                self.answered(question())
        except JournalAway as reason:
            return self.failed(reason)
        return None


LINK = RoomLink()


def recorded_words(what: str) -> str:
    """Return what a press says of what it sent: recorded, or kept while the journal is away."""
    return f"Recorded: {what}" if LINK.loss is None else f"Not yet recorded, kept: {what}"


def remember_name(folder: Path, url_key: str, name: str, exercise: bool) -> None:
    """Keep what the journal is called, for a page that opens while it is away."""
    folder.mkdir(parents=True, exist_ok=True)
    place = folder / f"named-{url_key}.json"
    text = json.dumps({"name": name, "exercise": exercise})
    if not place.exists() or place.read_text(encoding="utf-8") != text:
        place.write_text(text, encoding="utf-8")


def remembered_name(folder: Path, url_key: str) -> tuple[str, bool] | None:
    """Return what the journal was called when it was last open, and whether it is an exercise."""
    try:
        held = json.loads((folder / f"named-{url_key}.json").read_text(encoding="utf-8"))
        return str(held["name"]), bool(held["exercise"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
