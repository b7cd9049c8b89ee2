"""Two hands on one thing: asked of the second, who then knows of the first.

Whoever comes second is told what stands, by whom and since when, before anything is recorded; it
runs in the writer's lock, so that of two in the same second one is always the second. Nothing
later wins without a word.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from layers.earth.clock import clock_words
from layers.earth.errors import AskedFirst, RecordRefused
from layers.journal.kinds import OPINION_NAMES, Kind
from layers.journal.record import Draft, Record
from layers.journal.signature import read_signature
from layers.journal.words.payloads import payload_words

if TYPE_CHECKING:
    from layers.journal.known import Entry, Known

LATELY = timedelta(minutes=15)  # between two tellings of one event; common practice, no source
ID = re.compile(r"[0-9a-f]{32}")
POINTS = ("target", "replaces", "over", "beside", "supersedes")  # fields that name records
FREE_WORDS = 3  # a text of more is somebody's own words, and two people's differ


def signed_words(record: Record, now: Any) -> str:
    """Return who recorded something and when: ``AB, room North, at 0640Z``."""
    who = read_signature(record.author).words() or "somebody"
    return f"{who}, at {clock_words(record.recorded_at, now)}"


def check_references(draft: Draft, known: Known) -> None:
    """Refuse a record that names another which is not in the journal.

    Raises
    ------
    RecordRefused
        Says which.
    """
    named = [
        one for field in POINTS for one in _texts(draft.payload.get(field)) if ID.fullmatch(one)
    ]
    if not named:
        return
    held = known.with_ids(named)
    for one in named:
        if one not in held:
            title = known.kinds[draft.kind].title if draft.kind in known.kinds else draft.kind
            raise RecordRefused(
                f"there is no record {one[:12]}…, which this {title} names",
                accepted="a record of this journal; choose it from the list",
            )


def _texts(value: object) -> Iterable[str]:
    if isinstance(value, str):
        return (value,)
    return tuple(map(str, value)) if isinstance(value, (list, tuple)) else ()


def ask_first(kind: Kind, value: Any, draft: Draft, known: Known, author: str) -> None:
    """Ask the second of two who tell one thing, or contradict each other.

    Raises
    ------
    AskedFirst
        With the records that it is about.
    """
    if draft.kind == "journal.correct":
        _other_correction(draft, known, author)
    elif kind.ask is not None:
        kind.ask(value, draft, known, author)
    elif not kind.columns and draft.kind not in OPINION_NAMES:
        same_event(draft, known, author)


def twice_is_harmless(value: Any, draft: Draft, known: Known, author: str) -> None:
    """Ask nothing: told twice it says the same."""


def by_others(entries: Iterable[Entry], draft: Draft, known: Known, author: str) -> list[Entry]:
    """Return what somebody else recorded a short while ago, true at about the same time."""
    return [
        entry
        for entry in entries
        if entry.record.author != author
        and entry.id not in draft.answered
        and known.as_of - entry.record.recorded_at <= LATELY
        and abs(entry.record.valid_at - draft.valid_at) <= LATELY
        and not _typed_by_program(entry.record)
    ]


def _typed_by_program(record: Record) -> bool:
    return record.author in ("", "Musterplot")


def same_event(draft: Draft, known: Known, author: str) -> None:
    """Ask when somebody else has told the same, their own words apart."""
    for entry in by_others(known.entries(draft.kind), draft, known, author):
        theirs, ours = _core(entry.record.payload), _core(draft.payload)
        if (theirs == ours and ours) or dict(entry.record.payload) == dict(draft.payload):
            said = payload_words(entry.record.payload, most=90)
            raise the_same(f"{said}", entry.record, known)


def the_same(said: str, record: Record, known: Known) -> AskedFirst:
    """Return the question whether two tell one event."""
    return AskedFirst(
        f"{signed_words(record, known.as_of)}, recorded as No. {record.seq}: {said}. The same?",
        (record.id,),
        accepted="leave it when it is; record it all the same when it is another",
    )


def _core(payload: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is told, without what people put in their own words."""
    return {
        name: value
        for name, value in payload.items()
        if value not in (None, "", [], (), False)
        and not (isinstance(value, str) and len(value.split()) > FREE_WORDS)
        and name not in ("by", "source", "reported_by", "decided_by", "said", "reason", "basis")
    }


def _other_correction(draft: Draft, known: Known, author: str) -> None:
    """Ask when somebody else has lately corrected the same field to another value."""
    fields = draft.payload.get("fields", {})
    for opinion in reversed(known.opinions().get(str(draft.payload["target"]), [])):
        if opinion.kind != "journal.correct" or opinion.author == author:
            continue
        if opinion.id in draft.answered or known.as_of - opinion.recorded_at > 4 * LATELY:
            continue
        theirs = opinion.payload["fields"]
        other = {n: theirs[n] for n in fields if n in theirs and theirs[n] != fields[n]}
        if other:
            raise AskedFirst(
                f"{signed_words(opinion, known.as_of)}, corrected this to "
                f"{payload_words(other, most=90)}; yours says "
                f"{payload_words({n: fields[n] for n in other}, most=90)}",
                (opinion.id,),
                accepted="ask them first; record it all the same when yours is to hold",
            )
