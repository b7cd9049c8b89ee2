"""A lost vehicle's lifts taken over by another one of the plan.

A vehicle told as lost, broken with no time when it is mended, or out of the plan dives no more:
its lifts that wait go to the vehicle that is free first and can take them, in loads of its own
seats where it is smaller. Somebody whom it should have fetched and had not (its hatch was still
open) waits for the other one too. Who is left over then has no lift, and is told so.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from layers.earth.errors import InputError
from layers.survivors.lifts.choose import cycle_us, fill_lifts, free_us
from layers.survivors.lifts.model import Lift
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.aboard import BEFORE_HATCH_SHUT, aboard, still_to_come
from layers.survivors.lifts.vehicle import Vehicle

AGAIN = " by "  # between the lift and the vehicle, in the key of one that is fetched again


def loads_for(lift: Lift, vehicle: Vehicle, setting: PlanSetting) -> tuple[tuple[int, int], ...]:
    """Return the loads in which a vehicle fetches a lift's people; none where it cannot."""
    try:
        return fill_lifts(lift.walking, lift.stretcher, vehicle, setting.priority)
    except InputError:
        return ()


def taken_over(setting: PlanSetting) -> PlanSetting:
    """Return the plan with the lifts of vehicles that dive no more given to those that do, once.

    Lifts that no other vehicle can take stay where they are, and do not run.
    """
    able = [v for v in setting.vehicles if not setting.why_not(v.name)]
    if not able or (len(able) == len(setting.vehicles) and not _orphans(setting)):
        return setting
    free = {v.name: free_us(v, setting) for v in able}
    made: list[Lift] = []
    for lift in setting.lifts:
        wanted = _wanted(setting, lift)
        if setting.begun(lift.key) or wanted is None:
            made.append(lift)
        if wanted is None:
            if lift.vehicle in free and not setting.begun(lift.key):
                free[lift.vehicle] += cycle_us(setting.vehicle(lift.vehicle), lift, setting.depth_m)
            continue
        parts = list(_given(setting, wanted, able, free))
        made.extend(parts)
        if not parts and not setting.begun(lift.key):
            made.append(lift)
    numbered = tuple(k.model_copy(update={"place": n}) for n, k in enumerate(made))
    return replace(setting, lifts=numbered)


def _orphans(setting: PlanSetting) -> list[Lift]:
    return [lift for lift in setting.lifts if _wanted(setting, lift) is not None]


def _wanted(setting: PlanSetting, lift: Lift) -> Lift | None:
    """Return what another vehicle has to fetch of a lift, None where nobody else has to."""
    if not setting.begun(lift.key):
        return lift if setting.why_not(lift.vehicle) else None
    fact = setting.facts[lift.key]
    gone = fact.under_way and setting.vehicle(fact.vehicle).state == "lost"
    given = any(other.key.startswith(f"{lift.key}{AGAIN}") for other in setting.lifts)
    if given or not gone or fact.phase not in BEFORE_HATCH_SHUT:
        return None
    walking, stretcher = still_to_come(setting, lift)
    if not walking + stretcher:
        return None
    return lift.model_copy(update={"walking": walking, "stretcher": stretcher})


def _given(
    setting: PlanSetting, lift: Lift, able: Iterable[Vehicle], free: dict[str, int]
) -> Iterable[Lift]:
    """Yield the lifts of the vehicle that would have fetched these people first."""
    found = [(v, loads) for v in able if (loads := loads_for(lift, v, setting))]
    if not found:
        return

    def over_us(one: tuple[Vehicle, tuple[tuple[int, int], ...]]) -> int:
        vehicle, loads = one
        return free[vehicle.name] + len(loads) * cycle_us(vehicle, lift, setting.depth_m)

    vehicle, loads = min(found, key=over_us)
    free[vehicle.name] = over_us((vehicle, loads))
    again = setting.begun(lift.key)
    for n, (walking, stretcher) in enumerate(loads):
        key = f"{lift.key}{AGAIN}{vehicle.name}" if again else lift.key
        yield lift.model_copy(
            update={
                "key": key + (f"+{n}" if n else ""),
                "vehicle": vehicle.name,
                "walking": walking,
                "stretcher": stretcher,
            }
        )


def said(recorded: PlanSetting, setting: PlanSetting) -> Iterable[str]:
    """Yield who takes over whose lifts, as a sentence for each vehicle that dives no more."""
    before = {lift.key: lift.vehicle for lift in recorded.lifts}
    taken: dict[tuple[str, str], list[str]] = {}
    for lift in setting.lifts:
        first = before.get(lift.key, lift.vehicle)
        base = lift.key.split("+")[0].removesuffix(f"{AGAIN}{lift.vehicle}")
        first = before.get(base, first) if lift.key not in before else first
        if first != lift.vehicle:
            taken.setdefault((first, lift.vehicle), []).append(lift.key)
    for (first, other), keys in taken.items():
        lifts = f"lift{'s' if len(keys) > 1 else ''} {', '.join(keys)}"
        why = recorded.why_not(first) or first
        yield f"{why}: {other} is counted as taking over {lifts}. Record it, or another plan."


def lost_aboard(setting: PlanSetting) -> tuple[str, ...]:
    """Return who is in a vehicle that is lost, as what an answer about all of them misses."""
    return tuple(f"{n} in {name}, which is lost" for name, n, _ in _aboard_lost(setting))


def persons_lost_aboard(setting: PlanSetting) -> int:
    """Return how many are in vehicles that are lost: neither out nor in a refuge.

    Who was reported aboard and not moved in the muster is counted where the muster has him.
    """
    return sum(booked for _, _, booked in _aboard_lost(setting))


def _aboard_lost(setting: PlanSetting) -> list[tuple[str, int, int]]:
    """Return the lost vehicles, how many are in each, and how many of them the muster has there."""
    found = []
    for lift in setting.lifts:
        fact = setting.facts.get(lift.key)
        if fact is None or not fact.under_way or setting.vehicle(fact.vehicle).state != "lost":
            continue
        shut = fact.phase not in BEFORE_HATCH_SHUT
        told = sum(aboard(setting, lift)) if shut else 0
        booked = told if fact.booked is None else max(sum(fact.booked), 0)
        if n := max(told, booked):
            found.append((fact.vehicle, n, booked))
    return found
