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
    Chamber,
    DecisionOption,
    Lift,
    LiftLimits,
    PlanChoice,
    Priority,
    SupportShip,
)
from layers.survivors.lifts.sorties.booked import booked_with
from layers.survivors.lifts.sorties.depth import Depth
from layers.survivors.lifts.sorties.facts import LiftFact, lift_facts
from layers.survivors.lifts.sorties.learn import LearntPhase, learn
from layers.survivors.lifts.vehicle import Vehicle, at_depth
from layers.survivors.muster.boat import boat_of
from layers.survivors.muster.on_board import in_order

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
    "lies",
)

SEA_LIMITS = "weather.limit"  # of another layer: read, never written


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSetting:
    """Everything the simulation of the lifts rests on, at one moment.

    ``lifts`` are those in the plan, done and under way included, in their order; ``response``
    the port and ship combination decided on here (None: as the response chain has it);
    ``pods`` that the pods planned are posted. ``closed`` are chambers that cannot be used yet,
    nobody told from when on; ``unready`` the vehicles of which nothing says when they can dive.
    """

    at_us: int
    vehicles: tuple[Vehicle, ...]
    spare_vehicles: tuple[Vehicle, ...] = ()
    chambers: tuple[Chamber, ...] = ()
    spare_chambers: tuple[Chamber, ...] = ()
    closed: tuple[Chamber, ...] = ()
    ship: SupportShip | None = None
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
    learnt: tuple[LearntPhase, ...] = ()
    depth_m: float
    response: str | None = None
    pods: bool = False
    filled: bool = False  # no lift is recorded: they are filled from the muster
    mended_us: Mapping[str, int] = field(default_factory=dict)
    unready: frozenset[str] = frozenset()
    rests_on: tuple[str, ...] = ()

    def vehicle(self, name: str) -> Vehicle:
        """Return a vehicle by name, of the plan or one that was in it when it dived."""
        for vehicle in (*self.vehicles, *self.spare_vehicles):
            if vehicle.name == name:
                return vehicle
        raise InputError(
            f"vehicle {name!r} is not recorded",
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
        return f"nothing says when {name} can first dive" if name in self.unready else ""

    def waiting(self) -> tuple[Lift, ...]:
        """Return the lifts whose vehicle has not gone down yet."""
        return tuple(lift for lift in self.lifts if not self.begun(lift.key))

    def begun(self, key: str) -> bool:
        """Whether a lift's vehicle is down or back with its people."""
        fact = self.facts.get(key)
        return fact is not None and (fact.under_way or fact.done)


def read_setting(
    known: Known,
    moment: Moment,
    depth_m: float | None,
    seen: Mapping[str, Sequence[Depth]] | None = None,
) -> PlanSetting:
    """Return the plan as recorded, before what is chosen is put into it.

    Parameters
    ----------
    known, moment
        What was known, and the time it is shown for.
    depth_m : float or None
        Depth at the datum, for when neither the limits nor how she lies say the depth of the seat.
    seen : mapping of vehicle to sequence of Depth, optional
        Where each vehicle was seen.

    Raises
    ------
    InputError
        No vehicle, limit, depth, or neither lift nor who goes first is recorded: says which and
        how to enter it.
    """
    vehicles = _latest(known, moment, "vehicle", "name")
    recorded = _latest(known, moment, "chamber", "name")
    chambers = [chamber for chamber in recorded if _usable(chamber)]
    limits = _last(known, moment, "lift_limits") or _of_the_sea(known, moment)
    depth = float(limits.seat_depth_m or boat_of(known, moment.at).depth_m or depth_m or 0.0)
    entered = sorted(_latest(known, moment, "lift", "key"), key=lambda lift: lift.place)
    facts = lift_facts(known, moment.at, depth or None, entered, seen)
    for key, booked in booked_with(known, moment.at, entered, facts).items():
        facts[key] = replace(facts[key], booked=booked)
    # a lift that was run stays: its people are somewhere, in a chamber perhaps
    lifts = [lift for lift in entered if not lift.withdrawn or _ran(facts.get(lift.key))]
    priority = _last(known, moment, "priority")
    for found, what, accepted in (
        (
            vehicles,
            "rescue vehicle",
            "a rescue vehicle, for a first figure its seats and hours from dive to dive",
        ),
        (lifts or priority, "planned lift", "who goes first, or a planned lift"),
        (depth, "depth", "the depth she lies at, or a depth of the seat"),
    ):
        if not found:
            raise InputError(f"no {what} is recorded", accepted=accepted)
    vehicles = [at_depth(vehicle, depth) for vehicle in vehicles]
    taught = [learn(v, lifts, facts.values(), depth) for v in vehicles]
    choice = _last(known, moment, "plan_choice")
    return PlanSetting(
        at_us=to_us(moment.at),
        vehicles=tuple(v for v, _ in taught if v.planned),
        spare_vehicles=tuple(v for v, _ in taught if not v.planned),
        chambers=tuple(c for c in chambers if c.planned),
        spare_chambers=tuple(c for c in chambers if not c.planned),
        closed=tuple(c for c in recorded if c.planned and not _usable(c)),
        ship=_last(known, moment, "ship"),
        schedule=_last(known, moment, "schedule"),
        limits=limits,
        lifts=tuple(k for k in lifts if not k.held or _ran(facts.get(k.key))),
        held=tuple(k for k in lifts if k.held and not _ran(facts.get(k.key))),
        priority=priority,
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


def _of_the_sea(known: Known, moment: Moment) -> LiftLimits:
    """Return the sea's limits of launch and recovery, where the lifts have none of their own.

    Raises
    ------
    InputError
        Neither is told.
    """
    told: dict[str, object] = {}
    entries = in_order(known.entries(SEA_LIMITS), moment.at)
    for entry in sorted(entries, key=lambda entry: entry.adopted):
        limit = entry.value
        if limit.operation in ("launch", "recovery") and limit.hs_max_m:
            told[f"{limit.operation}_hs_m"] = limit.hs_max_m
    if not told:
        raise InputError("no limits of the lifts are recorded",
                         accepted="the highest sea for launch or for recovery")  # fmt: skip
    return LiftLimits.model_validate({**told, "source": "the sea's limits of launch and recovery"})


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
    """Return by vehicle when it can dive again: told after its last sortie, or with its fault."""
    last: dict[str, int] = {}
    for fact in facts:
        last[fact.vehicle] = max(last.get(fact.vehicle, 0), *fact.began_us.values())
    found: dict[str, int] = {}
    before: dict[str, object] = {}
    for entry in _standing(known, moment, "vehicle"):
        name, ready = entry.value.name, entry.value.ready_at
        found.pop(name, None)
        told_us = to_us(entry.record.valid_at)
        mends = entry.value.state == "broken" and ready != before.get(name)
        before[name] = ready
        if ready is not None and (mends or told_us >= last.get(name, told_us + 1)):
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


def _last(known: Known, moment: Moment, noun: str) -> Any:
    entries = _standing(known, moment, noun)
    return entries[-1].value if entries else None


def _rests_on(known: Known, moment: Moment) -> tuple[str, ...]:
    own = [entry for noun in READ for entry in _standing(known, moment, noun)]
    if not _standing(known, moment, "lift_limits"):
        own += [e for e in in_order(known.entries(SEA_LIMITS), moment.at)
                if e.value.operation in ("launch", "recovery")]  # fmt: skip
    return tuple(entry.id for entry in own)
