"""The plan as it stands at a moment: vehicles, chambers, lifts, facts, and what is chosen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from layers.contract import Moment
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.journal.known import Known
from layers.survivors.chambers.schedule import Schedule
from layers.survivors.lifts.model import (
    PHASES,
    Chamber,
    DecisionOption,
    Lift,
    LiftLimits,
    PlanChoice,
    Priority,
    Ship,
    Vehicle,
)
from layers.survivors.lifts.refusals import seat_fault, seats_wanted
from layers.survivors.lifts.sorties.facts import LiftFact, lift_facts
from layers.survivors.lifts.sorties.learn import Learnt, estimate_min, learn
from layers.survivors.lifts.told_vehicle import at_depth
from layers.survivors.muster.muster import in_order

READ = (
    "vehicle",
    "ship",
    "chamber",
    "schedule",
    "lift_limits",
    "lift",
    "priority",
    "sortie_phase",
    "decision",
    "plan_choice",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Everything the simulation of the lifts rests on, at one moment.

    ``lifts`` are those in the plan, done and under way included, in their order; ``response``
    the port and ship combination decided on here (None: as the response chain has it);
    ``pods`` that the pods planned are posted.
    """

    at_us: int
    vehicles: tuple[Vehicle, ...]
    spare_vehicles: tuple[Vehicle, ...] = ()
    chambers: tuple[Chamber, ...] = ()
    spare_chambers: tuple[Chamber, ...] = ()
    ship: Ship | None = None
    schedule: Schedule | None = None
    limits: LiftLimits
    lifts: tuple[Lift, ...]
    held: tuple[Lift, ...] = ()
    priority: Priority | None = None
    options: tuple[DecisionOption, ...] = ()
    chosen: tuple[str, ...] = ()
    choice: PlanChoice | None = None
    chosen_us: Mapping[str, int] = field(default_factory=dict)  # since when each is chosen
    facts: Mapping[str, LiftFact] = field(default_factory=dict)
    learnt: tuple[Learnt, ...] = ()
    depth_m: float
    response: str | None = None
    pods: bool = False
    mended_us: Mapping[str, int] = field(default_factory=dict)
    rests_on: tuple[str, ...] = ()

    def vehicle(self, name: str) -> Vehicle:
        """Return a vehicle by name, of the plan or one that was in it when it dived."""
        for vehicle in (*self.vehicles, *self.spare_vehicles):
            if vehicle.name == name:
                return vehicle
        raise InputError(
            f"vehicle {name!r} is not recorded",
            where="lift plan",
            accepted=", ".join(v.name for v in self.vehicles) or "a vehicle entered first",
        )

    def working(self) -> tuple[Vehicle, ...]:
        """Return the vehicles of the plan, and those that have dived for a lift of it."""
        dived = {lift.vehicle for lift in self.lifts if self.begun(lift.key)}
        return (*self.vehicles, *(v for v in self.spare_vehicles if v.name in dived))

    def why_not(self, name: str) -> str:
        """Return why a vehicle cannot dive as planned, or an empty text."""
        planned = {vehicle.name: vehicle for vehicle in self.vehicles}
        if name not in planned:
            return f"{name} is not in the plan"
        state = planned[name].state
        if state == "lost" or (state == "broken" and name not in self.mended_us):
            return f"{name} is {state}" + ("" if state == "lost" else ", with no time when mended")
        return ""

    def waiting(self) -> tuple[Lift, ...]:
        """Return the lifts whose vehicle has not gone down yet."""
        return tuple(lift for lift in self.lifts if not self.begun(lift.key))

    def begun(self, key: str) -> bool:
        """Whether a lift's vehicle is down or back with its people."""
        fact = self.facts.get(key)
        return fact is not None and (fact.under_way or fact.done)


