"""People found by a search, as moves in the muster: from the water, or from not heard of."""

from __future__ import annotations

from layers.earth.errors import InputError
from layers.survivors.muster.model import PLACES, PlaceSort
from layers.survivors.muster.muster import Muster

FROM = (PlaceSort.SURFACE, PlaceSort.UNACCOUNTED, PlaceSort.MISSING)  # in this order
TO = {True: "picked up", False: "dead"}


def moves_of(who: Muster, alive: int, dead: int, reason: str) -> list[dict[str, object]]:
    """Return the moves that book who was found alive and dead.

    They are taken from whoever is booked in the water, then from those nobody has heard of, then
    from those named as missing.

    Raises
    ------
    InputError
        The muster has fewer people out there than were found.
    """
    held = [
        (place.name, sum(lot.persons for lot in place.lots if lot.fitness != "dead"))
        for sort in FROM
        for place in who.places
        if place.sort is sort
    ]
    out_there = sum(count for _, count in held)
    if alive + dead > out_there:
        raise InputError(
            f"{alive + dead} were found, and the muster has {out_there} in the water, not heard "
            "of or named as missing",
            accepted="first the count of persons on board, or record it without the muster",
        )
    found: list[dict[str, object]] = []
    for living, left in ((True, alive), (False, dead)):
        for number, (place, count) in enumerate(held):
            taken = min(left, count)
            if not taken:
                continue
            held[number] = place, count - taken
            left -= taken
            found += [_move(who, place, living, taken, reason)]
    return found


def _move(who: Muster, origin: str, living: bool, persons: int, reason: str) -> dict[str, object]:
    """Return one move; fitness is what they are booked under, the dead are booked as dead."""
    assert TO[living] in PLACES
    state = who.place(origin)
    groups: list[dict[str, object]] = []
    left = persons
    for lot in state.lots if state is not None else ():
        taken = min(left, lot.persons)
        if lot.fitness == "dead" or not taken:
            continue
        fitness = lot.fitness if living else "dead"
        groups.append({"persons": taken, "fitness": fitness, "was": lot.fitness})
        left -= taken
    return {"from_place": origin, "to_place": TO[living], "groups": groups, "reason": reason}
