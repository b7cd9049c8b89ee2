"""The muster: who is where, from the records, with what does not agree standing beside it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from layers.contract import Moment
from layers.earth.clock import dtg
from layers.earth.errors import InputError
from layers.earth.tells import Tells
from layers.journal.known import Entry, Known
from layers.journal.releases.released import withholds
from layers.survivors.muster.boat import water_of
from layers.survivors.muster.ledger import Ledger, Lot, counted, moved, opened
from layers.survivors.muster.model import (
    FITNESS,
    PLACES,
    PlaceSort,
    Report,
)
from layers.survivors.muster.on_board import Conflict, in_order, persons_on_board

OUT = (
    PlaceSort.VEHICLE,
    PlaceSort.CHAMBER,
    PlaceSort.DECK,
    PlaceSort.HOSPITAL,
    PlaceSort.ASHORE,
    PlaceSort.PICKED_UP,
)
TO_GO = (PlaceSort.REFUGE, PlaceSort.SURFACE)
FROM_THE_PLAN = {
    "survivors.vehicle": PlaceSort.VEHICLE,
    "survivors.chamber": PlaceSort.CHAMBER,
}
# kinds that name a place where people are
SPEAKING = (
    "survivors.move", "survivors.report", "survivors.seat", "survivors.compartment",
    "survivors.air", "survivors.stores", "survivors.stores_used", "survivors.pod",
    "survivors.breathing", "survivors.inflow", "survivors.lift",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceState:
    """One place: its lots, and when it last changed."""

    name: str
    sort: PlaceSort
    lots: tuple[Lot, ...]
    changed_at: datetime | None
    disputed: bool
    rests_on: tuple[str, ...]

    @property
    def persons(self) -> int:
        """How many are there, the dead among them."""
        return sum(lot.persons for lot in self.lots)

    @property
    def alive(self) -> int:
        """How many are there who are not known dead."""
        return self.persons - self.of("dead")

    def of(self, fitness: str) -> int:
        """Return how many are there of one fitness."""
        return sum(lot.persons for lot in self.lots if lot.fitness == fitness)


@dataclass(frozen=True, slots=True, kw_only=True)
class Muster:
    """The account of persons at a time; its places always add up to POB.

    Parameters
    ----------
    at : datetime
        The time it is true for, UTC.
    pob, pob_disputed : int
        Persons on board, and how many of them are in dispute (they count until settled).
    places : tuple of PlaceState
        Every place, in the order they are shown in.
    conflicts : tuple of Conflict
        Reports that differ from the ledger or from each other, and moves that cannot stand.
    last_report_at
        The last report, move or reading of their air, by the time it is true for.
    rests_on : tuple of str
        The records used.
    """

    at: datetime
    pob: int
    pob_disputed: int
    places: tuple[PlaceState, ...]
    conflicts: tuple[Conflict, ...]
    last_report_at: datetime | None
    rests_on: tuple[str, ...]
    counts_only: bool = False  # the state of persons is withheld from who reads here

    @property
    def by_place(self) -> dict[str, int]:
        """Persons by place; adds up to POB."""
        return {place.name: place.persons for place in self.places}

    @property
    def by_fitness(self) -> dict[str, int]:
        """Persons by fitness; adds up to POB."""
        return {f: sum(place.of(f) for place in self.places) for f in FITNESS}

    @property
    def out(self) -> int:
        """Alive, out of the DISSUB and out of the water; those in the vehicle count."""
        return self._sum(OUT)

    @property
    def to_go(self) -> int:
        """In a refuge or seen on the surface and not yet picked up."""
        return self._sum(TO_GO)

    @property
    def dead(self) -> int:
        """Known dead, wherever they lie."""
        return sum(place.of("dead") for place in self.places)

    @property
    def missing(self) -> int:
        """Named as missing after all was done to find them."""
        return self._sum((PlaceSort.MISSING,))

    @property
    def not_accounted(self) -> int:
        """Heard of nowhere; unknown is not dead."""
        return self._sum((PlaceSort.UNACCOUNTED,))

    def place(self, name: str) -> PlaceState | None:
        """Return one place by name."""
        return next((place for place in self.places if place.name == name), None)

    def _sum(self, sorts: tuple[PlaceSort, ...]) -> int:
        return sum(place.alive for place in self.places if place.sort in sorts)


@dataclass(frozen=True, slots=True)
class Booked:
    """The ledger after some moves, with the moves that could not stand."""

    ledger: Ledger
    stood: tuple[Entry, ...]
    set_aside: tuple[tuple[Entry, str], ...]


def place_sorts(known: Known) -> dict[str, PlaceSort]:
    """Return every place there is: those always there, then those recorded.

    The vehicles and chambers of the plan are places too. The two ready-made refuges stand in
    until her compartments are told; then they are there only where some record speaks of them.
    """
    told = known.entries("survivors.place")
    sorts = dict(PLACES)
    spoken_of = _spoken_of(known)
    # of a compartment told of as dry or flooded alone nobody said that people wait there
    water = "survivors.water" in known.kinds and known.entries("survivors.water")
    only_water = {e.value.refuge for e in water or ()} - spoken_of
    if any(
        e.value.sort is PlaceSort.REFUGE and e.value.name not in PLACES.keys() | only_water
        for e in told
    ):
        spoken_of |= {entry.value.name for entry in told}
        sorts = {
            name: sort
            for name, sort in sorts.items()
            if sort is not PlaceSort.REFUGE or name in spoken_of
        }
    for entry in told:
        sorts.setdefault(entry.value.name, entry.value.sort)
    for kind, sort in FROM_THE_PLAN.items():
        if kind in known.kinds:
            for entry in known.entries(kind):
                sorts.setdefault(entry.value.name, sort)
    return sorts


def _spoken_of(known: Known) -> set[str]:
    """Return the names of places that records of people, air, stores and lifts speak of."""
    return {
        str(name)
        for kind in SPEAKING
        if kind in known.kinds
        for entry in known.entries(kind)
        for field in ("from_place", "to_place", "place", "refuge")
        if isinstance(name := getattr(entry.value, field, None), str)
    }


def told(known: Known, at: datetime | None = None) -> list[Entry]:
    """Return the moves and headcounts true by ``at``, in the order they are booked in."""
    kinds = ("survivors.move", "survivors.report")
    booked = (e for kind in kinds for e in known.entries(kind))
    return in_order((*booked, *_in_the_water(known)), at)


def _in_the_water(known: Known) -> list[Entry]:
    """Return what is told of people in the water as headcounts of the surface, all groups added.

    Else somebody told to be adrift would be in no count of those adrift until a move is booked.
    """
    surface = next((n for n, s in place_sorts(known).items() if s is PlaceSort.SURFACE), None)
    if surface is None or "survivors.in_water" not in known.kinds:
        return []
    groups: dict[str, int] = {}
    found = []
    for entry in in_order(known.entries("survivors.in_water")):
        if entry.disputed:
            continue
        groups[entry.value.group] = 0 if entry.value.recovered else entry.value.persons
        if not entry.value.recovered:
            there = Report(place=surface, persons=sum(groups.values()))
            found.append(replace(entry, value=there))
    return found


def touches(entry: Entry, place: str) -> bool:
    """Whether a move or a headcount is about a place."""
    value = entry.value
    if isinstance(value, Report):
        return bool(value.place == place)
    return place in (value.from_place, value.to_place)


def book(pob: int, sorts: dict[str, PlaceSort], entries: Iterable[Entry]) -> Booked:
    """Return the ledger after moves and headcounts in their order.

    A move that cannot stand is set aside; a headcount in dispute finds nobody.
    """
    ledger, stood, set_aside = opened(pob, sorts), [], []
    for entry in entries:
        if isinstance(entry.value, Report):
            ledger = ledger if entry.disputed else counted(ledger, entry.value)
            continue
        try:
            ledger = moved(ledger, entry.value)
            stood.append(entry)
        except InputError as reason:
            set_aside.append((entry, reason.words))
    return Booked(ledger, tuple(stood), tuple(set_aside))


def muster(known: Known, moment: Moment) -> Muster:
    """Return who is where at ``moment.at``, from what is known.

    Raises
    ------
    InputError
        Nothing says how many were on board.
    """
    complement = persons_on_board(known, moment.at)
    if not complement.rests_on:
        raise InputError(
            "nobody has said how many were on board",
            accepted="the complement: sailing list and riders",
        )
    moves = in_order(known.entries("survivors.move"), moment.at)
    reports = in_order((*known.entries("survivors.report"), *_in_the_water(known)), moment.at)
    sorts = place_sorts(known)
    accounts = told(known, moment.at)
    booked = book(complement.pob, sorts, accounts)
    # A reading of the air comes from people too: the last that was heard of them.
    heard = (*booked.stood, *reports, *in_order(known.entries("survivors.air"), moment.at))
    last = max(heard, key=lambda e: e.record.valid_at, default=None)
    return Muster(
        at=moment.at,
        pob=complement.pob,
        pob_disputed=complement.disputed,
        places=tuple(_place_state(name, sort, booked, accounts) for name, sort in sorts.items()),
        conflicts=(
            *complement.conflicts,
            *_moves_set_aside(booked),
            *_reports_apart(reports, complement.pob, sorts, accounts),
            *_in_flooded(known, moment.at, booked.ledger, accounts),
        ),
        last_report_at=last.record.valid_at if last else None,
        rests_on=(*complement.rests_on, *(e.id for e in (*moves, *reports))),
        counts_only=withholds(known, Tells.MEDICAL),
    )


def _place_state(name: str, sort: PlaceSort, booked: Booked, accounts: list[Entry]) -> PlaceState:
    stood = {entry.id for entry in booked.stood}
    counts = booked.ledger.headcounts.get(name, 0) > 0
    touched = [
        e
        for e in accounts
        if touches(e, name) and (e.id in stood or (counts and isinstance(e.value, Report)))
    ]
    return PlaceState(
        name=name,
        sort=sort,
        lots=booked.ledger.lots.get(name, ()),
        changed_at=touched[-1].record.valid_at if touched else None,
        disputed=any(entry.disputed for entry in touched),
        rests_on=tuple(entry.id for entry in touched),
    )


def _moves_set_aside(booked: Booked) -> list[Conflict]:
    return [
        Conflict(
            place=entry.value.from_place,
            text=f"move of {entry.value.persons} at {dtg(entry.record.valid_at)} set aside: {why}",
            difference=entry.value.persons,
            rests_on=(entry.id,),
            if_true=(
                (entry.value.from_place, -entry.value.persons),
                (entry.value.to_place, entry.value.persons),
            ),
        )
        for entry, why in booked.set_aside
    ]


def _in_flooded(
    known: Known, at: datetime, ledger: Ledger, accounts: list[Entry]
) -> list[Conflict]:
    """Return the places told to be flooded since anybody was last told to be alive there."""
    found = []
    for place, entry in water_of(known, at).items():
        alive = ledger.persons(place) - ledger.persons(place, "dead")
        last = [e.record.valid_at for e in accounts if touches(e, place)]
        since = entry.record.valid_at
        if entry.value.state != "flooded" or not alive or (last and last[-1] > since):
            continue
        found.append(
            Conflict(
                place=place,
                text=f"{place}: {entry.record.source} told it flooded at {dtg(since)}, "
                f"the muster has {alive} alive there",
                difference=-alive,
                rests_on=(entry.id,),
                if_true=((place, -alive),),
            )
        )
    return found


def _reports_apart(
    reports: list[Entry], pob: int, sorts: dict[str, PlaceSort], accounts: list[Entry]
) -> list[Conflict]:
    """Return, per place, the latest report of each source that differs from the ledger then."""
    latest: dict[tuple[str, str], Entry] = {}
    for entry in reports:
        latest[(entry.value.place, entry.record.source)] = entry
    adopted = {entry.value.place for entry in latest.values() if entry.adopted}
    found = []
    for (place, source), entry in latest.items():
        if place in adopted and not entry.adopted:
            continue
        at = entry.record.valid_at
        then = book(pob, sorts, [e for e in accounts if e.record.valid_at <= at]).ledger
        difference = entry.value.persons - then.persons(place)
        if difference:
            doubted = ", disputed" if entry.disputed else ""
            found.append(
                Conflict(
                    place=place,
                    text=f"{place}: {source} told {entry.value.persons} at {dtg(at)}{doubted}, "
                    f"the muster had {then.persons(place)} ({difference:+d})",
                    difference=difference,
                    rests_on=(entry.id,),
                    if_true=((place, difference),),
                )
            )
    return found
