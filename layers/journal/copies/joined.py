"""Joining what another room recorded: each record once, with who and when; contradictions told.

A record keeps its id, so what both rooms hold is there once, and a correction finds its target.
Its author is that of the other room with the room behind the name. When it was recorded there
can not be this journal's time of recording; the record of the joining says from whom, what and
when, and when each was heard stands in the record itself.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby
from typing import Any

from layers.earth.clock import from_us
from layers.earth.errors import InputError
from layers.journal.actor import Actor, Role, may_write
from layers.journal.copies.parcel import Parcel
from layers.journal.record import Draft, Record, form_identity
from layers.journal.store import Journal

NEAR = timedelta(minutes=30)
# Fields that say whom or what a record is about; two rooms that tell of the same differ in others.
ABOUT = frozenset(
    {
        "subject", "name", "refuge", "place", "from_place", "to_place", "ship", "port", "vehicle",
        "chamber", "who", "what", "person", "item", "unit", "station", "boat", "target", "gas",
        "stage", "audience", "kind", "key", "instrument", "transponder",
    }
)  # fmt: skip
WORDS = frozenset({"reason", "note", "text", "said", "comment", "words", "remarks"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought(Draft):
    """A draft of a record that has its id already."""

    held_id: str

    @property
    def id(self) -> str:
        """The id that it was recorded under."""
        return self.held_id


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Two records that tell the same thing differently, and the fields in which they do."""

    kind: str
    about: str
    ours: Record
    theirs: Record
    fields: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Joined:
    """What became of a parcel."""

    taken: int
    already_there: int
    refused: tuple[str, ...]
    contradictions: tuple[Contradiction, ...]


def join(journal: Journal, parcel: Parcel, actor: Actor) -> Joined:
    """Take in a parcel of another room of the same operation.

    Parameters
    ----------
    journal : Journal
        Opened for writing.
    parcel : Parcel
        Its signature fits; that its room is the one it says was heard by another way.
    actor : Actor
        Who takes it in.

    Raises
    ------
    NotAllowed
        Who takes it in may only read.
    InputError
        It is of an exercise where this is an operation, or the other way round.
    """
    may_write(actor)
    about = parcel.about
    if about.exercise != journal.exercise:
        sort = "an exercise" if about.exercise else "an operation"
        raise InputError(f"this parcel is of {sort} and this journal is not")
    before = journal.revision()
    taken = already = 0
    refused: list[str] = []
    theirs: list[Record] = []
    room = f"{about.room} {about.mark}"
    for author, rows in groupby(parcel.rows, key=lambda row: row[8]):
        drafts = [_brought(row) for row in rows]
        by = Actor(name=f"{author} ({room})", role=Role.FEED, via="joined")
        done = journal.append(by, drafts, blobs=parcel.blobs)
        taken += done.count
        already += len(done.already_there)
        refused += [one.reason for one in done.rejects]
        theirs += done.records
    ours = [one for one in _since(journal, parcel, before) if one.id not in {t.id for t in theirs}]
    found = Joined(taken, already, tuple(refused), tuple(_contradictions(ours, theirs)))
    _note(journal, parcel, actor, found)
    return found


def _brought(row: tuple[Any, ...]) -> Brought:
    _, id_, kind, version, valid_us, heard_us, _, source, _, text = row
    return Brought(
        kind=kind, payload=json.loads(text), valid_at=from_us(valid_us), heard_at=from_us(heard_us),
        source=source, identity=form_identity(f"joined:{id_}"), version=version, held_id=id_,
    )  # fmt: skip


MOST_NAMED = 20  # contradictions that the note names; the text of a note is bounded


def _note(journal: Journal, parcel: Parcel, actor: Actor, done: Joined) -> None:
    about, now = parcel.about, journal.now()
    said = (
        f"{done.taken} records of {about.room} ({about.mark}), numbers {about.after + 1} to "
        f"{about.upto} there, sent by {about.by}, were joined; {done.already_there} were here "
        f"already, {len(done.refused)} were refused. Their head: {about.head}"
    )
    pairs = [f"No. {one.ours.seq} and No. {one.theirs.seq}" for one in done.contradictions]
    if pairs:  # whoever opens the log later finds them still
        more = f" and {len(pairs) - MOST_NAMED} more" if len(pairs) > MOST_NAMED else ""
        said += f". Contradict each other: {', '.join(pairs[:MOST_NAMED])}{more}"
    draft = Draft(
        kind="watch.note",
        payload={"text": said},
        valid_at=now,
        heard_at=now,
        source=actor.name,
        identity=form_identity(f"join:{parcel.digest}"),
    )
    journal.append(actor, [draft])


def _since(journal: Journal, parcel: Parcel, upto: int) -> list[Record]:
    """Return what this room recorded of the kinds that the parcel holds, about the same times."""
    held = journal.kinds
    kinds = {row[2] for row in parcel.rows if row[2] in held and not held[row[2]].columns}
    if not kinds:
        return []
    first = min(from_us(row[4]) for row in parcel.rows) - NEAR
    theirs = {row[1] for row in parcel.rows}
    found = journal.read(kinds, upto)
    return [one for one in found if one.valid_at >= first and one.id not in theirs]


def _key(kind: str, payload: Mapping[str, Any]) -> tuple[Any, ...]:
    told = tuple(
        (name, str(value).casefold())
        for name, value in sorted(payload.items())
        if name in ABOUT and isinstance(value, (str, int))
    )
    return (kind, *told)


def _contradictions(ours: list[Record], theirs: list[Record]) -> Iterator[Contradiction]:
    """Give pairs that tell of the same thing about the same time, and differ."""
    mine: dict[tuple[Any, ...], list[Record]] = {}
    for one in ours:
        mine.setdefault(_key(one.kind, one.payload), []).append(one)
    for other in theirs:
        key = _key(other.kind, other.payload)
        if len(key) < 2:
            continue  # it says of nothing in particular what it is about
        near = [one for one in mine.get(key, ()) if abs(one.valid_at - other.valid_at) <= NEAR]
        for one in sorted(near, key=lambda one: abs(one.valid_at - other.valid_at))[:1]:
            fields = _differ(one.payload, other.payload)
            if fields:
                told = ", ".join(value for _, value in key[1:])
                yield Contradiction(other.kind, told, one, other, fields)


def _differ(ours: Mapping[str, Any], theirs: Mapping[str, Any]) -> tuple[str, ...]:
    names = sorted({*ours, *theirs} - ABOUT - WORDS)
    return tuple(name for name in names if ours.get(name) != theirs.get(name))
