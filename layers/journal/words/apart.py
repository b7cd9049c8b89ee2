"""Names that look alike are told apart as they are read: the later one says what it is.

What a person types is refused where it looks like another name (`look_alikes.py`); what comes by
a file, a feed or another room's parcel is recorded as it came, for nobody can be asked. All things
of the plot are known by their names, so there is one place at which they can be told apart for
everybody: between the records and what is known. There the later of two such names is written
with what it is made of, ``KESTREL l ‹with small L›``, in whatever field it stands, and layers,
pages, papers, exports and lists to choose from have it so. Under a release it is told apart only
from what that release reads. What was chosen so from a list is recorded as the name itself.

Of names that are all ships' by AIS the number beside them tells which is which
(`layers.earth.said.alike.told_apart`).
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Any, Literal, get_args, get_origin

import numpy as np
from pydantic import BaseModel

from layers.earth.arrays import Array
from layers.earth.said.alike import looks, unmarked, visible, ways_to_tell
from layers.journal.kinds import Kind
from layers.journal.record import Record

if TYPE_CHECKING:
    from layers.journal.known import Known

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
NUMBERED = "subject"  # a name beside such a number is told apart by it

Alike = Mapping[str, Mapping[str, list[str]]]  # how it looks, the names, records that say each
ENOUGH = 3  # one may be taken back
Said = dict[str, dict[str, list[tuple[int, str]]]]  # the same, each record with its number


def named(payload: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Return each field of a payload that names something, and the name."""
    for key, value in payload.items():
        if key in NAMING and isinstance(value, str) and 0 < len(value) <= LONGEST:
            yield key, value


def look_of(name: str) -> str:
    """Return how a name looks, whatever is written beside it that we write there ourselves."""
    return looks(unmarked(name))


@dataclass(slots=True)
class NamesSaid:
    """Every name that was recorded up to a place in the order: how it looks, itself, by whom."""

    upto_seq: int = 0
    held: Said = field(default_factory=dict)
    bulk: Said = field(default_factory=dict)  # by kinds of which whole files and streams come
    several: set[str] = field(default_factory=set)  # looks that more than one name has
    lock: threading.Lock = field(default_factory=threading.Lock)

    def note(self, name: str, seq: int, id_: str, *, bulk: bool = False) -> None:
        """Note that a record says a name; of what comes in bulk the first ones are enough."""
        look = look_of(name)
        said = (self.bulk if bulk else self.held).setdefault(look, {}).setdefault(name, [])
        if not bulk or len(said) < ENOUGH:
            said.append((seq, id_))
        if len(self.held.get(look, {}).keys() | self.bulk.get(look, {}).keys()) > 1:
            self.several.add(look)

    def note_record(self, record: Record) -> None:
        """Note the names that a record says; of a correction, of what it corrects."""
        correction = record.kind == "journal.correct"
        payload = record.payload.get("fields", {}) if correction else record.payload
        of = str(record.payload["target"]) if correction else record.id
        for _, name in named(payload):
            self.note(name, record.seq, of)

    def alike(self, upto_seq: int) -> Alike:
        """Return the looks that more than one name had up to a place."""
        found = {}
        for look in tuple(self.several):
            names: dict[str, list[str]] = {}
            for said in (self.held.get(look, {}), self.bulk.get(look, {})):
                for name, records in tuple(said.items()):
                    if ids := [id_ for seq, id_ in records if seq <= upto_seq]:
                        names.setdefault(name, []).extend(ids)
            if len(names) > 1:
                found[look] = names
        return found


def standing(ids: Iterable[str], name: str, known: Known) -> Record | None:
    """Return the first record that still says a name, None when none does."""
    for id_ in ids:
        if any(said == name for _, said in now_named(id_, known)):
            return known.with_ids([id_])[id_]
    return None


def now_named(id_: str, known: Known) -> list[tuple[str, str]]:
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


