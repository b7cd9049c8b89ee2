"""The journal: append-only records in one order, in SQLite or PostgreSQL.

`open_journal` opens one; `Journal.append` is the only way in, and checks the role of who asks.
Reading is `layers.journal.stored.StoredShelf`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from itertools import groupby
from pathlib import Path
from typing import Self

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from layers.earth.clock import dtg, duration_words, from_us, to_us, utc
from layers.earth.errors import InputError, JournalError
from layers.earth.unswept import unswept
from layers.journal import opening
from layers.journal.actor import Actor, Role, may_write
from layers.journal.intake import Intake, Placed
from layers.journal.kinds import Kind
from layers.journal.record import Draft, Record, Reject, as_record, canonical
from layers.journal.rejected import keep_rejects
from layers.journal.sources import SourceAge
from layers.journal.stored import StoredShelf
from layers.journal.tables.engine import BUSY_S, reading, writing
from layers.journal.tables.head import read_head
from layers.journal.tables.news import tell
from layers.journal.tables.schema import BLOBS, BLOCKS, JOURNAL

__all__ = ["Actor", "Appended", "Imported", "Journal", "Role", "SourceAge", "open_journal"]

CLOCK_BEHIND_US = 60_000_000


@dataclass(frozen=True, kw_only=True)
class Appended:
    """What became of the drafts: recorded, already there, or turned away with a reason."""

    placed: tuple[Placed, ...]
    already_there: tuple[str, ...]
    rejects: tuple[Reject, ...]
    waiting: int = 0  # sent while the journal was away: kept, and recorded when it is back

    @property
    def count(self) -> int:
        """How many were recorded."""
        return len(self.placed)

    @cached_property
    def records(self) -> tuple[Record, ...]:
        """What was recorded; a busy feed only counts it."""
        return tuple(
            as_record(draft, seq=seq, recorded_at=recorded_at, author=author)
            for seq, recorded_at, author, draft in self.placed
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """A draft that brings its own time of recording and author: the demo, a declared import."""

    recorded_at: datetime
    author: str
    draft: Draft


def system_now() -> datetime:
    """Return the system's clock, UTC."""
    return datetime.now(UTC)