def read_setting(known: Known, moment: Moment, depth_m: float | None) -> Setting:
    """Return the plan as recorded, before what is chosen is put into it.

    Parameters
    ----------
    known, moment
        What was known, and the time it is shown for.
    depth_m : float or None
        Depth at the datum, for when the limits say no depth of the seat.

    Raises
    ------
    InputError
        No vehicle, lift, limit or depth is recorded: says which and how to enter it.
    """
    vehicles = _latest(known, moment, "vehicle", "name")
    chambers = [c for c in _latest(known, moment, "chamber", "name") if _usable(c)]
    facts = lift_facts(known, moment.at)
    lifts = sorted(
        (
            lift
            for lift in _latest(known, moment, "lift", "key")
            # a lift that was run stays: its people are somewhere, in a chamber perhaps
            if not lift.withdrawn or _ran(facts.get(lift.key))
        ),
        key=lambda lift: lift.place,
    )
    limits = _last(known, moment, "lift_limits", "limits of the lifts")
    depth = float(limits.seat_depth_m or depth_m or 0.0)
    for found, what in ((vehicles, "rescue vehicle"), (lifts, "planned lift"), (depth, "depth")):
        if not found:
            raise InputError(
                f"no {what} is recorded", where="lift plan", accepted=f"enter a {what}"
            )
    vehicles = [at_depth(vehicle, depth) for vehicle in vehicles]
    taught = [learn(v, lifts, facts.values(), depth) for v in vehicles]
    choice = _last(known, moment, "plan_choice", "")
    return Setting(
        at_us=to_us(moment.at),
        vehicles=tuple(v for v, _ in taught if v.planned),
        spare_vehicles=tuple(v for v, _ in taught if not v.planned),
        chambers=tuple(c for c in chambers if c.planned),
        spare_chambers=tuple(c for c in chambers if not c.planned),
        ship=_last(known, moment, "ship", ""),
        schedule=_last(known, moment, "schedule", ""),
        limits=limits,
        lifts=tuple(k for k in lifts if not k.held or _ran(facts.get(k.key))),
        held=tuple(k for k in lifts if k.held and not _ran(facts.get(k.key))),
        priority=_last(known, moment, "priority", ""),
        options=tuple(
            option for option in _latest(known, moment, "decision", "key") if not option.withdrawn
        ),
        chosen=choice.chosen if choice else (),
        choice=choice,
        chosen_us=_chosen_us(known, moment),
        facts=facts,
        learnt=tuple(one for _, several in taught for one in several),
        depth_m=depth,
        mended_us=_mended(known, moment, facts.values()),
        rests_on=_rests_on(known, moment),
    )


def _chosen_us(known: Known, moment: Moment) -> dict[str, int]:
    """Return since when each decision has been chosen without a break."""
    since: dict[str, int] = {}
    for entry in _standing(known, moment, "plan_choice"):
        at_us = to_us(entry.record.valid_at)
        since = {key: since.get(key, at_us) for key in entry.value.chosen}
    return since


def _usable(chamber: Chamber) -> bool:
    """Whether a chamber can be planned with: fitting out counts from its date, not before."""
    fitting = chamber.state == "fitting out"
    return chamber.state != "out of order" and not (fitting and chamber.available_at is None)


def _ran(fact: LiftFact | None) -> bool:
    return fact is not None and (fact.under_way or fact.done)


def _mended(known: Known, moment: Moment, facts: Iterable[LiftFact]) -> dict[str, int]:
    """Return by vehicle when it can dive again, where that was told after its last sortie."""
    last: dict[str, int] = {}
    for fact in facts:
        last[fact.vehicle] = max(last.get(fact.vehicle, 0), *fact.began_us.values())
    found: dict[str, int] = {}
    for entry in _standing(known, moment, "vehicle"):
        name, ready = entry.value.name, entry.value.ready_at
        found.pop(name, None)
        told_us = to_us(entry.record.valid_at)
        if ready is not None and told_us >= last.get(name, told_us + 1):
            found[name] = to_us(ready)
    return found


