"""Taking drafts in, inside the writer's lock: checked, placed in the one order, hashed.

Everything here runs in one transaction of the one writer, so that what is read cannot change
before it is written.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.earth.clock import dtg, duration_words, from_us, to_us
from layers.earth.errors import InputError, RecordRefused
from layers.journal.kinds import OPINION_NAMES, Kind
from layers.journal.known import Known, check_payload
from layers.journal.record import Draft, Record, canonical, columns_bytes
from layers.journal.schema import BLOCKS, RECORDS, SOURCES, side_table
from layers.journal.shelf import RECORD_SELECT, ConnectionShelf, as_stored, known_ids

# Clocks of two servers differ a little; within this the record's own time is moved up to
# when it was heard, so that nothing is ever heard after it was recorded.
CLOCK_SLACK_US = 5_000_000
FIRST_HASH = "0" * 64


@dataclass(slots=True, kw_only=True)
class Head:
    """Where the journal's order ends."""

    block: int = 0
    seq: int = 0
    recorded_at_us: int = 0
    hash: str = FIRST_HASH


def read_head(connection: Connection) -> Head:
    """Return the last block, or the beginning of an empty journal."""
    row = connection.execute(
        sa.select(BLOCKS.c.block, BLOCKS.c.last_seq, BLOCKS.c.recorded_at_us, BLOCKS.c.hash)
        .order_by(BLOCKS.c.block.desc())
        .limit(1)
    ).first()
    if row is None:
        return Head()
    return Head(block=row[0], seq=row[1], recorded_at_us=row[2], hash=row[3])


