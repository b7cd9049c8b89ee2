"""Lifts filled from the muster by the priority that the user set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from layers.earth.errors import InputError
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.lifts.choose import fill_lifts, shared_out
from layers.survivors.lifts.model import Lift
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.aboard import BEFORE_HATCH_SHUT


def propose(setting: PlanSetting, people: Sequence[RefugePeople]) -> tuple[Lift, ...]:
    """Return the lifts that bring everybody in the refuges up, in the priority's order.

    Lifts begun stay as they are. A planned lift that is no longer needed comes back withdrawn,
    so that recording the answer leaves exactly this plan.

    Parameters
    ----------
    setting : PlanSetting
        The plan, with its vehicles and the priority.
    people : sequence of RefugePeople
        Who waits, as booked in the muster.

    Raises
    ------
    InputError
        No priority is set, or a vehicle has no seat for a stretcher.
    """
    if setting.priority is None:
        raise InputError("who goes first is not set", accepted="enter who goes first")
    begun = [lift for lift in setting.lifts if setting.begun(lift.key)]
    order = setting.priority.refuges
    ranked = sorted(people, key=lambda one: _rank(order, one.refuge))
    made = [lift for place in ranked for lift in _for_refuge(setting, place, begun)]
    numbered = [lift.model_copy(update={"place": n}) for n, lift in enumerate((*begun, *made))]
    shared = shared_out(replace(setting, lifts=tuple(numbered))).lifts
    fresh = [lift for lift in shared if not setting.begun(lift.key)]
    keys = {lift.key for lift in fresh}
    dropped = [
        lift.model_copy(update={"withdrawn": True})
        for lift in setting.waiting()
        if lift.key not in keys
    ]
    return (*fresh, *dropped)


def _rank(order: Sequence[str], refuge: str) -> int:
    return order.index(refuge) if refuge in order else len(order)


def _for_refuge(setting: PlanSetting, place: RefugePeople, begun: Sequence[Lift]) -> list[Lift]:
    coming = [
        lift
        for lift in begun
        if lift.refuge == place.refuge and setting.facts[lift.key].phase in BEFORE_HATCH_SHUT
    ]
    lying = max(place.stretcher - sum(lift.stretcher for lift in coming), 0)
    walking = place.persons - place.stretcher - sum(lift.walking for lift in coming)
    vehicle = setting.vehicles[0]
    loads = fill_lifts(max(walking, 0), lying, vehicle, setting.priority)
    letter, taken = place.refuge[:1].upper(), {lift.key for lift in begun}
    free = (f"{letter}{n}" for n in range(1, 1_000) if f"{letter}{n}" not in taken)
    return [
        Lift(
            key=key,
            place=0,
            vehicle=vehicle.name,
            refuge=place.refuge,
            walking=load[0],
            stretcher=load[1],
            reason="filled from the muster by the priority set",
        )
        for key, load in zip(free, loads, strict=False)
    ]