class Journal(StoredShelf):
    """An open journal.

    Parameters
    ----------
    engine : Engine
        The database, opened and of this program's schema.
    place : str
        Where it is, as said in a sentence.
    kinds : mapping of str to Kind
        The catalogue's kinds by name.
    readonly : bool
        Opened for reading only.
    clock : callable
        ``clock()`` gives the system's time, UTC; tests bring their own.
    """

    def __init__(
        self,
        engine: Engine,
        place: str,
        kinds: Mapping[str, Kind],
        *,
        readonly: bool,
        clock: Callable[[], datetime] = system_now,
    ) -> None:
        super().__init__(engine, place, kinds)
        self.readonly = readonly
        self._clock = clock
        with reading(engine, place) as connection:
            about = connection.execute(sa.select(JOURNAL)).one()
        self.name = str(about.name)
        self.exercise = bool(about.exercise)
        self.key = f"{place} {about.name} {about.created_us}"  # tells it from other journals
        self._offset_us = int(about.clock_offset_us)
        self._last_recorded_us = 0
        self.revision()

    @classmethod
    def open(
        cls,
        url: str | Path,
        kinds: Mapping[str, Kind],
        *,
        create: bool = True,
        readonly: bool = False,
        name: str = "Musterplot",
        exercise: bool = False,
        clock: Callable[[], datetime] = system_now,
        busy_s: float = BUSY_S,
    ) -> Self:
        """Open a journal; make it where there is none, bring an older one forwards.

        Parameters
        ----------
        url : str or Path
            The path of an SQLite file, or a URL of SQLite or PostgreSQL.
        kinds : mapping of str to Kind
            The catalogue's kinds by name.
        create : bool
            Make the journal where there is none.
        readonly : bool
            Nothing is written, not even a newer schema.
        name, exercise : str, bool
            Of a journal that is made now; whether it is an exercise never changes after.
        clock : callable
            The system's clock; tests bring their own.
        busy_s : float
            Seconds to wait for another writer.

        Raises
        ------
        JournalError
            It cannot be opened; the text is one plain sentence.
        """
        engine, place = opening.opened_engine(
            url,
            kinds,
            create=create and not readonly,
            readonly=readonly,
            name=name,
            exercise=exercise,
            now_us=to_us(clock()),
            busy_s=busy_s,
        )
        return cls(engine, place, kinds, readonly=readonly, clock=clock)

    # -- the clock ---------------------------------------------------------------------------

    def now(self) -> datetime:
        """Return the journal's time: the system's clock plus the exercise's offset.

        Never behind the last record, so that a clock set back hides nothing.
        """
        return from_us(max(self._clock_us(), self._last_recorded_us))

    def _clock_us(self) -> int:
        return to_us(self._clock()) + self._offset_us

    def clock_behind(self) -> str:
        """Return a sentence when the clock stands behind the last record, else nothing.

        The last record is the one that the last question for the revision found.
        """
        behind_us = self._last_recorded_us - self._clock_us()
        if behind_us < CLOCK_BEHIND_US:
            return ""
        last = from_us(self._last_recorded_us)
        return (
            f"the clock of this computer is {duration_words(last - from_us(self._clock_us()))} "
            f"behind the last record ({dtg(last)}); records keep their order and take that time "
            "until the clock has caught up: set the clock right"
        )

    def set_clock(self, at: datetime) -> None:
        """Make the exercise's clock show ``at`` now; it runs on from there."""
        offset_us = to_us(at) - to_us(self._clock())
        with writing(self.engine, self.place) as connection:
            connection.execute(
                JOURNAL.update().values(clock_offset_us=offset_us, clock_kept_us=to_us(at))
            )
            tell(connection)
        self._offset_us = offset_us

    def keep_clock(self) -> None:
        """Note what the clock shows, so that an exercise resumes where it last stopped."""
        with writing(self.engine, self.place) as connection:
            connection.execute(JOURNAL.update().values(clock_kept_us=to_us(self.now())))

    def kept_clock(self) -> datetime:
        """Return what the clock last showed, or the last record's time if that is later."""
        with reading(self.engine, self.place) as connection:
            about = connection.execute(sa.select(JOURNAL)).one()
            last_us = read_head(connection).recorded_at_us
        # older programs kept no time of a new journal: that of its making counts
        return from_us(max(int(about.clock_kept_us or about.created_us), last_us))

    def last_recorded_at(self) -> datetime | None:
        """Return the time of the last record that the last question for the revision found."""
        return from_us(self._last_recorded_us) if self._last_recorded_us else None

    # -- writing -----------------------------------------------------------------------------

    def append(
        self,
        actor: Actor,
        drafts: Iterable[Draft],
        *,
        rejects: Iterable[Reject] = (),
        blobs: Mapping[str, bytes] | None = None,
    ) -> Appended:
        """Record the drafts in one block, all or none; give each its place in the order.

        Parameters
        ----------
        actor : Actor
            The role is checked here. For a feed, a draft that is refused stands aside as a
            reject; for a person it refuses the whole batch.
        drafts : iterable of Draft
            What is already there by its id is left out.
        rejects : iterable of Reject
            What the reader could not make sense of; kept with its reason.
        blobs : mapping of str to bytes, optional
            Files and grids by their SHA-256.

        Raises
        ------
        NotAllowed
            The actor may only read.
        InputError
            A draft cannot stand; nothing was recorded.
        JournalError
            The journal cannot be written; nothing was recorded.
        """
        may_write(actor)
        self._must_be_writable()
        held = tuple(drafts)
        blobs = dict(blobs or {})
        _check_blobs(blobs)
        with unswept(), writing(self.engine, self.place) as connection:
            head = read_head(connection)
            now_us = max(self._clock_us(), head.recorded_at_us)
            intake = Intake(
                connection=connection,
                kinds=self.kinds,
                author=actor.author,
                now_us=now_us,
                head=head,
                blobs=blobs,
                asks=actor.role is Role.WATCH,
                not_said=actor.may_not_say,
            )
            _keep_blobs(connection, blobs, now_us)
            ids = [draft.id for draft in held]
            intake.look_up(ids)
            intake.look_closer(held, ids)
            intake.take(held, ids, refuse_whole=actor.role is not Role.FEED)
            intake.close()
            turned_away = tuple(_as_reject(draft, why) for draft, why in intake.refused)
            keep_rejects(connection, (*rejects, *turned_away), intake.now_us)
            if intake.placed:
                tell(connection)
        self._last_recorded_us = max(self._last_recorded_us, intake.head.recorded_at_us)
        return Appended(
            placed=tuple(intake.placed),
            already_there=tuple(intake.already_there),
            rejects=turned_away,
        )

    def import_records(
        self,
        items: Iterable[Imported],
        *,
        rejects: Iterable[Reject] = (),
        blobs: Mapping[str, bytes] | None = None,
    ) -> int:
        """Record drafts that bring their own time of recording; return how many were new.

        Only the demo and a declared import do so. One block for each author and time.

        Raises
        ------
        InputError
            A draft cannot stand, or is older than what is recorded; nothing was recorded.
        JournalError
            The journal cannot be written; nothing was recorded.
        """
        self._must_be_writable()
        held = tuple(items)
        blobs = dict(blobs or {})
        _check_blobs(blobs)
        with writing(self.engine, self.place) as connection:
            head = read_head(connection)
            _keep_blobs(connection, blobs, head.recorded_at_us)
            intake = Intake(
                connection=connection,
                kinds=self.kinds,
                author="",
                now_us=head.recorded_at_us,
                head=head,
                blobs=blobs,
            )
            ids = [item.draft.id for item in held]
            intake.look_up(ids)
            news = [(i, id_) for i, id_ in zip(held, ids, strict=True) if not intake.holds(id_)]
            for (recorded_at, author), group in groupby(
                news, key=lambda pair: (pair[0].recorded_at, pair[0].author)
            ):
                pairs = tuple(group)
                intake.next_block(_not_before(recorded_at, intake.now_us), author)
                intake.take(
                    [item.draft for item, _ in pairs], [id_ for _, id_ in pairs], refuse_whole=True
                )
            intake.close()
            keep_rejects(connection, tuple(rejects), head.recorded_at_us)
            if intake.placed:
                tell(connection)
        self._last_recorded_us = max(self._last_recorded_us, head.recorded_at_us)
        return len(intake.placed)

    def _must_be_writable(self) -> None:
        if self.readonly:
            raise JournalError(f"the {self.place} was opened for reading; nothing was recorded")

    def revision(self) -> int:
        """Return the last seq: one cheap question that tells whether anything is new."""
        question = (
            sa.select(BLOCKS.c.last_seq, BLOCKS.c.recorded_at_us, JOURNAL.c.clock_offset_us)
            .select_from(JOURNAL.outerjoin(BLOCKS, sa.true()))
            .order_by(BLOCKS.c.block.desc())
            .limit(1)
        )
        with reading(self.engine, self.place) as connection:
            last_seq, recorded_us, offset_us = connection.execute(question).one()
        self._last_recorded_us = max(self._last_recorded_us, int(recorded_us or 0))
        self._offset_us = int(offset_us)
        self._settled.committed(int(last_seq or 0))
        return int(last_seq or 0)

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()


