"""Whom the muster has moved out of a refuge since a vehicle dived for it: they are in its lift."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

from layers.earth.clock import to_us
from layers.journal.known import Known
from layers.survivors.lifts.model import Lift, Phase
from layers.survivors.lifts.sorties.facts import LiftFact
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import place_sorts
from layers.survivors.muster.on_board import in_order

BY_VEHICLE = (PlaceSort.VEHICLE, PlaceSort.CHAMBER, PlaceSort.DECK)


def booked_with(
    known: Known, at: datetime, lifts: Iterable[Lift], facts: Mapping[str, LiftFact]
) -> dict[str, tuple[int, int]]:
    """Return by lift under way ``(walking, stretcher)`` moved out of its refuge since it dived.

    No lift where nobody told who was on board: then no muster could hold them. Of two that are
    down for one refuge a move is of the one whose vehicle it names, else of the
    one that dived first.
    """
    refuges = {lift.key: lift.refuge for lift in lifts if lift.key in facts}
    down = [key for key in refuges if facts[key].under_way and Phase.DOWN in facts[key].began_us]
    down.sort(key=lambda key: facts[key].began_us[Phase.DOWN])
    found = dict.fromkeys(down, (0, 0))
    if not down or not known.entries("survivors.complement"):
        return {}
    sorts, vehicles = place_sorts(known), {facts[key].vehicle for key in facts}
    for entry in in_order(known.entries("survivors.move"), at):
        move, since_us = entry.value, to_us(entry.record.valid_at)
        ways = ((move.from_place, move.to_place, 1), (move.to_place, move.from_place, -1))
        for refuge, where, sign in ways:
            mine = [
                key
                for key in down
                if refuges[key] == refuge
                and sorts.get(where) in BY_VEHICLE
                and (where not in vehicles or facts[key].vehicle == where)
                and facts[key].began_us[Phase.DOWN] <= since_us
            ]
            if mine:
                lying = sum(g.persons for g in move.groups if g.fitness == "stretcher")
                walking, stretcher = found[mine[0]]
                found[mine[0]] = (
                    walking + sign * (move.persons - lying), stretcher + sign * lying
                )  # fmt: skip
    return found