def _standing(known: Known, moment: Moment, noun: str) -> list[Any]:
    """Return what is told by now, in the order of when it was true; a late entry is no later."""
    return in_order(known.entries(f"survivors.{noun}"), moment.at)


def _latest(known: Known, moment: Moment, noun: str, name: str) -> list[Any]:
    entered = known.entries(f"survivors.{noun}")  # their order is that of their first entry
    found = {getattr(e.value, name): e.value for e in _standing(known, moment, noun)}
    names = dict.fromkeys(getattr(entry.value, name) for entry in entered)
    return [found[key] for key in names if key in found]


def _last(known: Known, moment: Moment, noun: str, needed: str) -> Any:
    entries = _standing(known, moment, noun)
    if entries:
        return entries[-1].value
    if needed:
        raise InputError(f"no {needed} are recorded", where="lift plan", accepted=f"enter {needed}")
    return None


def _rests_on(known: Known, moment: Moment) -> tuple[str, ...]:
    return tuple(entry.id for noun in READ for entry in _standing(known, moment, noun))


def as_chosen(setting: Setting) -> Setting:
    """Return the plan with what is chosen put into it."""
    by_key = {option.key: option for option in setting.options}
    return decide(setting, [by_key[key] for key in setting.chosen if key in by_key])


def decide(setting: Setting, options: Iterable[DecisionOption]) -> Setting:
    """Return the plan as it would be under these decisions; lifts begun stay as they are."""
    changed = setting
    for option in options:
        changed = _with_resources(changed, option)
        if option.people_per_lift is not None:
            changed = _refilled(changed, option.people_per_lift)
        if option.refuge_order is not None:
            changed = _reordered(changed, option.refuge_order)
        if option.add_vehicle is not None:
            changed = shared_out(changed)
    return changed


def _with_resources(setting: Setting, option: DecisionOption) -> Setting:
    vehicles = tuple(v for v in setting.spare_vehicles if v.name == option.add_vehicle)
    chambers = tuple(c for c in setting.spare_chambers if c.name == option.add_chamber)
    there = {v.name for v in setting.vehicles} | {c.name for c in setting.chambers}
    for wanted, found, kind in (
        (option.add_vehicle, vehicles, "vehicle"),
        (option.add_chamber, chambers, "chamber"),
    ):
        if wanted is not None and not found and wanted not in there:
            raise InputError(
                f"{kind} {wanted!r} is not recorded as one on the table",
                where=f"decision {option.key}",
                accepted=f"a {kind} entered with planned false",
            )
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


def _reordered(setting: Setting, order: Sequence[str]) -> Setting:
    rank = {refuge: number for number, refuge in enumerate(order)}
    begun = [lift for lift in setting.lifts if setting.begun(lift.key)]
    waiting = sorted(setting.waiting(), key=lambda lift: rank.get(lift.refuge, len(rank)))
    return replace(setting, lifts=_renumbered([*begun, *waiting]))


def _refilled(setting: Setting, people: int) -> Setting:
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


def shared_out(setting: Setting) -> Setting:
    """Return the plan with each lift not begun given to the vehicle expected to be free first.

    By most likely times, the sea left out; a vehicle with no seats for a lift is passed over.
    """
    free_us = {v.name: _free_us(v, setting) for v in setting.vehicles}
    shared: list[Lift] = []
    for lift in setting.lifts:
        if setting.begun(lift.key):
            shared.append(lift)
            continue
        fits = [v for v in setting.vehicles if not seat_fault(lift.walking, lift.stretcher, v)]
        vehicle = min(fits, key=lambda v: free_us[v.name], default=setting.vehicle(lift.vehicle))
        free_us[vehicle.name] += cycle_us(vehicle, lift, setting.depth_m)
        shared.append(lift.model_copy(update={"vehicle": vehicle.name}))
    return replace(setting, lifts=tuple(shared))


def _free_us(vehicle: Vehicle, setting: Setting) -> int:
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
            where="lift plan",
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