def _not_before(recorded_at: datetime, last_us: int) -> int:
    """Return the time of an imported block, or refuse one before what is recorded."""
    recorded_us = to_us(utc(recorded_at, "recorded_at"))
    if recorded_us < last_us:
        raise InputError(
            f"an import recorded at {dtg(recorded_at)}",
            accepted=f"not before the last record, {dtg(from_us(last_us))}",
        )
    return recorded_us


def _check_blobs(blobs: Mapping[str, bytes]) -> None:
    for digest, content in blobs.items():
        if hashlib.sha256(content).hexdigest() != digest:
            raise InputError(f"the file kept as {digest[:12]}… has another digest")


def _keep_blobs(connection: Connection, blobs: Mapping[str, bytes], now_us: int) -> None:
    for digest, content in blobs.items():
        held = connection.execute(sa.select(BLOBS.c.digest).where(BLOBS.c.digest == digest)).first()
        if held is None:
            connection.execute(
                BLOBS.insert().values(digest=digest, content=content, recorded_at_us=now_us)
            )


def _as_reject(draft: Draft, reason: InputError) -> Reject:
    try:
        text = canonical(draft.payload)
    except (TypeError, ValueError):
        text = repr(draft.payload)
    return Reject(source=draft.source, line=None, text=text, reason=str(reason))


open_journal = Journal.open
