"""What is known of ports, ships and loads at one time, reports that differ side by side.

A later report from the same source replaces its earlier one. Reports from different sources
stand beside each other until one is adopted; what they disagree on is then not known.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from layers.forward_port import model
from layers.journal.known import Entry, Known

Values = tuple[Any, ...]

_NAMED: dict[str, Callable[[Any], str]] = {
    "port": lambda v: v.name,
    "airfield": lambda v: v.name,
    "crane": lambda v: f"{v.port} {v.name}",
    "berth": lambda v: f"{v.port} {v.name}",
    "tide": lambda v: v.port,
    "tide_constants": lambda v: v.port,
    "tide_differences": lambda v: v.port,
    "road": lambda v: v.name,
    "piece": lambda v: v.name,
    "aircraft": lambda v: v.name,
    "trailer": lambda v: v.name,
    "ship": lambda v: v.name,
    "leg": lambda v: v.key,
    "option": lambda v: v.key,
    "activity": lambda v: v.key,
    "clearance": lambda v: v.activity,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Standing values by kind and name; more than one where sources differ.

    ``ids`` are the records it all rests on; ``actuals`` and ``choices`` are in order of time.
    """

    by_kind: dict[str, dict[str, Values]]
    actuals: tuple[tuple[model.Actual, str], ...]
    choices: tuple[tuple[model.Choice, datetime, str], ...]
    ids: tuple[str, ...]
    record_of: dict[int, str] = field(default_factory=dict)

    def all(self, kind: str, name: str) -> Values:
        """Return the standing values of one thing, empty when nothing is known of it."""
        return self.by_kind.get(kind, {}).get(name, ())

    def last(self, kind: str, name: str) -> Any:
        """Return the last heard value of one thing, or None."""
        found = self.all(kind, name)
        return found[-1] if found else None

    def names(self, kind: str) -> tuple[str, ...]:
        """Return what there is of a kind, in the order first heard."""
        return tuple(self.by_kind.get(kind, {}))

    def every(self, kind: str) -> Values:
        """Return the last heard value of everything of a kind."""
        return tuple(values[-1] for values in self.by_kind.get(kind, {}).values())

    def source(self, value: Any) -> str:
        """Return the id of the record that a value came from."""
        return self.record_of.get(id(value), "")


def gather(known: Known, at: datetime) -> Facts:
    """Return the facts that hold at a time, as far as they are known."""
    by_kind: dict[str, dict[str, Values]] = {}
    ids: list[str] = []
    record_of: dict[int, str] = {}
    for kind, name_of in _NAMED.items():
        groups: dict[str, list[Entry]] = {}
        for entry in _holding(known, kind, at):
            groups.setdefault(name_of(entry.value), []).append(entry)
        by_kind[kind] = {name: _standing(entries) for name, entries in groups.items()}
        for entries in groups.values():
            for entry in entries:
                ids.append(entry.id)
                record_of[id(entry.value)] = entry.id
    actuals = _holding(known, "actual", at)
    choices = _holding(known, "choice", at)
    ids += [entry.id for entry in (*actuals, *choices)]
    return Facts(
        by_kind=by_kind,
        actuals=tuple((entry.value, entry.id) for entry in actuals),
        choices=tuple((entry.value, entry.record.valid_at, entry.id) for entry in choices),
        ids=tuple(ids),
        record_of=record_of,
    )


def with_ways_told(facts: Facts, now: datetime) -> Facts:
    """Return the facts with each leg to the datum that is in no chain as a way of its own.

    *Savona to the datum at 14 kn* is all that anybody knows in the first hour: it answers when a
    ship could be there, and gives way to the chain as soon as that names the leg.
    """
    used = {activity.leg for activity in facts.every("activity")}
    legs = [leg for leg in facts.every("leg") if leg.to_datum and leg.key not in used]
    if not legs:
        return facts
    added: dict[str, dict[str, Values]] = {"option": {}, "activity": {}}
    for leg in legs:
        sails = leg.sails_at or now
        activity = model.Activity(key=leg.key, title=leg.key, options=(leg.key,), leg=leg.key,
                                  not_before=sails)  # fmt: skip
        option = model.Option(key=leg.key, title=leg.key, purpose="arrival", ship=leg.ship,
                              zero=sails, zero_is="sailing", last=leg.key)  # fmt: skip
        added["activity"][leg.key], added["option"][leg.key] = (activity,), (option,)
    by_kind = {**facts.by_kind}
    for kind, more in added.items():
        by_kind[kind] = {**by_kind.get(kind, {}), **more}
    return replace(facts, by_kind=by_kind)


def _holding(known: Known, kind: str, at: datetime) -> list[Entry]:
    return [e for e in known.entries(f"forward_port.{kind}") if e.record.valid_at <= at]


def _standing(entries: list[Entry]) -> Values:
    """Return the adopted value, or the last of each source, one for each that differs."""
    adopted = [entry for entry in entries if entry.adopted]
    if adopted:
        return (adopted[-1].value,)
    by_source: dict[str, Entry] = {}
    for entry in entries:
        by_source.pop(entry.record.source, None)
        by_source[entry.record.source] = entry
    kept: list[Any] = []
    for entry in by_source.values():
        if entry.value not in kept:
            kept.append(entry.value)
    return tuple(kept)
