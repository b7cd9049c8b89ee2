"""Taking drafts in, inside the writer's lock: checked, placed in the one order, hashed.

Everything here runs in one transaction of the one writer, so that what is read cannot change
before it is written. A busy AIS feed comes through here, so the way of one draft is short.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy.engine import Connection

from layers.earth.clock import EPOCH, dtg, duration_words, from_us, utc
from layers.earth.errors import InputError, RecordRefused
from layers.journal.kinds import OPINION_NAMES, Kind
from layers.journal.known import Known, check_payload
from layers.journal.record import Draft, Record, canonical, columns_bytes
from layers.journal.shelf import RECORD_SELECT, ConnectionShelf, as_stored
from layers.journal.side_by_side import ask_first, check_references
from layers.journal.sources import SourceNews, note_sources
from layers.journal.tables.head import Head
from layers.journal.tables.rows import insert_rows, known_ids
from layers.journal.tables.schema import BLOCKS, RECORDS, side_table
from layers.journal.tables.side_row import SideRow
from layers.journal.tables.told_again import told_again
from layers.journal.words.look_alikes import as_recorded, refuse_look_alike

# Clocks of two servers differ a little; within this the record's own time is moved up to
# when it was heard, so that nothing is ever heard after it was recorded.
CLOCK_SLACK_US = 5_000_000
AT_ONCE = 1_000  # rows written together, while they are still near at hand
Placed = tuple[int, datetime, str, Draft]  # seq, recorded at, author, what was taken


def microseconds(at: datetime, where: str) -> int:
    """Return integer microseconds since 1970, quickly; refuse a time without a zone."""
    delta = (at if at.tzinfo is UTC else utc(at, where)) - EPOCH
    return (delta.days * 86_400 + delta.seconds) * 1_000_000 + delta.microseconds


@dataclass(slots=True, kw_only=True)
class Intake:
    """Blocks being taken in, one after the other, in one transaction.

    ``rows``, ``sides`` and ``block_rows`` wait to be written; ``placed`` is all that was taken.
    """

    connection: Connection
    kinds: Mapping[str, Kind]
    author: str
    now_us: int
    head: Head
    blobs: dict[str, bytes] = field(default_factory=dict)
    rows: list[tuple[Any, ...]] = field(default_factory=list)
    sides: defaultdict[str, list[tuple[Any, ...]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    block_rows: list[tuple[Any, ...]] = field(default_factory=list)
    placed: list[Placed] = field(default_factory=list)
    already_there: list[str] = field(default_factory=list)
    refused: list[tuple[Draft, InputError]] = field(default_factory=list)
    sources: dict[str, SourceNews] = field(default_factory=dict)
    asks: bool = False  # somebody sends this, who can be asked
    not_said: frozenset[str] = frozenset()  # whose own words whoever sends this can not say
    _hash: Any = None
    _first_seq: int = 0
    _before_seq: int = 0
    _recorded: tuple[int, datetime] | None = None
    _valid: tuple[datetime | None, int] = (None, 0)
    _heard: tuple[datetime | None, int] = (None, 0)
    _seen: set[str] = field(default_factory=set)
    _side_rows: dict[str, SideRow] = field(default_factory=dict)

    def look_up(self, ids: Sequence[str]) -> None:
        """Find out which of the ids the journal already holds."""
        self._seen |= known_ids(self.connection, ids)

    def look_closer(self, drafts: Sequence[Draft], ids: Sequence[str]) -> None:
        """Find out which drafts of a file or feed the journal holds in other digits."""
        for name in {draft.kind for draft in drafts}:
            kind = self.kinds.get(name)
            if kind is not None and kind.same is not None:
                new = [
                    (id_, d)
                    for id_, d in zip(ids, drafts, strict=True)
                    if d.kind == name and id_ not in self._seen and d.identity[:5] != "form:"
                ]
                self._seen |= told_again(self.connection, kind, new)

    def holds(self, id_: str) -> bool:
        """Return whether the journal, or a block before, holds this id."""
        return id_ in self._seen

    def next_block(self, now_us: int, author: str) -> None:
        """Close the block that is open and begin one of another time or author."""
        self._close_block()
        self.now_us, self.author = now_us, author

    def take(self, drafts: Sequence[Draft], ids: Sequence[str], *, refuse_whole: bool) -> None:
        """Take the drafts in their order; a refused one refuses all, or stands aside.

        Raises
        ------
        InputError
            A draft cannot stand, and ``refuse_whole`` is set.
        """
        self.now_us = max(self.now_us, self._latest_heard(drafts))
        self._before_seq = self.head.seq
        for draft, id_ in zip(drafts, ids, strict=True):
            if id_ in self._seen:
                self.already_there.append(id_)
                continue
            try:
                self._take_one(draft, id_)
            except InputError as reason:
                if refuse_whole:
                    raise
                self.refused.append((draft, reason))
            else:
                self._seen.add(id_)

    def _latest_heard(self, drafts: Sequence[Draft]) -> int:
        """Return the latest time heard that another server's clock may account for."""
        limit = from_us(self.now_us + CLOCK_SLACK_US)
        now = from_us(self.now_us)
        ahead = [
            d.heard_at
            for d in drafts
            if d.heard_at.tzinfo is not None and now < d.heard_at <= limit
        ]
        return microseconds(max(ahead), "heard_at") if ahead else 0

    def _take_one(self, draft: Draft, id_: str) -> None:
        kind = self.kinds.get(draft.kind)
        if kind is None:
            raise RecordRefused(f"{draft.kind!r} is not a kind of record", where=draft.source)
        self._refuse_from_outside(kind, draft.source)
        if self.asks:
            draft = as_recorded(draft, self.connection, self._before_seq, self._known())
        valid_at, heard_at = draft.valid_at, draft.heard_at
        # lines of one log share their times: the same object is not worked out again
        if valid_at is not self._valid[0]:
            self._valid = (valid_at, microseconds(valid_at, "valid_at"))
        if heard_at is not self._heard[0]:
            self._heard = (heard_at, microseconds(heard_at, "heard_at"))
        valid_us, heard_us = self._valid[1], self._heard[1]
        if heard_us > self.now_us or valid_us > self.now_us + kind.future_s * 1e6:
            raise self._from_the_future(draft, kind, heard_us > self.now_us)
        text, value = checked(kind, draft)
        if draft.kind in OPINION_NAMES:
            self._check_opinion(draft)
        if kind.refuse is not None:
            self._flush()
            kind.refuse(value, draft, self._known())
        if self.asks:
            self._flush()
            check_references(draft, self._known())
            ask_first(kind, value, draft, self._known(), self.author)
            refuse_look_alike(draft, self.connection, self._before_seq, self._known())
        self._place(draft, id_, kind, valid_us, heard_us, text)

    def _from_the_future(self, draft: Draft, kind: Kind, heard: bool) -> RecordRefused:
        if heard:
            ahead = duration_words(utc(draft.heard_at) - from_us(self.now_us))
            return RecordRefused(
                f"a report from the future: heard at {dtg(draft.heard_at)}, {ahead} ahead of the "
                "journal's clock",
                where=f"{draft.source}, heard_at",
                accepted=f"up to {dtg(from_us(self.now_us))}",
            )
        latest = from_us(self.now_us) + timedelta(seconds=kind.future_s)
        return RecordRefused(
            f"a report from the future: a {kind.title} valid at {dtg(draft.valid_at)}",
            where=f"{draft.source}, valid_at",
            accepted=f"up to {dtg(latest)}",
        )

    def _check_opinion(self, draft: Draft) -> None:
        """Refuse an opinion of a record that is not there, or one that would spoil it."""
        target_id = str(draft.payload["target"])
        self._flush()
        row = self.connection.execute(RECORD_SELECT.where(RECORDS.c.id == target_id)).first()
        if row is None:
            title = self.kinds[draft.kind].title
            raise RecordRefused(
                f"there is no record {target_id}, so a {title} of it cannot stand",
                where=f"{draft.source}, target",
                accepted="the id of a record in this journal",
            )
        target = as_stored(row)
        if self.not_said:
            self._refuse_opinion_from_outside(draft, target)
        if draft.kind == "journal.correct":
            self._check_correction(draft, target)
        elif draft.kind == "journal.retract":
            self._check_retraction(draft, target)

    def _refuse_opinion_from_outside(self, draft: Draft, target: Record) -> None:
        """Refuse to change a person's own word, or to strike what struck or corrected it."""
        while target.kind in OPINION_NAMES:
            held = RECORD_SELECT.where(RECORDS.c.id == str(target.payload["target"]))
            row = self.connection.execute(held).first()
            if row is None:
                return
            target = as_stored(row)
        self._refuse_from_outside(self.kinds[target.kind], draft.source)

    def _refuse_from_outside(self, kind: Kind, source: str) -> None:
        if kind.own_word in self.not_said:
            raise RecordRefused(
                f"a {kind.title} from a file, a feed or another room",
                where=source,
                accepted="the same said by the watch on its own page",
            )

    def _check_correction(self, draft: Draft, target: Record) -> None:
        kind = self.kinds[target.kind]
        payload: Mapping[str, Any] = target.payload
        if target.version < kind.version and kind.upgrade is not None:
            payload = kind.upgrade(target.version, payload)
        for opinion in self._known().opinions().get(target.id, ()):
            if opinion.kind == "journal.correct":
                payload = {**payload, **opinion.payload["fields"]}
        corrected = {**payload, **draft.payload["fields"]}
        self._check_times(draft, kind)
        try:
            value = check_payload(kind, corrected, f"correction of a {kind.title}")
        except InputError as reason:
            raise RecordRefused(reason.what, where=reason.where, accepted=reason.accepted) from None
        if kind.refuse is not None:  # what is corrected must stand beside all else, as if new
            at = draft.payload.get("valid_at")
            as_new = replace(
                draft,
                kind=kind.name,
                payload=corrected,
                source=str(draft.payload.get("source") or target.source),
                valid_at=self._stands_at(target) if at is None else _time(at),
            )
            kind.refuse(value, as_new, self._known().without(target.id))

    def _stands_at(self, target: Record) -> datetime:
        """Return the time a record is true for, corrections of it applied."""
        entries = self._known().entries(target.kind)
        return next((e.record.valid_at for e in entries if e.id == target.id), target.valid_at)

    def _check_retraction(self, draft: Draft, target: Record) -> None:
        """Tell what would fall with a record; refuse to bring back one that cannot stand."""
        if target.kind == "journal.retract":
            self._check_brought_back(target)
            return
        kind = self.kinds[target.kind]
        falls = "" if kind.takes_with is None else kind.takes_with(target, self._known())
        if falls and not draft.payload.get("read_back"):
            raise RecordRefused(
                falls,
                where=f"retraction of a {kind.title}",
                accepted="the same with read_back, when it is meant so; or first a correction",
            )

    def _check_brought_back(self, retraction: Record) -> None:
        held = str(retraction.payload["target"])
        row = self.connection.execute(RECORD_SELECT.where(RECORDS.c.id == held)).first()
        if row is None:
            return
        gone = as_stored(row)
        kind = self.kinds[gone.kind]
        if kind.refuse is not None:
            value = check_payload(kind, gone.payload, gone.source)
            as_new = Draft(
                kind=gone.kind, payload=gone.payload, valid_at=gone.valid_at,
                heard_at=gone.heard_at, source=gone.source, identity=f"brought back {gone.id}",
            )  # fmt: skip
            kind.refuse(value, as_new, self._known().without(gone.id))

    def _check_times(self, draft: Draft, kind: Kind) -> None:
        """Refuse a corrected time that would make the record a report from the future."""
        for name, ahead_s in (("heard_at", 0.0), ("valid_at", kind.future_s)):
            told = draft.payload.get(name)
            if told is None:
                continue
            at = utc(datetime.fromisoformat(str(told)), name)
            if microseconds(at, name) > self.now_us + ahead_s * 1e6:
                changed: dict[str, Any] = {name: at}
                moved = replace(draft, **changed)
                raise self._from_the_future(moved, kind, heard=name == "heard_at")

    def _known(self) -> Known:
        shelf = ConnectionShelf(self.connection, self.blobs)
        return Known(shelf, self.kinds, self.head.seq, from_us(self.now_us))

    def _place(
        self, draft: Draft, id_: str, kind: Kind, valid_us: int, heard_us: int, text: str
    ) -> None:
        """Give a draft its place in the order, and its part in the block's hash."""
        head, source, name, now_us = self.head, draft.source, kind.name, self.now_us
        seq = head.seq + 1
        told = (name, draft.version, valid_us, heard_us, now_us, source, self.author, text)
        raw = _hashed_bytes((seq, id_, *told), source)
        if kind.columns:
            side = self._side_rows.get(name)
            if side is None:
                side = self._side_rows[name] = SideRow(kind)
            self.sides[name].append(side(draft.payload, (seq, id_, source, valid_us, heard_us)))
        if self._hash is None:
            self._hash = hashlib.sha256(bytes.fromhex(head.hash))
            self._first_seq = seq
            head.block += 1
        self._hash.update(len(raw).to_bytes(8, "big") + raw)
        head.seq = seq
        self.rows.append((seq, head.block, id_, *told))
        if len(self.rows) >= AT_ONCE:
            self._flush()
        self.placed.append((seq, self._recorded_at(), self.author, draft))
        news = self.sources.get(source)
        if news is None:
            news = self.sources[source] = SourceNews()
        news.count(valid_us, heard_us, by_feed=not draft.identity.startswith("form:"))

    def _recorded_at(self) -> datetime:
        if self._recorded is None or self._recorded[0] != self.now_us:
            self._recorded = (self.now_us, from_us(self.now_us))
        return self._recorded[1]

    def _flush(self) -> None:
        insert_rows(self.connection, RECORDS, self.rows)
        self.rows = []
        for name, rows in self.sides.items():
            insert_rows(self.connection, side_table(self.kinds[name]), rows)
        self.sides.clear()

    def _close_block(self) -> None:
        if self._hash is None:
            return
        self.head.hash = self._hash.hexdigest()
        self.head.recorded_at_us = self.now_us
        self.block_rows.append(
            (self.head.block, self._first_seq, self.head.seq, self.now_us, self.head.hash)
        )
        self._hash = None

    def close(self) -> None:
        """Write what waits, and the hash of each block."""
        self._close_block()
        self._flush()
        insert_rows(self.connection, BLOCKS, self.block_rows)
        note_sources(self.connection, self.sources)


