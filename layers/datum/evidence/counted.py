"""The terms that count, the reports of one owner joined, and the same less some reports."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any

from layers.datum.evidence.setting import Built
from layers.datum.evidence.shared import SharedTerm
from layers.datum.probability.particles import Term
from layers.earth.clock import day_hhmm
from layers.journal.known import Entry

AGAIN = timedelta(minutes=2)  # the same measurement told twice within this is one
SAME_EAR_M = 1_852.0
NOT_MEASURED = {"note", "by", "chance_wrong"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """The terms of an estimate, and in which of them each report stands.

    Parameters
    ----------
    terms : tuple of Term
        One a report, or one an owner of several.
    row_of : mapping of str to int
        Report's key to its term.
    """

    terms: tuple[Term, ...]
    row_of: Mapping[str, int]

    def less(self, keys: Collection[str]) -> dict[int, Term | None]:
        """Return the terms that change when some reports are left out; None: the term is gone."""
        found: dict[int, Term | None] = {}
        for row in {self.row_of[key] for key in keys if key in self.row_of}:
            term = self.terms[row]
            left: Any = None
            if isinstance(term.likelihood, SharedTerm):
                left = term.likelihood.without(tuple(keys))
            found[row] = None if left is None else replace(term, likelihood=left)
        return found

    @property
    def owners(self) -> dict[str, tuple[str, ...]]:
        """The reports by owner, of owners with several."""
        return {
            term.likelihood.owner: tuple(member.key for member in term.likelihood.members)
            for term in self.terms
            if isinstance(term.likelihood, SharedTerm)
        }


def counted(built: Sequence[Built]) -> Counted:
    """Return the terms that count: an owner's several reports in one."""
    groups: dict[str, list[Built]] = {}
    for item in built:
        if item.term is not None:
            name = item.owner if item.member is not None else item.term.key
            groups.setdefault(name, []).append(item)
    terms: list[Term] = []
    row_of: dict[str, int] = {}
    for owner, items in groups.items():
        for item in items:
            assert item.term is not None  # only those are grouped
            row_of[item.term.key] = len(terms)
        members = tuple(item.member for item in items if item.member is not None)
        single = items[0].term
        if len(members) > 1:
            shared = SharedTerm(owner=owner, members=members)
            terms.append(Term(key=owner, likelihood=shared))
        elif single is not None:
            terms.append(single)
    return Counted(terms=tuple(terms), row_of=row_of)


def told_again(entries: Sequence[tuple[str, Entry]]) -> dict[str, str]:
    """Return, for each record that says once more what another said, why it does not count.

    The same measurement of the same observer within two minutes is one, by whatever way it came;
    the same ear in the same place hears one source however often it is said.
    """
    found: dict[str, str] = {}
    first: list[tuple[str, Entry]] = []
    for kind, entry in sorted(entries, key=lambda pair: (pair[1].record.valid_at, pair[1].id)):
        for other_kind, other in first:
            if kind == other_kind and _same(kind, entry, other):
                when = day_hhmm(other.record.valid_at)
                found[entry.id] = f"the same as told for {when} by {other.record.source}"
                break
        else:
            first.append((kind, entry))
    return found


def _same(kind: str, one: Entry, other: Entry) -> bool:
    apart = abs(one.record.valid_at - other.record.valid_at)
    here, there = (entry.value.model_dump(exclude=NOT_MEASURED) for entry in (one, other))
    if kind == "datum.heard":
        sound = one.value.by.strip().lower() == other.value.by.strip().lower()
        near = _metres(one, other) <= SAME_EAR_M
        return bool(one.value.observer == other.value.observer and sound and near)
    return apart <= AGAIN and here == there


def _metres(one: Entry, other: Entry) -> float:
    from layers.earth.geodesy import WGS84

    return float(
        WGS84.inv(
            one.value.longitude_deg,
            one.value.latitude_deg,
            other.value.longitude_deg,
            other.value.latitude_deg,
        )[2]
    )
