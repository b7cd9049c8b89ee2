"""Who breathes the air of a refuge, and what they do: from the muster and from what is told."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from layers.contract import Moment
from layers.journal.known import Entry, Known
from layers.survivors.air.learning.events import PeoplePresent
from layers.survivors.air.rhythm import ASLEEP_AT_MOST_H, DAY_MET, MET, Exertion
from layers.survivors.air.stores import hours
from layers.survivors.muster.model import UNACCOUNTED
from layers.survivors.muster.muster import (
    book,
    muster,
    place_sorts,
    told as accounts,
    touches,
)
from layers.survivors.muster.on_board import persons_on_board


def presences(known: Known, refuge: str, at: datetime, origin: datetime) -> list[PeoplePresent]:
    """Return how many are in the refuge, from before the first reading on."""
    pob, sorts = persons_on_board(known, at).pob, place_sorts(known)
    moves = accounts(known, at)
    touching = [e for e in moves if touches(e, refuge)]
    found = []
    for time in sorted({entry.record.valid_at for entry in touching}):
        ledger = book(pob, sorts, [e for e in moves if e.record.valid_at <= time]).ledger
        alive = ledger.persons(refuge) - ledger.persons(refuge, "dead")
        found.append(PeoplePresent(at_h=hours(time, origin), persons=alive))
    if found and getattr(touching[0].value, "from_place", UNACCOUNTED) == UNACCOUNTED:
        # who was first heard of there has been breathing there since the first reading
        found[0] = replace(found[0], at_h=min(found[0].at_h, 0.0))
    return found


@dataclass(frozen=True, slots=True)
class Otherwise:
    """What other accounts say of how many are in a refuge, in words: fewer, more, or some of both.

    Fewer could only make the air last longer, more only shorter; of both nothing can be said.
    ``none``: one has nobody alive there, as where it is told flooded; their time may be over.
    ``short`` is how many are there less by the one that has the fewest.
    """

    fewer: str = ""
    more: str = ""
    both: str = ""
    none: str = ""
    short: int = 0

    @property
    def sooner(self) -> str:
        """What could only make their time shorter than it is worked out."""
        return self.more or self.none

    @property
    def doubt(self) -> str:
        """What it does to the times of the air that are worked out, a sentence."""
        if self.both:
            return f"{self.both}: the air may end sooner or later."
        if self.none:
            return f"{self.none}: if not, no time of the air holds."
        return f"{self.more}: if more are there the air ends sooner." if self.more else ""


def told_otherwise(known: Known, refuge: str, at: datetime) -> Otherwise:
    """Return what accounts say that differ from the muster and that nobody has settled."""
    if not persons_on_board(known, at).rests_on:
        return Otherwise()
    who = muster(known, Moment(at, at))
    place = who.place(refuge)
    here = 0 if place is None else place.alive
    told = {
        max(here + more, 0) for c in who.conflicts for name, more in c.if_true if name == refuge
    }
    said = f"{' or '.join(str(n) for n in sorted({*told, here}))} in {refuge}"
    fewer, more = min(told, default=here) < here, max(told, default=here) > here
    short = max(here - min(told, default=here), 0)
    if here and 0 in told:
        whether = f"whether the {here} counted in {refuge} are alive there"
        return Otherwise(none=whether, short=short)
    if fewer and more:
        return Otherwise(both=f"{said}, {here} counted", short=short)
    return Otherwise(
        fewer=f"{said}, the larger counted" if fewer else "",
        more=f"{said}, the smaller counted" if more else "",
        short=short,
    )


def own_air(entries: list[Entry], origin: datetime) -> tuple[tuple[float, float, int], ...]:
    """Return who breathes from sets of their own, from when until when."""
    found: list[tuple[float, float, int]] = []
    for entry in entries:
        at_h = hours(entry.record.valid_at, origin)
        if found:
            start, until, persons = found[-1]
            found[-1] = (start, min(until, at_h), persons)
        found.append((at_h, at_h + entry.value.lasts_h, entry.value.persons))
    return tuple(found)


def breathing(
    present: list[PeoplePresent], own_air: tuple[tuple[float, float, int], ...]
) -> list[PeoplePresent]:
    """Return how many breathe the refuge's air: those there less those on sets of their own."""
    times = {p.at_h for p in present} | {t for one in own_air for t in one[:2]}
    found = []
    for at_h in sorted(times):
        there = [p.persons for p in present if p.at_h <= at_h]
        apart = sum(n for start, until, n in own_air if start <= at_h < until)
        found.append(PeoplePresent(at_h=at_h, persons=max((there[-1] if there else 0) - apart, 0)))
    return found


def activities(
    entries: list[Entry], present: list[PeoplePresent], origin: datetime
) -> tuple[Exertion, ...]:
    """Return what people were told to do: the last word counts until its end or the next."""
    found: list[Exertion] = []
    for number, entry in enumerate(entries):
        told = entry.value
        at_h = hours(entry.record.valid_at, origin)
        factor = MET[told.activity] / DAY_MET
        until = float("inf") if factor > 1.0 else at_h + ASLEEP_AT_MOST_H
        if told.until is not None:
            until = hours(told.until, origin)
        later = entries[number + 1 :]
        until = min([until, *(hours(e.record.valid_at, origin) for e in later)])
        there = [p.persons for p in present if p.at_h <= at_h]
        share = min(told.persons / there[-1], 1.0) if told.persons and there and there[-1] else 1.0
        if until > at_h:
            found.append(Exertion(from_h=at_h, until_h=until, factor=factor, share=share))
    return tuple(found)
