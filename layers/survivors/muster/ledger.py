"""The ledger of persons: double entry, never negative, always adding up to POB.

Everybody begins in "not accounted for". A move takes persons out of one place and puts the
same persons into another, so nobody can be lost or counted twice. Being dead goes with a person:
whoever moves a body moves a body, and nobody comes alive but by a move that says he was thought
dead.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from layers.earth.errors import InputError
from layers.survivors.chambers.pressure import bar_abs
from layers.survivors.muster.model import (
    UNACCOUNTED,
    Fitness,
    Group,
    Move,
    PlaceSort,
    Report,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Persons in one place who are alike in fitness, exposure and priority."""

    persons: int
    fitness: str
    exposure_bar_abs: float | None = None
    priority: int | None = None
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Ledger:
    """Lots by place; a value, so that a move makes a new one.

    Parameters
    ----------
    sorts : mapping of str to PlaceSort
        Every place there is.
    lots : mapping of str to tuple of Lot
        Who is where; a place without anybody may be missing.
    headcounts : mapping of str to int
        By place, how many are there by a headcount alone. A move that brings the same people
        there confirms them; they are never counted twice.
    """

    sorts: Mapping[str, PlaceSort]
    lots: Mapping[str, tuple[Lot, ...]]
    headcounts: Mapping[str, int] = field(default_factory=dict)

    @property
    def total(self) -> int:
        """Everybody in the ledger."""
        return sum(self.persons(place) for place in self.lots)

    def persons(self, place: str, fitness: str | None = None) -> int:
        """Return how many are at a place, of one fitness or of all."""
        return sum(
            lot.persons
            for lot in self.lots.get(place, ())
            if fitness is None or lot.fitness == fitness
        )


def opened(persons: int, sorts: Mapping[str, PlaceSort]) -> Ledger:
    """Return the ledger before the first move: everybody is not accounted for."""
    first = (Lot(persons=persons, fitness="unknown"),) if persons else ()
    return Ledger(sorts, {UNACCOUNTED: first})


def counted(ledger: Ledger, report: Report) -> Ledger:
    """Return the ledger after a headcount: who was not heard of before is where they were told.

    It finds people, as many as are not heard of; it takes nobody away and moves nobody who was
    told to be elsewhere: that stands beside the ledger until a person settles it.
    """
    if ledger.sorts.get(report.place) not in (PlaceSort.REFUGE, PlaceSort.SURFACE):
        return ledger
    there = ledger.persons(report.place)
    more = min(report.persons - there, ledger.persons(UNACCOUNTED))
    if more <= 0:
        return _found_dead(ledger, report)
    by_fitness: dict[Fitness, int] = {}
    if more == report.persons:
        by_fitness = {
            "walking": report.walking or 0,
            "injured": report.injured or 0,
            "stretcher": report.stretcher or 0,
            "dead": report.dead or 0,
        }
    by_fitness["unknown"] = more - sum(by_fitness.values())
    groups = tuple(
        Group(persons=persons, fitness=fitness, exposure=report.pressure)
        for fitness, persons in by_fitness.items()
        if persons
    )
    after = _transferred(ledger, _found(UNACCOUNTED, report.place, groups))
    held = ledger.headcounts.get(report.place, 0) + more
    return _found_dead(replace(after, headcounts={**ledger.headcounts, report.place: held}), report)


def _found_dead(ledger: Ledger, report: Report) -> Ledger:
    """Return the ledger with those dead whom a headcount tells of and nobody has booked as dead."""
    for was in ("unknown", "stretcher", "injured", "walking"):
        missing = (report.dead or 0) - ledger.persons(report.place, "dead")
        count = min(missing, ledger.persons(report.place, was))
        if count > 0:
            died = (Group(persons=count, fitness="dead", was=was),)
            ledger = _transferred(ledger, _found(report.place, report.place, died))
    return ledger


def _found(from_place: str, to_place: str, groups: tuple[Group, ...]) -> Move:
    return Move(from_place=from_place, to_place=to_place, groups=groups, reason="by headcount")


def _taken_back(ledger: Ledger, place: str, most: int) -> Ledger:
    """Return the ledger with people who are at a place by headcount alone not heard of again."""
    count = min(ledger.headcounts.get(place, 0), most)
    if not count:
        return ledger
    after = _transferred(ledger, _found(place, UNACCOUNTED, (Group(persons=count),)))
    left = ledger.headcounts[place] - count
    return replace(after, headcounts={**ledger.headcounts, place: left})


def moved(ledger: Ledger, move: Move) -> Ledger:
    """Return the ledger after one move; it confirms people who were counted where it brings them.

    Raises
    ------
    InputError
        An unknown place, or more persons than there are: the sentence says how many there are.
    """
    if move.from_place == UNACCOUNTED or ledger.sorts.get(move.to_place) is PlaceSort.SURFACE:
        ledger = _taken_back(ledger, move.to_place, move.persons)
    if move.from_place == UNACCOUNTED:
        for place in ledger.headcounts:
            missing = move.persons - ledger.persons(UNACCOUNTED)
            if missing > 0:  # told by name or number, which is more than a headcount
                ledger = _taken_back(ledger, place, missing)
    after = _transferred(_found_leaving(ledger, move), move)
    held = ledger.headcounts.get(move.from_place, 0)
    if held > after.persons(move.from_place):
        left = {**ledger.headcounts, move.from_place: after.persons(move.from_place)}
        return replace(after, headcounts=left)
    return after


