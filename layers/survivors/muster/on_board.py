"""How many were on board, part by part as stated, and where the statements do not agree."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from layers.earth.clock import dtg
from layers.journal.known import Entry, Known


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Two accounts that do not agree, shown until a person settles it.

    ``difference`` is reported less booked, in persons; ``rests_on`` the records that disagree.
    ``if_true`` is how many more or fewer are at each place if this account is the right one;
    an empty name stands for all on board.
    """

    place: str
    text: str
    difference: int
    rests_on: tuple[str, ...]
    if_true: tuple[tuple[str, int], ...] = ()


def in_order(entries: Iterable[Entry], at: datetime | None = None) -> list[Entry]:
    """Return entries true by ``at`` in the order of the times they are true for."""
    kept = [entry for entry in entries if at is None or entry.record.valid_at <= at]
    return sorted(kept, key=lambda entry: (entry.record.valid_at, entry.record.seq))


@dataclass(frozen=True, slots=True)
class Complements:
    """Persons on board as stated, part by part."""

    pob: int
    disputed: int
    conflicts: tuple[Conflict, ...]
    rests_on: tuple[str, ...]


def persons_on_board(known: Known, at: datetime | None) -> Complements:
    """Return POB: the parts added up.

    A source's newer statement of a part replaces its older one. Where sources differ, what was
    adopted counts, else the larger: it is worse to look for one too few.
    """
    latest: dict[tuple[str, str], Entry] = {}
    for entry in in_order(known.entries("survivors.complement"), at):
        latest[(entry.value.part, entry.record.source)] = entry
    pob, disputed, conflicts, used = 0, 0, [], []
    ordered = sorted(latest.values(), key=lambda entry: entry.value.part)
    for part, grouped in groupby(ordered, key=lambda entry: entry.value.part):
        stated = list(grouped)
        adopted = [entry for entry in stated if entry.adopted]
        counted = max(adopted or stated, key=lambda entry: entry.value.persons)
        pob += counted.value.persons
        disputed += counted.value.persons if counted.disputed else 0
        used += [entry.id for entry in stated]
        if not adopted and len({entry.value.persons for entry in stated}) > 1:
            conflicts.append(_differs(part, stated))
    return Complements(pob, disputed, tuple(conflicts), tuple(used))


def _differs(place: str, stated: list[Entry]) -> Conflict:
    told = ", ".join(
        f"{e.value.persons} ({e.record.source}, {dtg(e.record.valid_at)})" for e in stated
    )
    counts = [entry.value.persons for entry in stated]
    return Conflict(
        place=place,
        text=f"{place}: told {told}",
        difference=max(counts) - min(counts),
        rests_on=tuple(entry.id for entry in stated),
        if_true=(("", min(counts) - max(counts)),),  # the larger is booked
    )
