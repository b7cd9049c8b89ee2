"""Who goes in which lift, of those who wait now: walking and on stretchers apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from layers.earth.arrays import Ints
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.lifts.model import Lift, Phase
from layers.survivors.lifts.plan import PlanSetting

BEFORE_HATCH_SHUT = (Phase.DOWN, Phase.SEARCH, Phase.MATE, Phase.TRANSFER)


def loads_of(setting: PlanSetting, people: Iterable[RefugePeople]) -> list[tuple[int, int]]:
    """Return ``(walking, stretcher)`` that each lift brings of those booked in the refuges now.

    In the plan's order; a lift whose hatch is shut brings nobody more (but whom its fact takes to
    be out of the refuge and not moved), nobody is counted twice, nobody on a stretcher goes on a
    walking person's seat, and a stretcher's seats that nobody lies on are sat on.
    """
    walk = {place.refuge: place.persons - place.stretcher for place in people}
    lying = {place.refuge: place.stretcher for place in people}
    found = []
    for lift in setting.lifts:
        fact = setting.facts.get(lift.key)
        begun = fact is not None and setting.begun(lift.key)
        planned = still_to_come(setting, lift) if begun else (lift.walking, lift.stretcher)
        if begun and fact is not None and fact.phase not in BEFORE_HATCH_SHUT:
            planned = fact.unmoved
        on_stretcher = min(planned[1], lying.get(lift.refuge, 0))
        empty = planned[1] - on_stretcher
        seats = planned[0] + empty * setting.vehicle(lift.vehicle).stretcher_seats
        sitting = min(seats, max(walk.get(lift.refuge, 0), 0))
        lying[lift.refuge] = lying.get(lift.refuge, 0) - on_stretcher
        walk[lift.refuge] = walk.get(lift.refuge, 0) - sitting
        found.append((sitting, on_stretcher))
    return found


def persons_of(setting: PlanSetting, people: Sequence[RefugePeople]) -> Ints:
    """Return whom each lift brings of those booked in the refuges now, shape (L,)."""
    return np.array([sum(load) for load in loads_of(setting, people)], dtype=np.int64)


def aboard(setting: PlanSetting, lift: Lift) -> tuple[int, int]:
    """Return ``(walking, stretcher)`` of a lift: as reported aboard, else as planned."""
    fact = setting.facts.get(lift.key)
    if fact is not None and fact.walking is not None:
        return fact.walking, fact.stretcher or 0
    return lift.walking, lift.stretcher


def still_to_come(setting: PlanSetting, lift: Lift) -> tuple[int, int]:
    """Return ``(walking, stretcher)`` of a lift that is under way and not yet booked in it."""
    fact = setting.facts.get(lift.key)
    booked = (fact.booked if fact is not None else None) or (0, 0)
    walking, stretcher = (n - gone for n, gone in zip(aboard(setting, lift), booked, strict=True))
    # who was booked as walking may have been planned on a stretcher, and the other way round
    return max(walking + min(stretcher, 0), 0), max(stretcher + min(walking, 0), 0)


def left_behind(setting: PlanSetting, people: Iterable[RefugePeople]) -> dict[str, tuple[int, int]]:
    """Return by refuge ``(walking, stretcher)`` whom no lift takes."""
    everybody = tuple(people)
    loads = loads_of(setting, everybody)
    found = {}
    for place in everybody:
        mine = [
            load
            for lift, load in zip(setting.lifts, loads, strict=True)
            if lift.refuge == place.refuge
        ]
        lying = place.stretcher - sum(load[1] for load in mine)
        walking = place.persons - place.stretcher - sum(load[0] for load in mine)
        if lying or walking:
            found[place.refuge] = (walking, lying)
    return found
