"""What binds the plan now, and until when each branch can still be begun."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from layers.survivors.air.endurance import NOT_REACHED_US, Endurance
from layers.survivors.decisions.gain import Change, mean_change, quantile_change
from layers.survivors.lifts.choose import fill_lifts
from layers.survivors.lifts.model import Chamber
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.ground import PlanGround
from layers.survivors.lifts.run.outcome import PlanOutcome, as_doubted, evaluate, job_of, judge
from layers.survivors.lifts.run.simulate import simulate
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.vehicle import ThreePoint, Vehicle

HOUR_S = 3600
LONGEST_DELAY_S = 96 * HOUR_S
FINEST_DELAY_S = HOUR_S // 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxed:
    """One limit of the plan moved by one unit, and what that gives."""

    what: str
    persons: Change
    p50_h: Change


@dataclass(frozen=True, slots=True, kw_only=True)
class LatestStart:
    """Until when the next dive of a branch can wait and still keep the chance wanted.

    ``latest_us`` None: the chance is not kept even without waiting (``chance_now``);
    ``beyond`` says that it is kept as far as delays were tried.
    """

    branch: str
    chance_now: float
    latest_us: int | None
    beyond: bool


def relax(current: PlanOutcome, ground: PlanGround) -> tuple[Relaxed, ...]:
    """Return each limit relaxed by one unit, the one that gives most first.

    The air is kept as in the present plan, except where it is itself what is relaxed.
    """
    found = []
    for what, changed, delay_s, air in _relaxations(current):
        kept = (air, air) if air else (current.endurance, current.alone)
        outcome = evaluate(changed, ground, delay_s=delay_s, endurance=kept[0], alone=kept[1])
        found.append(
            Relaxed(
                what=what,
                persons=mean_change(outcome.out_in_time, current.out_in_time),
                p50_h=quantile_change(outcome.worst_margin_h, current.worst_margin_h, 0.5),
            )
        )
    return tuple(sorted(found, key=lambda one: (-round(one.persons.value, 3), -one.p50_h.value)))


Relaxation = tuple[str, PlanSetting, int, tuple[Endurance, ...] | None]


def _relaxations(current: PlanOutcome) -> Iterable[Relaxation]:
    setting, limits = current.setting, current.setting.limits
    for what, name, step in (
        ("launch limit 0.1 m higher", "launch_hs_m", 0.1),
        ("recovery limit 0.1 m higher", "recovery_hs_m", 0.1),
        ("through-water limit 0.1 kn higher", "through_water_kn", 0.1),
        ("mating limit 0.1 kn higher", "mating_kn", 0.1),
    ):
        higher = limits.model_copy(update={name: getattr(limits, name) + step})
        yield what, replace(setting, limits=higher), 0, None
    yield "turn-round 1 h shorter", _vehicles(setting, _quicker), 0, None
    yield "one more crew for each vehicle", _vehicles(setting, _another_crew), 0, None
    yield "battery 10 kWh larger", _vehicles(setting, _more_battery), 0, None
    yield "one more seat in each vehicle", _one_more_seat(setting), 0, None
    if setting.chambers:
        yield "one more chamber", _one_more_chamber(setting), 0, None
        yield "one more place in each chamber", _one_more_place(setting), 0, None
    dived = {fact.vehicle for fact in setting.facts.values()}
    if any(vehicle.name not in dived for vehicle in setting.vehicles):
        yield "first dive 1 h earlier", setting, -HOUR_S, None
    yield "every level of the air 1 h later", setting, 0, _longer(current.alone)


def _vehicles(setting: PlanSetting, change: Callable[[Vehicle], Vehicle]) -> PlanSetting:
    return replace(setting, vehicles=tuple(change(vehicle) for vehicle in setting.vehicles))


def _quicker(vehicle: Vehicle) -> Vehicle:
    turn = vehicle.turn_round
    less = {name: max(getattr(turn, name) - 60.0, 0.0) for name in ("low", "likely", "high")}
    # the battery must be charged in an hour less too, or the hour is not won
    used = vehicle.battery_kwh - vehicle.reserve_kwh
    hours = max(used / vehicle.charge_kw - 1.0, 0.1)
    changes = {"turn_round": ThreePoint(**less), "charge_kw": used / hours}
    return vehicle.model_copy(update=changes)


def _another_crew(vehicle: Vehicle) -> Vehicle:
    return vehicle.model_copy(update={"crews": vehicle.crews + 1})


def _more_battery(vehicle: Vehicle) -> Vehicle:
    return vehicle.model_copy(update={"battery_kwh": vehicle.battery_kwh + 10.0})


def _one_more_seat(setting: PlanSetting) -> PlanSetting:
    """Return the plan with a seat more and the last lift of each refuge emptied into it."""
    bigger = _vehicles(setting, lambda v: v.model_copy(update={"seats": v.seats + 1}))
    lifts = {lift.key: lift for lift in bigger.lifts}
    for refuge in dict.fromkeys(lift.refuge for lift in bigger.waiting()):
        mine = [lift for lift in bigger.waiting() if lift.refuge == refuge]
        loads = fill_lifts(
            sum(lift.walking for lift in mine),
            sum(lift.stretcher for lift in mine),
            bigger.vehicle(mine[0].vehicle),
            bigger.priority,
        )
        if len(loads) >= len(mine):
            continue
        for lift, load in zip(mine, (*loads, *[(0, 0)] * len(mine)), strict=False):
            changes = {"walking": load[0], "stretcher": load[1]}
            lifts[lift.key] = lift.model_copy(update=changes)
    kept = tuple(one for one in lifts.values() if one.walking + one.stretcher)
    return replace(bigger, lifts=kept)


def _one_more_chamber(setting: PlanSetting) -> PlanSetting:
    largest = max(setting.chambers, key=lambda chamber: chamber.places)
    another = largest.model_copy(update={"name": "one more", "available_at": None})
    return replace(setting, chambers=(*setting.chambers, another))


def _one_more_place(setting: PlanSetting) -> PlanSetting:
    def bigger(chamber: Chamber) -> Chamber:
        return chamber.model_copy(update={"places": chamber.places + 1})

    return replace(setting, chambers=tuple(bigger(chamber) for chamber in setting.chambers))


def _longer(endurance: tuple[Endurance, ...]) -> tuple[Endurance, ...]:
    hour_us = HOUR_S * 1_000_000
    return tuple(
        replace(
            one,
            runs_out_us=np.where(
                one.runs_out_us == NOT_REACHED_US, NOT_REACHED_US, one.runs_out_us + hour_us
            ),
        )
        for one in endurance
    )


def latest_start(branch: str, outcome: PlanOutcome, ground: PlanGround) -> LatestStart:
    """Return until when the next dive can wait and still keep the chance the user wants.

    By halving the delay, to a quarter of an hour, against the air that everybody breathes on:
    a dive put off puts off the leaving too. A reading in doubt that would shorten it counts.
    """
    air = as_doubted(outcome.alone)
    wanted = outcome.setting.limits.chance_wanted
    job = job_of(outcome.setting, ground, outcome.pressures)

    def late(delay_s: int) -> PlanOutcome:
        # the vehicles are never ready before now, so that a delay counts from now at the least
        ready_s = np.maximum(job.ready_s, 0) + delay_s
        runs = simulate(replace(job, ready_s=ready_s))
        return judge(outcome.setting, ground, runs, air, alone=air)

    def chance(delay_s: int) -> float:
        return float((late(delay_s).worst_margin_h >= 0).mean())

    now = chance(0)
    if now < wanted:
        return LatestStart(branch=branch, chance_now=now, latest_us=None, beyond=False)
    if chance(LONGEST_DELAY_S) >= wanted:
        last = _first_dive_us(outcome) + LONGEST_DELAY_S * 1_000_000
        return LatestStart(branch=branch, chance_now=now, latest_us=last, beyond=True)
    good, bad = 0, LONGEST_DELAY_S
    while bad - good > FINEST_DELAY_S:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if chance(middle) >= wanted else (good, middle)
    latest = _first_dive_us(late(good))
    return LatestStart(branch=branch, chance_now=now, latest_us=latest, beyond=False)


def _first_dive_us(outcome: PlanOutcome) -> int:
    """Return the median of the first dive still to come, UTC microseconds."""
    starts = outcome.runs.start_s
    waits = [n for n, one in enumerate(outcome.setting.lifts) if not outcome.setting.begun(one.key)]
    first = starts[waits].min(axis=0) if waits else np.zeros(1, dtype=np.int64)
    first = first[first < NEVER // 2]
    middle = int(np.median(first)) if len(first) else 0
    return outcome.setting.at_us + middle * 1_000_000
