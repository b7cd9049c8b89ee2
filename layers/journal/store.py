"""The journal: append-only records in one order, in SQLite or PostgreSQL.

`open_journal` opens one; `Journal.append` is the only way in, and checks the role of who asks.
Reading follows `layers.journal.known.Shelf`.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from itertools import groupby
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from layers.earth.clock import dtg, duration_words, from_us, to_us, utc
from layers.earth.errors import InputError, JournalError
from layers.earth.unswept import unswept
from layers.journal import opening
from layers.journal.actor import Actor, Role, may_write
from layers.journal.intake import Intake, Placed, read_head
from layers.journal.kinds import OPINION_NAMES, Kind
from layers.journal.record import Draft, Record, Reject, as_record, canonical
from layers.journal.rejected import KeptReject, keep_rejects, read_rejects, reject_counts
from layers.journal.settled import Settled
from layers.journal.shelf import (
    RECORD_SELECT,
    Array,
    as_stored,
    last_by_kind,
    last_seq_of,
    read_blob,
    read_ids,
    read_rows,
    recorded_at,
    seq_at,
)
from layers.journal.sources import FEED_READER, SourceAge, first_by, read_sources
from layers.journal.tables.engine import BUSY_S, reading, writing
from layers.journal.tables.rows import known_ids
from layers.journal.tables.schema import BLOBS, BLOCKS, JOURNAL, RECORDS
from layers.journal.tables.sides import cut_columns, join_columns, read_side
from layers.journal.tables.stretch import Asked
from layers.journal.tables.stretch_sql import count_heard, read_latest, read_stretches

__all__ = ["Actor", "Appended", "Imported", "Journal", "Role", "SourceAge", "open_journal"]

CLOCK_BEHIND_US = 60_000_000


@dataclass(frozen=True, kw_only=True)
class Appended:
    """What became of the drafts: recorded, already there, or turned away with a reason."""

    placed: tuple[Placed, ...]
    already_there: tuple[str, ...]
    rejects: tuple[Reject, ...]

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


class Journal:
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
        self.engine = engine
        self.place = place
        self.kinds = kinds
        self.readonly = readonly
        self._clock = clock
        self._columns: dict[str, tuple[int, dict[str, Array]]] = {}
        self._columns_lock = threading.Lock()
        with reading(engine, place) as connection:
            about = connection.execute(sa.select(JOURNAL)).one()
        self.name = str(about.name)
        self.exercise = bool(about.exercise)
        self.key = f"{place} {about.name} {about.created_us}"  # tells it from other journals
        self._offset_us = int(about.clock_offset_us)
        self._last_recorded_us = 0
        self._settled = Settled()
        self._first_by: dict[str, str] = {}
        self.revision()

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
                author=actor.name,
                now_us=now_us,
                head=head,
                blobs=blobs,
            )
            _keep_blobs(connection, blobs, now_us)
            ids = [draft.id for draft in held]
            intake.look_up(ids)
            intake.take(held, ids, refuse_whole=actor.role is not Role.FEED)
            intake.close()
            turned_away = tuple(_as_reject(draft, why) for draft, why in intake.refused)
            keep_rejects(connection, (*rejects, *turned_away), intake.now_us)
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
        self._last_recorded_us = max(self._last_recorded_us, head.recorded_at_us)
        return len(intake.placed)

    def _must_be_writable(self) -> None:
        if self.readonly:
            raise JournalError(f"the {self.place} was opened for reading; nothing was recorded")

    # -- reading: layers.journal.known.Shelf -------------------------------------------------

    def read(self, kinds: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records of these kinds with ``seq <= upto_seq``, in order."""
        with reading(self.engine, self.place) as connection:
            return read_rows(connection, kinds, upto_seq)

    def read_columns(self, kind: Kind, upto_seq: int) -> dict[str, Array]:
        """Return the side table of a kind as read-only arrays in order of seq.

        Rows never change, so what was read once is kept and only the new rows are fetched.
        """
        with self._columns_lock:
            upto, held = self._columns.get(kind.name, (0, None))
            if held is None or upto < upto_seq:
                with reading(self.engine, self.place) as connection:
                    head = last_seq_of(connection, None, upto_seq)
                    news = read_side(connection, kind, upto, head)
                held = news if held is None else join_columns(held, news)
                self._columns[kind.name] = (max(upto, head), held)
        return cut_columns(held, upto_seq)

    def read_latest(
        self,
        kind: Kind,
        upto_seq: int,
        last_us: int,
        having: str = "",
        without: Collection[int] = (),
    ) -> dict[str, Array]:
        """Return the last row of each value of ``kind.by``, in order of the value."""
        with reading(self.engine, self.place) as connection:
            return read_latest(connection, kind, upto_seq, last_us, having, without)

    def read_stretches(
        self, kind: Kind, upto_seq: int, asked: Asked, most: int, without: Collection[int] = ()
    ) -> dict[str, Array]:
        """Return, of each value asked for, the rows of its stretch and the one before, by seq.

        Nothing of it is kept: it costs what is asked for, and memory does not grow.
        """
        with reading(self.engine, self.place) as connection:
            return read_stretches(connection, kind, upto_seq, asked, most, without)

    def read_ids(self, ids: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records with these ids and ``seq <= upto_seq``, in order."""
        with reading(self.engine, self.place) as connection:
            return read_ids(connection, ids, upto_seq)

    def count_heard(self, kind: Kind, after_us: int, upto_seq: int) -> int:
        """Return how many rows of a bulk kind were heard after a time."""
        with reading(self.engine, self.place) as connection:
            return count_heard(connection, kind, after_us, upto_seq)

    def last_seq(self, kinds: Iterable[str] | None, upto_seq: int) -> int:
        """Return the last seq of these kinds (of any, for None), 0 if there is none."""
        every = OPINION_NAMES | self.kinds.keys()
        names = None if kinds is None else frozenset(kinds)
        if names is None or not names <= every or not self._settled.covers(upto_seq):
            with reading(self.engine, self.place) as connection:
                return last_seq_of(connection, names, upto_seq)

        def ask(after_seq: int, upto_seq: int) -> dict[str, int]:
            with reading(self.engine, self.place) as connection:
                return last_by_kind(connection, every, upto_seq, after_seq)

        last = self._settled.last_by_kind(upto_seq, ask)
        return max((last[name] for name in names if name in last), default=0)

    def blob(self, digest: str) -> bytes:
        """Return a stored file or grid by its SHA-256."""
        with reading(self.engine, self.place) as connection:
            return read_blob(connection, digest)

    # -- reading: the order ------------------------------------------------------------------

    def seq_at(self, as_of: datetime) -> int:
        """Return the last seq recorded by ``as_of``, 0 before the first."""
        with reading(self.engine, self.place) as connection:
            return seq_at(connection, as_of)

    def recorded_at(self, seq: int) -> datetime | None:
        """Return when a record was recorded, None when there is none of that number."""

        def ask() -> datetime | None:
            with reading(self.engine, self.place) as connection:
                return recorded_at(connection, seq)

        return self._settled.recorded_at(seq, ask)

    def head(self) -> tuple[int, str]:
        """Return the last seq and the hash that stands for everything up to it."""
        with reading(self.engine, self.place) as connection:
            head = read_head(connection)
        return head.seq, head.hash

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

    def record(self, id_: str) -> Record | None:
        """Return the record with this id, or None."""
        with reading(self.engine, self.place) as connection:
            row = connection.execute(RECORD_SELECT.where(RECORDS.c.id == id_)).first()
        return None if row is None else as_stored(row)

    def held(self, ids: Sequence[str]) -> set[str]:
        """Return those of the ids that are recorded."""
        with reading(self.engine, self.place) as connection:
            return known_ids(connection, ids)

    def log(
        self,
        *,
        upto_seq: int,
        after_seq: int = 0,
        kinds: Sequence[str] = (),
        without: Sequence[str] = (),
        text: str = "",
        limit: int = 200,
    ) -> list[Record]:
        """Return the newest records first, for the log page.

        ``kinds`` and ``without`` are names of kinds wanted and not wanted; ``text`` is looked
        for in payload, source and author.
        """
        question = RECORD_SELECT.where(RECORDS.c.seq <= upto_seq, RECORDS.c.seq > after_seq)
        if kinds:
            question = question.where(RECORDS.c.kind.in_(tuple(kinds)))
        if without:
            question = question.where(RECORDS.c.kind.not_in(tuple(without)))
        if text:
            columns = (RECORDS.c.payload, RECORDS.c.source, RECORDS.c.author, RECORDS.c.id)
            question = question.where(
                sa.or_(*(column.icontains(text, autoescape=True) for column in columns))
            )
        question = question.order_by(RECORDS.c.seq.desc()).limit(limit)
        with reading(self.engine, self.place) as connection:
            return [as_stored(row) for row in connection.execute(question)]

    def sources(self) -> list[SourceAge]:
        """Return every source with when it was last heard, by name."""
        with reading(self.engine, self.place) as connection:
            return read_sources(connection)

    def followed(self, *, least: int = 2) -> list[SourceAge]:
        """Return the sources that the feed reader follows, of at least so many records.

        What people type is a report, a file that somebody dropped is theirs, and what came once
        is mostly no feed. Who recorded a source first never changes: it is asked for once.
        """
        found = [one for one in self.sources() if one.by_feed and one.records >= least]
        with reading(self.engine, self.place) as connection:
            for one in found:
                if one.source not in self._first_by:
                    self._first_by[one.source] = first_by(connection, one.source)
        return [one for one in found if self._first_by[one.source] == FEED_READER]

    def rejects(self, *, source: str | None = None, limit: int = 200) -> list[KeptReject]:
        """Return the newest rejects first."""
        with reading(self.engine, self.place) as connection:
            return read_rejects(connection, source, limit)

    def reject_counts(self) -> dict[str, int]:
        """Return how many rejects there are by source."""
        with reading(self.engine, self.place) as connection:
            return reject_counts(connection)

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


def open_journal(
    url: str | Path,
    kinds: Mapping[str, Kind],
    *,
    create: bool = True,
    readonly: bool = False,
    name: str = "Musterplot",
    exercise: bool = False,
    clock: Callable[[], datetime] = system_now,
    busy_s: float = BUSY_S,
) -> Journal:
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
    return Journal(engine, place, kinds, readonly=readonly, clock=clock)
