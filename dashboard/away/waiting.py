"""What was sent while the journal was away: kept on disk in its order, recorded when it is back.

Each draft keeps the identity that its form gave it, so that whatever became of the first try, it
is one record. What the journal then refuses stays here with the reason until somebody takes it
out: nothing that was sent is lost without a word.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from dashboard.away.link import AGAIN_S
from layers.earth.errors import (
    AskedFirst,
    InputError,
    JournalAway,
    JournalError,
    MusterplotError,
)
from layers.journal.actor import Actor, Role, may_write
from layers.journal.intake import checked
from layers.journal.kinds import Kind
from layers.journal.record import Draft, Reject
from layers.journal.store import Appended, Journal

NONE_PLACED = Appended(placed=(), already_there=(), rejects=())


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """What one press sent.

    Parameters
    ----------
    drafts : tuple of Draft
        Recorded together or not at all.
    sent_at : datetime
        By the journal's clock, UTC.
    refused : str
        Why the journal would not take it when it was back; empty while it waits.
    asked : tuple of str
        Records that may say the same, which it asked about.
    """

    actor: Actor
    drafts: tuple[Draft, ...]
    sent_at: datetime
    refused: str = ""
    asked: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """What tells it from others."""
        return hashlib.sha256("".join(one.identity for one in self.drafts).encode()).hexdigest()


@dataclass(slots=True)
class Outbox:
    """What waits, in the order it was sent; each change is on the disk before it counts.

    Parameters
    ----------
    place : Path
        The file it is kept in.
    """

    place: Path
    recorded: list[int] = field(default_factory=list)  # numbers of what was recorded from here
    _held: list[Sent] = field(default_factory=list)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def __post_init__(self) -> None:
        if self.place.exists():
            self._held = [_read(each) for each in json.loads(self.place.read_text("utf-8"))]

    def waiting(self) -> tuple[Sent, ...]:
        """Return what is not yet recorded, the first sent first."""
        return tuple(one for one in self._held if not one.refused)

    def refused(self) -> tuple[Sent, ...]:
        """Return what the journal would not take."""
        return tuple(one for one in self._held if one.refused)

    def put(self, sent: Sent) -> None:
        """Keep what was sent; the same sent again is kept once."""
        with self._lock:
            if all(one.key != sent.key for one in self._held):
                self._keep([*self._held, sent])

    def take_out(self, key: str) -> None:
        """Let go of what was refused."""
        with self._lock:
            self._keep([one for one in self._held if one.key != key or not one.refused])

    def again(self, key: str) -> None:
        """Let what was asked about be recorded all the same."""
        with self._lock:
            self._keep([_answered(one) if one.key == key else one for one in self._held])

    def send(self, append: Callable[[Sent], Appended]) -> None:
        """Record what waits, in order; stop when the journal is away again."""
        with self._lock:
            for one in self.waiting():
                try:
                    made = append(one)
                except JournalError:
                    return  # away, locked, full or read-only: that is no fault of what was sent
                except MusterplotError as reason:
                    about = reason.about if isinstance(reason, AskedFirst) else ()
                    why = replace(one, refused=str(reason), asked=about)
                    self._keep([why if o is one else o for o in self._held])
                    continue
                self.recorded += [seq for seq, *_ in made.placed]
                self._keep([other for other in self._held if other is not one])

    def _keep(self, held: list[Sent]) -> None:
        self.place.parent.mkdir(parents=True, exist_ok=True)
        fresh = self.place.with_suffix(".part")
        with fresh.open("w", encoding="utf-8") as file:
            json.dump([_written(one) for one in held], file)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(self.place)
        self._held = held


def _answered(sent: Sent) -> Sent:
    drafts = tuple(replace(draft, answered=(*draft.answered, *sent.asked)) for draft in sent.drafts)
    return replace(sent, drafts=drafts, refused="", asked=())


def _written(sent: Sent) -> dict[str, Any]:
    drafts = [
        {**asdict(one), "valid_at": one.valid_at.isoformat(), "heard_at": one.heard_at.isoformat()}
        for one in sent.drafts
    ]
    return {
        "actor": asdict(sent.actor),
        "drafts": drafts,
        "sent_at": sent.sent_at.isoformat(),
        "refused": sent.refused,
        "asked": sent.asked,
    }


def _read(held: Mapping[str, Any]) -> Sent:
    drafts = tuple(
        Draft(
            **{
                **one,
                "valid_at": datetime.fromisoformat(one["valid_at"]),
                "heard_at": datetime.fromisoformat(one["heard_at"]),
                "answered": tuple(one["answered"]),
            }
        )
        for one in held["drafts"]
    )
    actor = Actor(**{**held["actor"], "role": Role(held["actor"]["role"])})
    sent_at = datetime.fromisoformat(held["sent_at"])
    return Sent(
        actor=actor,
        drafts=drafts,
        sent_at=sent_at,
        refused=held["refused"],
        asked=tuple(held["asked"]),
    )


class WaitingJournal(Journal):
    """A journal for writing that keeps what people send while its database is away."""

    outbox: Outbox | None = None
    is_away: Callable[[], bool] = staticmethod(lambda: False)

    def append(
        self,
        actor: Actor,
        drafts: Iterable[Draft],
        *,
        rejects: Iterable[Reject] = (),
        blobs: Mapping[str, bytes] | None = None,
    ) -> Appended:
        """Record the drafts; when the journal is away, keep them and say how many wait.

        What has files with it is refused then: it is sent again by whoever has them.
        """
        held = tuple(drafts)
        box = self.outbox
        if box is None or blobs or rejects or actor.role is not Role.WATCH or not held:
            return super().append(actor, held, rejects=rejects, blobs=blobs)
        if not self.is_away():
            try:
                self.send_waiting()
                if not box.waiting():
                    return super().append(actor, held)
            except JournalAway:
                pass  # gone in this moment: kept as if it had been before
        may_write(actor)
        _check(held, self.kinds)
        box.put(Sent(actor=actor, drafts=held, sent_at=self.now()))
        return replace(NONE_PLACED, waiting=len(held))

    def send_by_itself(self) -> None:
        """Record what waits as soon as it can be, for as long as the server lives.

        Also what waited when the server ended, and where the journal could be read all the while.
        """
        while True:
            if self.outbox is not None and self.outbox.waiting() and not self.is_away():
                with contextlib.suppress(MusterplotError):
                    self.send_waiting()
            time.sleep(AGAIN_S)

    def send_waiting(self) -> None:
        """Record what waits, in the order it was sent."""
        if self.outbox is not None and self.outbox.waiting():
            self.outbox.send(lambda one: super(WaitingJournal, self).append(one.actor, one.drafts))


def _check(drafts: Iterable[Draft], kinds: Mapping[str, Kind]) -> None:
    """Refuse now what the journal would refuse for its form alone."""
    for draft in drafts:
        if draft.kind not in kinds:
            raise InputError(f"{draft.kind!r} is no kind of record")
        checked(kinds[draft.kind], draft)
