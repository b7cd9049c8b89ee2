"""Everybody on board in exactly one count: the answer to *who is where*.

In the hull, in a vehicle, adrift, not heard of, out (alive, aboard a ship or ashore), dead,
missing. The dead are counted wherever they lie, and nowhere else.
"""

from __future__ import annotations

from layers.contract import Moment
from layers.earth.errors import InputError
from layers.earth.told import PersonsNow
from layers.journal.known import Known
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import Muster, PlaceState, muster

COUNT_OF: dict[PlaceSort, str] = {
    PlaceSort.REFUGE: "in_hull",
    PlaceSort.VEHICLE: "in_vehicle",
    PlaceSort.SURFACE: "adrift",
    PlaceSort.UNACCOUNTED: "not_heard_of",
    PlaceSort.CHAMBER: "out",
    PlaceSort.DECK: "out",
    PlaceSort.HOSPITAL: "out",
    PlaceSort.ASHORE: "out",
    PlaceSort.PICKED_UP: "out",
    PlaceSort.MISSING: "missing",
    PlaceSort.DEAD: "dead",
    PlaceSort.MORTUARY: "dead",
}
SHOWN = ("in_hull", "in_vehicle", "adrift", "not_heard_of", "out", "dead", "missing")


def counts(who: Muster) -> dict[str, int]:
    """Return the disjoint counts; they add up to POB."""
    found = dict.fromkeys(SHOWN, 0)
    for place in who.places:
        found[COUNT_OF[place.sort]] += place.alive
        found["dead"] += place.of("dead")
    return found


def between(who: Muster) -> dict[str, tuple[int, int]]:
    """Return the least and the most of each count that accounts which differ leave possible.

    Each place holds what is booked, or what an account that differs says of it; who is then
    nowhere else is not heard of. A count that nothing leaves open is not in it; ``on_board`` is.
    """
    least_pob = who.pob + sum(n for one in who.conflicts for place, n in one.if_true if not place)
    low: dict[str, int] = {}
    high: dict[str, int] = {}
    for place in who.places:
        told = [place.alive] + [
            max(place.alive + more, 0)
            for one in who.conflicts for name, more in one.if_true if name == place.name
        ]  # fmt: skip
        if COUNT_OF[place.sort] == "dead":
            told = [place.persons, *(place.persons + n - place.alive for n in told[1:])]
        low[place.name], high[place.name] = max(min(told) - _beyond(who, place), 0), max(told)
    unheard = [p.name for p in who.places if p.sort is PlaceSort.UNACCOUNTED]
    buried = sum(p.of("dead") for p in who.places if COUNT_OF[p.sort] != "dead")
    found: dict[str, tuple[int, int]] = {}
    for name in SHOWN:
        mine = [p.name for p in who.places if COUNT_OF[p.sort] == name]
        others = [p.name for p in who.places if p.name not in (*mine, *unheard)]
        elsewhere = sum(low[one] for one in others) + buried
        if mine == unheard:
            least = max(least_pob - sum(high[one] for one in others) - buried, 0)
            most = who.pob - elsewhere
        else:
            least = sum(low[one] for one in mine)
            most = min(sum(high[one] for one in mine), who.pob - elsewhere)
            if name == "dead":
                least, most = least + buried, most + buried
        if least < most:
            found[name] = (least, most)
    if least_pob < who.pob:
        found["on_board"] = (max(least_pob, 0), who.pob)
    return found


def _beyond(who: Muster, place: PlaceState) -> int:
    """Return how many of a place an account has elsewhere: those it finds beyond the unheard of."""
    if COUNT_OF[place.sort] == "dead":
        return 0
    found = [
        sum(n for name, n in one.if_true if name)
        for one in who.conflicts if place.name not in dict(one.if_true)
    ]  # fmt: skip
    return max(max(found, default=0) - who.not_accounted, 0)


STILL_OUT = {
    "in_hull": "in the hull", "in_vehicle": "in a rescue vehicle", "adrift": "adrift",
    "not_heard_of": "not heard of",
}  # fmt: skip


def unfinished(known: Known) -> tuple[str, ...]:
    """Return how many are still to be brought out or accounted for, in words."""
    try:
        held = persons_of(muster(known, Moment(known.as_of, known.as_of)))
    except InputError:  # nobody has said how many were on board
        return ()
    return tuple(
        f"persons {words}: {held.figure(name)}"
        for name, words in STILL_OUT.items()
        if getattr(held, name) or name in held.between
    )


def persons_of(who: Muster) -> PersonsNow:
    """Return everybody on board, each in exactly one count, with the places that hold any.

    By place those who live are counted, as everywhere; the dead at the places of the dead.
    """
    held = {
        place.name: place.persons if COUNT_OF[place.sort] == "dead" else place.alive
        for place in who.places
    }
    return PersonsNow(
        on_board=who.pob,
        differ=len(who.conflicts),
        between=between(who),
        by_place={name: persons for name, persons in held.items() if persons},
        count_of={place.name: COUNT_OF[place.sort] for place in who.places},
        last_told_at=who.last_report_at,
        rests_on=who.rests_on,
        **counts(who),
    )