@dataclass(frozen=True)
class NamesApart:
    """How names are written that look like an earlier one; most of the time there are none."""

    told: Mapping[str, str]

    @cached_property
    def key(self) -> str:
        """What results rest on of it; empty where no name looks like another."""
        if not self.told:
            return ""
        said = repr(sorted(self.told.items()))
        return hashlib.sha256(said.encode("utf-8", "surrogatepass")).hexdigest()[:12]

    @cached_property
    def _names(self) -> dict[str, str]:
        return {told: name for name, told in self.told.items()}

    def recorded(self, value: Any) -> Any:
        """Return a name, or whatever holds names, as it is recorded."""
        return _each(value, self._names) if self.told else value

    def record(self, record: Record, kind: Kind | None) -> Record:
        """Return a record with its names told apart."""
        if not self.told:
            return record
        coded = _coded(kind.model) if kind is not None else frozenset()
        payload = {
            key: value if key in coded else _each(value, self.told)
            for key, value in record.payload.items()
        }
        return record if payload == record.payload else replace(record, payload=payload)

    def value(self, value: Any) -> Any:
        """Return a kind's model with its names told apart; words of a list of its own stay."""
        if not self.told:
            return value
        if isinstance(value, BaseModel):
            coded = _coded(type(value))
            told = {
                key: new
                for key in type(value).model_fields
                if key not in coded and (new := self.value(old := getattr(value, key))) is not old
            }
            return value.model_copy(update=told) if told else value
        if type(value) is str:
            return self.told.get(value, value)
        if isinstance(value, list | tuple):
            made = [self.value(one) for one in value]
            same = all(a is b for a, b in zip(made, value, strict=True))
            return value if same else type(value)(made)
        return value

    def columns(self, columns: dict[str, Array]) -> dict[str, Array]:
        """Return the columns of a bulk kind with their names told apart."""
        if not self.told:
            return columns
        found = dict(columns)
        for name in NAMING & found.keys():
            held = found[name]
            if held.dtype == object and not self.told.keys().isdisjoint(held.tolist()):
                told = [self.told.get(one, one) for one in held.tolist()]
                found[name] = np.array(told, dtype=object)
        return found


NONE_ALIKE = NamesApart({})


def told_apart_in(alike: Alike, known: Known) -> NamesApart:
    """Return how names are written of which several look the same.

    Parameters
    ----------
    alike : mapping
        NamesSaid by how they look, with the records that say them.
    known : Known
        What is read, its names as they are recorded: a name that was taken back, or that a
        release does not read, is none.
    """
    told: dict[str, str] = {}
    for names in alike.values():
        said = {name: record for name, ids in names.items()
                if (record := standing(ids, name, known)) is not None}  # fmt: skip
        if len(said) < 2 or all(NUMBERED in one.payload for one in said.values()):
            continue
        first, *later = sorted(said, key=lambda name: (_in_bulk(said[name], known), said[name].seq))
        taken = {looks(visible(first))}
        for name in later:
            way = next(way for way in ways_to_tell(name, first) if looks(way) not in taken)
            taken.add(looks(way))
            if way != name:
                told[name] = way
    return NamesApart(told) if told else NONE_ALIKE


def _in_bulk(record: Record, known: Known) -> bool:
    kind = known.kinds.get(record.kind)
    return kind is not None and bool(kind.columns)


def _each(value: Any, names: Mapping[str, str]) -> Any:
    if isinstance(value, str):
        return names.get(value, value)
    if isinstance(value, Mapping):
        return {key: _each(one, names) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return type(value)(_each(one, names) for one in value)
    return value


@lru_cache(maxsize=1024)
def _coded(model: type[BaseModel]) -> frozenset[str]:
    """Return the fields of a model that take the words of a list only."""
    return frozenset(name for name, one in model.model_fields.items() if _of_a_list(one.annotation))


def _of_a_list(annotation: Any) -> bool:
    return get_origin(annotation) is Literal or any(map(_of_a_list, get_args(annotation)))
