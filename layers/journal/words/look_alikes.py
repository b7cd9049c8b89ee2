"""A name that a person types and that looks like another on the plot is refused.

Two units, places or people whose names nobody can tell apart would be one on every screen, paper
and export. Where a name is first typed is the one place at which both are known; whoever types it
says the other's name, or one that looks different. A kind that asks whether a near name is meant
asks first, for an answer can be pressed. What comes by itself is not refused: a ship's
name by AIS is told apart where it is shown (`layers.earth.said.alike.told_apart`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from weakref import WeakKeyDictionary

from sqlalchemy.engine import Connection, Engine

from layers.earth.errors import RecordRefused
from layers.earth.said.alike import looks, visible
from layers.journal.kinds import Kind
from layers.journal.known import Known
from layers.journal.record import Draft
from layers.journal.shelf import RECORD_SELECT, as_stored
from layers.journal.tables.schema import RECORDS

LONGEST = 80  # more is a sentence
# fields that name a unit, a place or a person: of any kind, of layers to come too
NAMING = frozenset((
    "name", "subject", "vehicle", "ship", "chamber", "refuge", "place", "from_place", "to_place",
    "hospital", "port", "airfield", "station", "object", "into", "split_from", "transponder",
    "one", "other", "searcher", "observer", "who", "craft", "group", "pod", "seat", "berth",
    "road", "aircraft", "trailer", "key", "lift", "option", "activity", "leg", "carried_by",
    "kept_by", "asked_of", "with_whom", "whom", "by", "said_by", "set_by", "reported_by",
    "decided_by", "entered_by", "approved_by", "held_by", "given_by", "given_to", "taken_by",
    "in_place_of", "port_or_hospital", "instrument",
))  # fmt: skip


@dataclass(slots=True)
class _Held:
    """Every name that was recorded up to a place in the order: how it looks, itself, by whom."""

    upto_seq: int = 0
    names: dict[str, dict[str, list[str]]] = field(default_factory=dict)


_HELD: WeakKeyDictionary[Engine, _Held] = WeakKeyDictionary()


def named(payload: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Return each field of a payload that names something, and the name."""
    for key, value in payload.items():
        if key in NAMING and isinstance(value, str) and 0 < len(value) <= LONGEST:
            yield key, value


def refuse_look_alike(
    draft: Draft, kinds: Mapping[str, Kind], connection: Connection, before_seq: int, known: Known
) -> None:
    """Refuse a name that looks like another and is not it.

    Parameters
    ----------
    draft : Draft
        What a person typed; of a correction the fields that it changes.
    before_seq : int
        The last record that stands whatever becomes of this writing.

    Raises
    ------
    RecordRefused
        Says both names, and where the other stands.
    """
    fixing = draft.kind == "journal.correct"
    payload = draft.payload.get("fields", {}) if fixing else draft.payload
    told = list(named(payload))
    if not told:
        return
    held = _read(connection, kinds, before_seq)
    for _, name in told:
        others = held.names.get(looks(name), {})
        if not others or set(others) == {name} or _stands(others.get(name, ()), name, known):
            continue
        for other, ids in others.items():
            if other == name or not (where := _stands(ids, other, known)):
                continue
            if fixing and known.with_ids([str(draft.payload["target"])]) and any(
                other == old for _, old in _now(str(draft.payload["target"]), known)
            ):  # fmt: skip
                continue  # the slip itself is mended
            seen = known.with_ids([where])[where]
            raise RecordRefused(
                f"{visible(name)} looks like {visible(other)}, which is another name, of No. "
                f"{seen.seq}: nobody could tell them apart",
                accepted=f"{visible(other)}, if that is meant, or a name that looks different",
            )


def _read(connection: Connection, kinds: Mapping[str, Kind], upto_seq: int) -> _Held:
    """Return the names held, those read that came since; bulk from feeds is not looked at."""
    held = _HELD.setdefault(connection.engine, _Held())
    if held.upto_seq >= upto_seq:
        return held
    few = [name for name, kind in kinds.items() if not kind.columns]
    question = (
        RECORD_SELECT.where(RECORDS.c.kind.in_(few))
        .where(RECORDS.c.seq > held.upto_seq)
        .where(RECORDS.c.seq <= upto_seq)
        .order_by(RECORDS.c.seq)
    )
    for row in connection.execute(question):
        record = as_stored(row)
        correction = record.kind == "journal.correct"
        payload = record.payload.get("fields", {}) if correction else record.payload
        of = str(record.payload["target"]) if correction else record.id
        for _, name in named(payload):
            held.names.setdefault(looks(name), {}).setdefault(name, []).append(of)
    held.upto_seq = upto_seq
    return held


def _stands(ids: list[str] | tuple[str, ...], name: str, known: Known) -> str:
    """Return a record that still says a name, empty when none does."""
    return next((one for one in ids if any(said == name for _, said in _now(one, known))), "")


def _now(id_: str, known: Known) -> list[tuple[str, str]]:
    """Return what a record names now: corrected where it was, nothing where it was taken back."""
    record = known.with_ids([id_]).get(id_)
    opinions = known.opinions().get(id_, ())
    if record is None or any(one.kind == "journal.retract" for one in opinions):
        return []
    payload = dict(record.payload)
    for one in opinions:
        if one.kind == "journal.correct":
            payload |= one.payload["fields"]
    return list(named(payload))