def _found_leaving(ledger: Ledger, move: Move) -> Ledger:
    """Return the ledger with those found who leave a place where nobody had been counted."""
    missing = move.persons - ledger.persons(move.from_place)
    if not move.nobody_counted_before or not 0 < missing <= ledger.persons(UNACCOUNTED):
        return ledger
    there = (Group(persons=missing),)
    return _transferred(ledger, _found(UNACCOUNTED, move.from_place, there))


def _transferred(ledger: Ledger, move: Move) -> Ledger:
    """Return the ledger with the persons of a move put from one place into another.

    Raises
    ------
    InputError
        An unknown place, or more persons than there are: the sentence says how many there are.
    """
    for place in (move.from_place, move.to_place):
        if place not in ledger.sorts:
            raise InputError(
                f"{place!r} is not a place in the muster", accepted=", ".join(ledger.sorts)
            )
    there = ledger.persons(move.from_place)
    if move.persons > there:
        raise InputError(
            f"{move.persons} cannot leave {move.from_place!r}, where the muster has {there}: it "
            f"would hold {there - move.persons}",
            accepted=f"at most {there}, or first a move that brings the others there",
        )
    remaining = ledger.lots.get(move.from_place, ())
    arriving: list[Lot] = []
    for group in move.groups:
        remaining, taken = _take(remaining, group, move.from_place)
        arriving += [_as_grouped(lot, group, ledger.sorts[move.to_place]) for lot in taken]
    lots = {**ledger.lots, move.from_place: remaining}
    lots[move.to_place] = _merged((*lots.get(move.to_place, ()), *arriving))
    return replace(ledger, lots=lots)


def _take(lots: tuple[Lot, ...], group: Group, place: str) -> tuple[tuple[Lot, ...], list[Lot]]:
    """Return what remains and what is taken: of the group's fitness first, then unknown."""
    wanted = (group.was,) if group.was else (group.fitness, "unknown")
    order = [i for fitness in wanted for i, lot in enumerate(lots) if lot.fitness == fitness]
    if group.fitness == "unknown" and group.was is None:
        order = _each_once([*order, *range(len(lots))])
    remaining, taken, left = list(lots), [], group.persons
    for i in _each_once(order):
        count = min(left, remaining[i].persons)
        if count:
            taken.append(_share(remaining[i], count, group.names))
            remaining[i] = replace(
                remaining[i],
                persons=remaining[i].persons - count,
                names=_rest(remaining[i], count, group.names),
            )
            left -= count
    if left:
        held = ", ".join(f"{lot.persons} {lot.fitness}" for lot in lots if lot.persons) or "nobody"
        raise InputError(
            f"{group.persons} {group.was or group.fitness} cannot leave {place!r}, "
            f"which has {held}",
            accepted="the fitness they are booked under in 'was', when it has changed"
            + (" ('dead' for a body)" if "dead" in held else ""),
        )
    return tuple(lot for lot in remaining if lot.persons), taken


def _each_once(order: list[int]) -> list[int]:
    return list(dict.fromkeys(order))


def _share(lot: Lot, count: int, names: tuple[str, ...]) -> Lot:
    leaving = lot.names if count == lot.persons else tuple(n for n in lot.names if n in names)
    return replace(lot, persons=count, names=leaving)


def _rest(lot: Lot, count: int, names: tuple[str, ...]) -> tuple[str, ...]:
    return () if count == lot.persons else tuple(n for n in lot.names if n not in names)


def _as_grouped(lot: Lot, group: Group, sort: PlaceSort) -> Lot:
    """Return the lot as the move describes it; what the move leaves open stays as it was."""
    fitness = group.fitness
    if sort in (PlaceSort.DEAD, PlaceSort.MORTUARY):
        fitness_now = "dead"
    elif fitness == "unknown" and group.was is None:
        fitness_now = lot.fitness
    else:
        fitness_now = fitness
    names = tuple(dict.fromkeys((*lot.names, *group.names)))[: lot.persons]
    return replace(
        lot,
        fitness=fitness_now,
        exposure_bar_abs=bar_abs(group.exposure) if group.exposure else lot.exposure_bar_abs,
        priority=lot.priority if group.priority is None else group.priority,
        names=names,
    )


def _merged(lots: tuple[Lot, ...]) -> tuple[Lot, ...]:
    """Return the lots with like ones added together."""
    found: dict[tuple[str, float | None, int | None], Lot] = {}
    for lot in lots:
        key = (lot.fitness, lot.exposure_bar_abs, lot.priority)
        held = found.get(key)
        found[key] = (
            lot
            if held is None
            else replace(held, persons=held.persons + lot.persons, names=held.names + lot.names)
        )
    return tuple(found.values())
