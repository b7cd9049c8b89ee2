"""The objects of search as all that was told of each adds up.

A later record of an object tells what is new; what it does not tell stands. What was seen,
searched and found counts under each name that the object has had, and for a part of what was
split, up to when it was.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from difflib import SequenceMatcher
from typing import Any

from layers.datum.adrift.leeway import BY_KEY
from layers.datum.adrift.told import ObjectFound, ObjectsJoined
from layers.datum.before.base import upto
from layers.datum.model import DISSUB
from layers.datum.search.model import SearchObject
from layers.earth.errors import AskedFirst, RecordRefused
from layers.earth.said.near import near_names
from layers.journal.known import Entry, Known
from layers.journal.record import Draft
from layers.journal.side_by_side import same_event, signed_words

SAYS = {  # what people say, and what the table calls it
    "liferaft": "raft", "life raft": "raft", "rubber boat": "raft", "dinghy": "raft",
    "immersion suit": "survival suit", "exposure suit": "survival suit", "swimmer": "person",
    "man in the water": "person in water", "men in the water": "person in water",
    "survivor": "person", "body": "person deceased", "dead": "deceased", "boat": "open boat",
    "oil": "oil slick", "buoy": "drifts with the water alone",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldObject:
    """One object: its record with what later ones add, its names, and how it stands.

    ``before_split`` is what it was part of, and until when.
    """

    entry: Entry
    names: frozenset[str]
    found: Entry | None
    suspended: Entry | None
    before_split: tuple[frozenset[str], datetime] | None

    @property
    def still_sought(self) -> bool:
        """Whether somebody is to look for it now."""
        done = self.found is not None and self.found.value.all_of_it
        return bool(self.entry.value.still_sought) and not done and self.suspended is None

    def told(self, entries: Iterable[Entry]) -> Iterator[Entry]:
        """Give the sightings or searches that count for it."""
        for entry in entries:
            name = entry.value.object
            if name in self.names:
                yield entry
            elif self.before_split is not None:
                whole, until = self.before_split
                if name in whole and entry.record.valid_at <= until:
                    yield entry


def objects(known: Known, at: datetime) -> list[ToldObject]:
    """Return the objects of search told by a time, in the order in which they came up."""
    joined = {e.value.object: e.value.into for e in upto(known, "datum.objects_joined", at)}
    told: dict[str, list[Entry]] = {}
    for entry in upto(known, "datum.object", at):
        told.setdefault(_last_name(entry.value.name, joined), []).append(entry)
    found = {_last_name(e.value.object, joined): e for e in upto(known, "datum.object_found", at)}
    stopped = suspended(known, at, joined)
    made = []
    for name, entries in told.items():
        last = _merged(entries)
        begun = next((e for e in entries if e.value.split_from), None)
        whole = _names(begun.value.split_from, joined) if begun else frozenset()
        made.append(
            ToldObject(
                entry=replace(last, value=last.value.model_copy(update={"name": name})),
                names=_names(name, joined),
                found=found.get(name),
                suspended=stopped.get(name),
                before_split=(whole, begun.record.valid_at) if begun else None,
            )
        )
    return made


def unfinished(known: Known) -> tuple[str, ...]:
    """Return which objects are still looked for, in words."""
    told = objects(known, known.as_of)
    return tuple(f"{one.entry.value.name} is still sought" for one in told if one.still_sought)


def suspended(known: Known, at: datetime, joined: dict[str, str] | None = None) -> dict[str, Entry]:
    """Return for which objects the search is suspended, the DISSUB among them."""
    held: dict[str, Entry] = {}
    for entry in upto(known, "datum.search_suspended", at):
        name = _last_name(entry.value.object, joined or {})
        if entry.value.resumed:
            held.pop(name, None)
        else:
            held[name] = entry
    return held


def _last_name(name: str, joined: dict[str, str]) -> str:
    seen = {name}
    while (after := joined.get(name)) is not None and after not in seen:
        name = after
        seen.add(name)
    return name


def _names(name: str, joined: dict[str, str]) -> frozenset[str]:
    return frozenset({name, *(one for one in joined if _last_name(one, joined) == name)})


def _merged(entries: list[Entry]) -> Entry:
    """Return the last record, with what it leaves out taken from those before it."""
    last: Entry = entries[-1]
    fields: dict[str, Any] = {}
    for entry in entries:
        for name in SearchObject.model_fields:
            value = getattr(entry.value, name)
            default = SearchObject.model_fields[name].default
            if name in ("name", "object_type", "still_sought") or value != default:
                fields[name] = value
    return replace(last, value=SearchObject(**fields))


def refuse_type(value: Any, draft: Draft, known: Known) -> None:
    """Refuse an object whose drift nobody can work out, and offer the nearest types.

    Raises
    ------
    RecordRefused
        The type is not in the leeway table and no leeway is given.
    """
    if value.leeway_percent is not None or value.object_type in BY_KEY:
        return
    raise RecordRefused(
        f"{getattr(value, 'name', None) or value.what}: no leeway is known for "
        f"{value.object_type!r}",
        where=f"{draft.source}, object_type",
        accepted=f"the nearest: {'; '.join(nearest_types(value.object_type))}; or leeway_percent "
        "with leeway_source",
    )


def nearest_types(said: str, most: int = 3) -> list[str]:
    """Return the types of the leeway table that are nearest to what was said, in its words."""
    text = " ".join(said.casefold().replace(",", " ").replace("-", " ").split())
    for words, row in SAYS.items():
        if words in text and row not in text:
            text = text.replace(words, row)
    wanted = set(text.split())
    size = re.search(r"(\d+) (?:persons?|people|man|men)\b", text)

    def score(row: str) -> tuple[float, float]:
        words = set(row.casefold().replace(",", " ").replace("-", " ").split())
        shared = len(wanted & words) / max(len(words), 1) + len(wanted & words)
        if size and (span := re.search(r"(\d+)-(\d+) persons", row)):
            shared += 1.0 if int(span[1]) <= int(size[1]) <= int(span[2]) else -2.0
        return shared, SequenceMatcher(None, text, row.casefold()).ratio()

    return sorted(BY_KEY, key=score, reverse=True)[:most]


def ask_name(value: Any, draft: Draft, known: Known, author: str) -> None:
    """Ask about an object's name that is not known but near one that is.

    Raises
    ------
    AskedFirst
        With the objects there are; named as answered the record is taken as it stands.
    """
    field = "name" if draft.kind == "datum.object" else "object"
    said = getattr(value, field)
    entries = known.entries("datum.object")
    names = {entry.value.name: entry.id for entry in entries}
    fresh = said and said not in names and said != DISSUB
    if fresh and not set(draft.answered) & {"name", *names.values()}:
        near = near_names(said, names)
        if near or (field == "object" and draft.kind != "datum.searcher"):
            there = ", ".join(repr(each) for each in near or names) or "none yet"
            raise AskedFirst(
                f"there is no object of search called {said!r}",
                tuple(names[each] for each in near) or ("name",),
                accepted=f"one that there is: {there}; or the same again, when it is another",
            )
    same_event(draft, known, author)


def ask_found(value: ObjectFound, draft: Draft, known: Known, author: str) -> None:
    """Ask before an object is found a second time, or with more people than it was told to hold.

    Raises
    ------
    AskedFirst
        Who found it when, with how many; or how many it was told to hold.
    """
    ask_name(value, draft, known, author)
    told = {name: one for one in objects(known, known.as_of) for name in one.names}
    if (it := told.get(value.object)) is None:
        return
    if it.found is not None and it.found.value.all_of_it and it.found.id not in draft.answered:
        first = it.found.value
        raise AskedFirst(
            f"{value.object} is found already, by {first.by}: {first.alive} alive, {first.dead} "
            f"dead ({signed_words(it.found.record, known.as_of)})",
            (it.found.id,),
            accepted="leave it when it is the same; record it all the same when yours is to hold",
        )
    held, found = it.entry.value.persons, value.alive + value.dead
    if held is not None and found > held and it.entry.id not in draft.answered:
        raise AskedFirst(
            f"{found} are found, and {value.object} was told to hold {held}",
            (it.entry.id,),
            accepted=f"at most {held}; or record it all the same when more were in it",
        )


def refuse_joined(value: ObjectsJoined, draft: Draft, known: Known) -> None:
    """Refuse to join what is one already: it would be called by the other's name.

    Raises
    ------
    RecordRefused
        As what they are known.
    """
    joined = {e.value.object: e.value.into for e in known.entries("datum.objects_joined")}
    if _last_name(value.object, joined) == (name := _last_name(value.into, joined)):
        raise RecordRefused(
            f"{value.object} and {value.into} are one already, called {name}",
            accepted="two objects that are not one yet; or first the retraction of that",
        )
