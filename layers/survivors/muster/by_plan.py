"""The muster at a time ahead: people where the plan will have brought them, the rest as told."""

from __future__ import annotations

from dataclasses import replace

from layers.earth.told import PersonsNow
from layers.survivors.muster.ledger import Lot
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import Muster, PlaceState
from layers.survivors.muster.persons import counts

BY_PLAN = "by plan"


def carried_on(who: Muster, persons: PersonsNow) -> Muster:
    """Return a muster that counts as ``persons`` does, who was counted on by the plan.

    Who leaves a refuge first nobody has said: those who walk are taken, and of those who come out
    the fitness is not told.
    """
    places = [
        _left(place, persons.by_place.get(place.name, place.alive))
        if place.sort is PlaceSort.REFUGE
        else place
        for place in who.places
    ]
    held = counts(who)
    for sort, name, many in (
        (PlaceSort.VEHICLE, _vehicle(who, persons), persons.in_vehicle - held["in_vehicle"]),
        (PlaceSort.DECK, "on deck", persons.out - held["out"]),
    ):
        if many > 0:
            places.append(
                PlaceState(
                    name=f"{name} {BY_PLAN}",
                    sort=sort,
                    lots=(Lot(persons=many, fitness="unknown"),),
                    changed_at=None,
                    disputed=False,
                    rests_on=(),
                )
            )
    return replace(who, places=tuple(places))


def _vehicle(who: Muster, persons: PersonsNow) -> str:
    known = {place.name for place in who.places if place.alive}
    return next((name for name in persons.by_place if name not in known), "vehicle")


def _left(place: PlaceState, stay: int) -> PlaceState:
    """Return a refuge with so many who live in it."""
    go = place.alive - stay
    if go <= 0:
        return place
    kept = []
    for lot in sorted(place.lots, key=lambda one: one.fitness != "walking"):
        took = 0 if lot.fitness == "dead" else min(go, lot.persons)
        go -= took
        if lot.persons > took:
            kept.append(replace(lot, persons=lot.persons - took, names=()))
    return replace(place, lots=tuple(kept), changed_at=None)