@dataclass(slots=True, kw_only=True)
class Intake:
    """Blocks being taken in, one after the other, in one transaction.

    ``rows``, ``sides`` and ``block_rows`` wait to be written; ``taken`` is all that was taken.
    """

    connection: Connection
    kinds: Mapping[str, Kind]
    author: str
    now_us: int
    head: Head
    blobs: dict[str, bytes] = field(default_factory=dict)
    rows: list[dict[str, Any]] = field(default_factory=list)
    sides: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    block_rows: list[dict[str, Any]] = field(default_factory=list)
    taken: list[Record] = field(default_factory=list)
    already_there: list[str] = field(default_factory=list)
    refused: list[tuple[Draft, InputError]] = field(default_factory=list)
    _hash: Any = None
    _first_seq: int = 0
    _seen: set[str] = field(default_factory=set)
    _feeds: set[str] = field(default_factory=set)

    def look_up(self, drafts: Sequence[Draft]) -> None:
        """Find out which of the drafts the journal already holds."""
        self._seen |= known_ids(self.connection, [draft.id for draft in drafts])

    def holds(self, id_: str) -> bool:
        """Return whether the journal, or a block before, holds this id."""
        return id_ in self._seen

    def next_block(self, now_us: int, author: str) -> None:
        """Close the block that is open and begin one of another time or author."""
        self._close_block()
        self.now_us, self.author = now_us, author

    def take(self, drafts: Sequence[Draft], *, refuse_whole: bool) -> None:
        """Take the drafts in their order; a refused one refuses all, or stands aside.

        Raises
        ------
        InputError
            A draft cannot stand, and ``refuse_whole`` is set.
        """
        self.now_us = max(self.now_us, self._latest_heard(drafts))
        for draft in drafts:
            id_ = draft.id
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
        limit = self.now_us + CLOCK_SLACK_US
        heard = (to_us(d.heard_at) for d in drafts if d.heard_at.tzinfo is not None)
        return max((us for us in heard if us <= limit), default=0)

    def _take_one(self, draft: Draft, id_: str) -> None:
        kind = self.kinds.get(draft.kind)
        if kind is None:
            raise RecordRefused(f"{draft.kind!r} is not a kind of record", where=draft.source)
        valid_us, heard_us = to_us(draft.valid_at), to_us(draft.heard_at)
        self._check_times(draft, kind, valid_us, heard_us)
        text, value = checked(kind, draft)
        if draft.kind in OPINION_NAMES:
            self._check_opinion(draft)
        if kind.refuse is not None:
            self._flush()
            kind.refuse(value, draft, self._known())
        self._place(draft, id_, kind, valid_us, heard_us, text)

    def _check_times(self, draft: Draft, kind: Kind, valid_us: int, heard_us: int) -> None:
        if heard_us > self.now_us:
            late = duration_words(timedelta(microseconds=heard_us - self.now_us))
            raise RecordRefused(
                f"a report from the future: heard at {dtg(draft.heard_at)}, {late} ahead of the "
                "journal's clock",
                where=f"{draft.source}, heard_at",
                accepted=f"up to {dtg(from_us(self.now_us))}",
            )
        if valid_us > self.now_us + int(kind.future_s * 1e6):
            raise RecordRefused(
                f"a report from the future: a {kind.title} valid at {dtg(draft.valid_at)}",
                where=f"{draft.source}, valid_at",
                accepted=f"up to {dtg(from_us(self.now_us + int(kind.future_s * 1e6)))}",
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
        if draft.kind == "journal.correct":
            self._check_correction(draft, target)

    def _check_correction(self, draft: Draft, target: Record) -> None:
        kind = self.kinds[target.kind]
        payload: Mapping[str, Any] = target.payload
        if target.version < kind.version and kind.upgrade is not None:
            payload = kind.upgrade(target.version, payload)
        for opinion in self._known().opinions().get(target.id, ()):
            if opinion.kind == "journal.correct":
                payload = {**payload, **opinion.payload["fields"]}
        corrected = {**payload, **draft.payload["fields"]}
        try:
            check_payload(kind, corrected, f"correction of a {kind.title}")
        except InputError as reason:
            raise RecordRefused(reason.what, where=reason.where, accepted=reason.accepted) from None

    def _known(self) -> Known:
        shelf = ConnectionShelf(self.connection, self.blobs)
        return Known(shelf, self.kinds, self.head.seq, from_us(self.now_us))

    def _place(
        self, draft: Draft, id_: str, kind: Kind, valid_us: int, heard_us: int, text: str
    ) -> None:
        seq = self.head.seq + 1
        raw = columns_bytes(
            (
                seq,
                id_,
                draft.kind,
                draft.version,
                valid_us,
                heard_us,
                self.now_us,
                draft.source,
                self.author,
                text,
            )
        )
        side = side_row(kind, draft, seq, id_, valid_us, heard_us) if kind.columns else None
        if self._hash is None:
            self._hash = hashlib.sha256(bytes.fromhex(self.head.hash))
            self._first_seq = seq
            self.head.block += 1
        self._hash.update(len(raw).to_bytes(8, "big") + raw)
        self.head.seq = seq
        self.rows.append(
            {
                "seq": seq,
                "block": self.head.block,
                "id": id_,
                "kind": draft.kind,
                "version": draft.version,
                "valid_at_us": valid_us,
                "heard_at_us": heard_us,
                "recorded_at_us": self.now_us,
                "source": draft.source,
                "author": self.author,
                "payload": text,
            }
        )
        if not draft.identity.startswith("form:"):
            self._feeds.add(draft.source)
        if side is not None:
            self.sides.setdefault(kind.name, []).append(side)
        self.taken.append(
            Record(
                seq=seq,
                id=id_,
                kind=draft.kind,
                version=draft.version,
                valid_at=draft.valid_at,
                heard_at=draft.heard_at,
                recorded_at=from_us(self.now_us),
                source=draft.source,
                author=self.author,
                payload=draft.payload,
            )
        )

    def _flush(self) -> None:
        if self.rows:
            self.connection.execute(RECORDS.insert(), self.rows)
            self.rows = []
        for name, rows in self.sides.items():
            if rows:
                self.connection.execute(side_table(self.kinds[name]).insert(), rows)
        self.sides = {}

    def _close_block(self) -> None:
        if self._hash is None:
            return
        self.head.hash = self._hash.hexdigest()
        self.head.recorded_at_us = self.now_us
        self.block_rows.append(
            {
                "block": self.head.block,
                "first_seq": self._first_seq,
                "last_seq": self.head.seq,
                "recorded_at_us": self.now_us,
                "hash": self.head.hash,
            }
        )
        self._hash = None

    def close(self) -> None:
        """Write what waits, and the hash of each block."""
        self._close_block()
        self._flush()
        if self.block_rows:
            self.connection.execute(BLOCKS.insert(), self.block_rows)
            note_sources(self.connection, self.taken, self._feeds)


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
    try:
        text = canonical(draft.payload)
        value = kind.model.model_validate_json(text)
        (text + draft.source).encode()
    except UnicodeEncodeError:
        raise RecordRefused(
            "a text with half a character in it (a lone surrogate)",
            where=draft.source,
            accepted="Unicode text",
        ) from None
    except TypeError as fault:
        raise RecordRefused(
            str(fault), where=draft.source, accepted="plain JSON values, times as text"
        ) from None
    except ValueError:
        value = check_payload(kind, draft.payload, draft.source)  # the same fault, in a sentence
        text = canonical(draft.payload)
    if "\x00" in draft.source:
        raise RecordRefused("a NUL in the name of the source", accepted="text without NUL")
    return text, value


def side_row(
    kind: Kind, draft: Draft, seq: int, id_: str, valid_us: int, heard_us: int
) -> dict[str, Any]:
    """Return a draft's row of its kind's side table."""
    row: dict[str, Any] = {
        "seq": seq,
        "id": id_,
        "source": draft.source,
        "valid_at_us": valid_us,
        "heard_at_us": heard_us,
    }
    payload = draft.payload
    for column in kind.columns:
        value = payload.get(column.name)
        if column.sql == "INTEGER" and value is not None and not -(2**63) <= value < 2**63:
            raise RecordRefused(
                f"{value} is too large", where=f"{draft.source}, {column.name}", accepted="64 bits"
            )
        if column.sql == "TEXT" and value is not None and "\x00" in value:
            value = value.replace("\x00", "�")  # only in the side table; the payload keeps it
        row[f"f_{column.name}"] = value
    return row


def note_sources(connection: Connection, records: Iterable[Record], feeds: set[str]) -> None:
    """Keep, per source, when it was last heard; what a feed's age is read from."""
    news: dict[str, list[int]] = {}
    for record in records:
        heard, valid = to_us(record.heard_at), to_us(record.valid_at)
        held = news.get(record.source)
        if held is None:
            news[record.source] = [heard, valid, 1]
        else:
            held[0], held[1], held[2] = max(held[0], heard), max(held[1], valid), held[2] + 1
    for source, (heard, valid, count) in news.items():
        row = connection.execute(sa.select(SOURCES).where(SOURCES.c.source == source)).first()
        if row is None:
            connection.execute(
                SOURCES.insert().values(
                    source=source,
                    last_heard_us=heard,
                    last_valid_us=valid,
                    records=count,
                    by_feed=source in feeds,
                )
            )
        else:
            connection.execute(
                SOURCES.update()
                .where(SOURCES.c.source == source)
                .values(
                    last_heard_us=max(heard, row.last_heard_us),
                    last_valid_us=max(valid, row.last_valid_us),
                    records=row.records + count,
                    by_feed=row.by_feed or source in feeds,
                )
            )
