"""A plan changed by what is chosen: vehicles, order, loads."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.survivors.lifts.model import PHASES, DecisionOption, Lift, Priority
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.refusals import seat_fault, seats_wanted
from layers.survivors.lifts.sorties.learn import estimate_min
from layers.survivors.lifts.vehicle import Vehicle


def as_chosen(setting: PlanSetting) -> PlanSetting:
    """Return the plan with what is chosen put into it.

    A vehicle or chamber that a choice names and nobody recorded is not counted, all else of the
    choice is; :func:`lacking` says it.
    """
    changed = setting
    for option in _chosen(setting):
        changed = decide(changed, (_as_far_as_known(setting, option),))
    return changed


def lacking(setting: PlanSetting) -> dict[str, InputError]:
    """Return by key of a chosen decision why it is not put in whole."""
    found = {}
    for option in _chosen(setting):
        if unknown := _unknown(setting, option):
            found[option.key] = next(iter(unknown.values()))
    return found


def _chosen(setting: PlanSetting) -> list[DecisionOption]:
    by_key = {option.key: option for option in setting.options}
    return [by_key[key] for key in setting.chosen if key in by_key]


def _as_far_as_known(setting: PlanSetting, option: DecisionOption) -> DecisionOption:
    return option.model_copy(update=dict.fromkeys(_unknown(setting, option)))


def _unknown(setting: PlanSetting, option: DecisionOption) -> dict[str, InputError]:
    """Return by field the vehicle or chamber that a decision adds and that is not recorded."""
    vehicles = {v.name for v in (*setting.vehicles, *setting.spare_vehicles)}
    chambers = {c.name for c in (*setting.chambers, *setting.spare_chambers)}
    return {
        f"add_{kind}": InputError(
            f"{kind} {wanted!r} is not recorded as one on the table",
            where=f"decision {option.key}",
            accepted=f"a {kind} entered with planned false",
        )
        for kind, wanted, there in (
            ("vehicle", option.add_vehicle, vehicles),
            ("chamber", option.add_chamber, chambers),
        )
        if wanted is not None and wanted not in there
    }


def decide(setting: PlanSetting, options: Iterable[DecisionOption]) -> PlanSetting:
    """Return the plan as it would be under these decisions; lifts begun stay as they are."""
    changed = setting
    for option in options:
        changed = _with_resources(changed, option)
        if option.people_per_lift is not None:
            changed = _refilled(changed, option.people_per_lift)
        if option.refuge_order is not None:
            changed = _reordered(changed, option.refuge_order)
        if any(vehicle.name == option.add_vehicle for vehicle in setting.spare_vehicles):
            changed = shared_out(changed)  # one that is in the plan has the lifts it was given
    return changed


def _with_resources(setting: PlanSetting, option: DecisionOption) -> PlanSetting:
    for unknown in _unknown(setting, option).values():
        raise unknown
    vehicles = tuple(v for v in setting.spare_vehicles if v.name == option.add_vehicle)
    chambers = tuple(c for c in setting.spare_chambers if c.name == option.add_chamber)
    kept = setting.chambers
    if option.chambers_of is not None:
        kept = tuple(c for c in (*kept, *setting.spare_chambers) if c.ship == option.chambers_of)
    changes: dict[str, Any] = {
        name: value
        for name in ("launch_hs_m", "recovery_hs_m")
        if (value := getattr(option, name)) is not None
    }
    return replace(
        setting,
        vehicles=(*setting.vehicles, *vehicles),
        chambers=(*kept, *chambers),
        limits=setting.limits.model_copy(update=changes),
        response=option.response or setting.response,
        pods=setting.pods or bool(option.pods),
    )


def _reordered(setting: PlanSetting, order: Sequence[str]) -> PlanSetting:
    rank = {refuge: number for number, refuge in enumerate(order)}
    begun = [lift for lift in setting.lifts if setting.begun(lift.key)]
    waiting = sorted(setting.waiting(), key=lambda lift: rank.get(lift.refuge, len(rank)))
    return replace(setting, lifts=_renumbered([*begun, *waiting]))


def _refilled(setting: PlanSetting, people: int) -> PlanSetting:
    """Return the plan with the lifts not begun filled again, so many people in each."""
    kept = [lift for lift in setting.lifts if setting.begun(lift.key)]
    waiting = setting.waiting()
    for refuge in dict.fromkeys(lift.refuge for lift in waiting):
        mine = [lift for lift in waiting if lift.refuge == refuge]
        vehicle = setting.vehicle(mine[0].vehicle)
        loads = fill_lifts(
            sum(lift.walking for lift in mine),
            sum(lift.stretcher for lift in mine),
            vehicle,
            setting.priority,
            people,
        )
        kept.extend(_as_lifts(mine, loads))
    return replace(setting, lifts=_renumbered(kept))


def _as_lifts(mine: Sequence[Lift], loads: Sequence[tuple[int, int]]) -> list[Lift]:
    keys = [lift.key for lift in mine]
    keys += [f"{mine[-1].key}+{n}" for n in range(1, len(loads) - len(keys) + 1)]
    return [
        mine[0].model_copy(update={"key": key, "walking": walking, "stretcher": stretcher})
        for key, (walking, stretcher) in zip(keys, loads, strict=False)
    ]


def shared_out(setting: PlanSetting) -> PlanSetting:
    """Return the plan with each lift not begun given to the vehicle expected to be free first.

    By most likely times, the sea left out; a vehicle with no seats for a lift, or that dives no
    more, is passed over.
    """
    able = [v for v in setting.vehicles if not setting.why_not(v.name)]
    free = {v.name: free_us(v, setting) for v in setting.vehicles}
    shared: list[Lift] = []
    for lift in setting.lifts:
        if setting.begun(lift.key):
            shared.append(lift)
            continue
        fits = [v for v in able if not seat_fault(lift.walking, lift.stretcher, v)]
        vehicle = min(fits, key=lambda v: free[v.name], default=setting.vehicle(lift.vehicle))
        free[vehicle.name] += cycle_us(vehicle, lift, setting.depth_m)
        shared.append(lift.model_copy(update={"vehicle": vehicle.name}))
    return replace(setting, lifts=tuple(shared))


def free_us(vehicle: Vehicle, setting: PlanSetting) -> int:
    """Return from when a vehicle may dive by what is told of it, UTC microseconds."""
    ready = to_us(vehicle.ready_at) if vehicle.ready_at else setting.at_us
    return max(ready, setting.at_us)


def cycle_us(vehicle: Vehicle, lift: Lift, depth_m: float) -> int:
    """Return the most likely time from one dive to the next, microseconds."""
    phases = sum(estimate_min(vehicle, lift, phase, depth_m) for phase in PHASES)
    return round((phases + vehicle.turn_round.likely) * 60e6)


def _renumbered(lifts: Iterable[Lift]) -> tuple[Lift, ...]:
    return tuple(lift.model_copy(update={"place": n}) for n, lift in enumerate(lifts))


def fill_lifts(
    walking: int,
    stretcher: int,
    vehicle: Vehicle,
    priority: Priority | None = None,
    people: int | None = None,
) -> tuple[tuple[int, int], ...]:
    """Return the loads ``(walking, stretcher)`` that empty a refuge, lift by lift.

    Parameters
    ----------
    walking, stretcher : int
        Who waits there.
    vehicle : Vehicle
        Its seats, and the places and seats that a stretcher takes.
    priority : Priority, optional
        Which fitness goes first and how many stretchers a lift takes at most.
    people : int, optional
        Fewer people a lift than there are seats.

    Raises
    ------
    InputError
        The vehicle has no seat for a stretcher.
    """
    first = priority.fitness[0] if priority else "stretcher"
    most = vehicle.stretcher_places
    if priority and priority.stretchers_per_lift is not None:
        most = min(most, priority.stretchers_per_lift)
    most = min(most, vehicle.seats // vehicle.stretcher_seats)
    if stretcher and not most:
        raise InputError(
            f"{vehicle.name} has no seat for a stretcher, {stretcher} wait on one",
            accepted="a vehicle or a priority that takes at least one stretcher a lift",
        )
    limit = people or walking + stretcher
    loads = []
    while walking + stretcher > 0:
        walk, lying = _load(walking, stretcher, vehicle, most, limit, first)
        loads.append((walk, lying))
        walking, stretcher = walking - walk, stretcher - lying
    return tuple(loads)


def _load(
    walking: int, stretcher: int, vehicle: Vehicle, most: int, limit: int, first: str
) -> tuple[int, int]:
    if first == "stretcher":
        lying = min(stretcher, most, limit)
        walk = min(walking, vehicle.seats - seats_wanted(0, lying, vehicle), limit - lying)
        return walk, lying
    walk = min(walking, vehicle.seats, limit)
    free = (vehicle.seats - walk) // vehicle.stretcher_seats
    return walk, min(stretcher, most, free, limit - walk)