def _time(told: object) -> datetime:
    return utc(datetime.fromisoformat(str(told)), "valid_at")


def _hashed_bytes(columns: tuple[Any, ...], source: str) -> bytes:
    try:
        return columns_bytes(columns)
    except UnicodeEncodeError:
        raise RecordRefused(
            "a text with half a character in it (a lone surrogate)",
            where=source.encode("utf-8", "backslashreplace").decode(),
            accepted="Unicode text",
        ) from None


def checked(kind: Kind, draft: Draft) -> tuple[str, Any]:
    """Return the canonical text of a draft's payload and its value in the kind's model.

    Raises
    ------
    InputError
        A field is not what the model accepts, or a text that no database can hold.
    """
    if draft.version != kind.version:
        raise RecordRefused(
            f"version {draft.version} of a {kind.title}",
            where=draft.source,
            accepted=f"version {kind.version}",
        )
    if "\x00" in draft.source:
        raise RecordRefused("a NUL in the name of the source", accepted="text without NUL")
    try:
        text = canonical(draft.payload)
        return text, kind.model.model_validate_json(text)
    except TypeError as fault:
        raise RecordRefused(
            str(fault), where=draft.source, accepted="plain JSON values, times as text"
        ) from None
    except UnicodeEncodeError:
        raise RecordRefused(
            "a text with half a character in it (a lone surrogate)",
            where=draft.source,
            accepted="Unicode text",
        ) from None
    except ValueError:
        value = check_payload(kind, draft.payload, draft.source)  # the same fault, in a sentence
        return canonical(draft.payload), value
