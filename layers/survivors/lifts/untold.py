"""What nobody told and makes a plan hopeful: with it the last could only be out later.

A sea without a forecast shuts nothing, a crew nobody counted never tires, people nobody has looked
at all walk. Each lets the plan run, so that the first hour has one; none may make its answer surer
or better than it would be if it were known. So what rests on it is *at most*, with its name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np

from layers.contract import Moment
from layers.earth.clock import US_PER_MIN, to_us
from layers.earth.values import SeaSeries
from layers.journal.known import Known
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.lifts.choose import cycle_us
from layers.survivors.lifts.model import Lift, Phase
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.aboard import BEFORE_HATCH_SHUT, aboard
from layers.survivors.lifts.run.ground import PlanGround
from layers.survivors.lifts.sorties.facts import LiftFact
from layers.survivors.lifts.sorties.learn import estimate_min
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import place_sorts, told, touches
from layers.survivors.muster.on_board import in_order

SURFACE_BAR = 1.1  # up to here nobody needs a stay, schedule or not: our choice
NO_SEA = "no forecast of the sea"
FREE = {"battery_kwh": "battery", "crews": "crews"}  # of a vehicle; not told, they bind nothing
WAVES = {"launch_hs_m": "launch", "recovery_hs_m": "recovery"}
CURRENTS = {"through_water_kn": "through the water", "mating_kn": "mating"}


def unforecast(series: SeaSeries | None) -> tuple[str, ...]:
    """Return what no forecast tells of the sea ahead, in words.

    Waves or a current once observed and held on are none: they shut nothing that is to come.
    """
    if series is None:
        return (NO_SEA,)
    said = [] if series.waves_forecast else [NO_SEA]
    for where, speeds, ahead in (
        ("at the surface", series.current_surface_kn, series.current_forecast),
        ("at the seat", series.current_seat_kn, True),
    ):
        if not np.isfinite(speeds).any():
            said.append(f"no current known {where}")
        elif not ahead:
            said.append(f"no forecast of the current {where}")
    return tuple(said)


def untold(setting: PlanSetting, ground: PlanGround, place: RefugePeople) -> tuple[str, ...]:
    """Return what is not told and could only make the last of a refuge later, in words."""
    return tuple(dict.fromkeys(_untold(setting, ground, place)))


def _untold(setting: PlanSetting, ground: PlanGround, place: RefugePeople) -> Iterable[str]:
    yield from ground.unforecast
    if ground.series is not None:
        told = setting.limits.model_fields_set
        for what, limits in (("waves", WAVES), ("current", CURRENTS)):
            if free := [word for name, word in limits.items() if name not in told]:
                yield f"no limit of {what} for {' and '.join(free)}"
    pressed = place.pressure_bar_abs is None or place.pressure_bar_abs > SURFACE_BAR
    mine = {lift.vehicle for lift in setting.waiting() if lift.refuge == place.refuge}
    if mine and setting.schedule is None and pressed:
        yield "no decompression schedule"
    for vehicle in setting.vehicles:
        told = vehicle.model_fields_set
        free = [word for name, word in FREE.items() if name not in told]
        if pressed and "max_pressure_bar_abs" not in told:
            free.append("pressure it may carry")
        if free and vehicle.name in mine:
            yield f"{vehicle.name}'s {', '.join(free)} not told"
    if place.seat == "not known" and mine:
        yield f"whether the seat of {place.refuge} is clear"
    if place.fitness_unknown and mine:
        yield f"whether {place.fitness_unknown} in {place.refuge} walk or lie"


HATCH_SHUT = (Phase.AWAY, Phase.UP, Phase.RECOVER, Phase.BACK)
BY_VEHICLE = (PlaceSort.VEHICLE, PlaceSort.CHAMBER, PlaceSort.DECK)


def perhaps_run(known: Known, moment: Moment, setting: PlanSetting) -> dict[str, LiftFact]:
    """Return by lift that waits by the plan how its sortie stands, if people booked out took it.

    Somebody moved them in the muster, and nobody told a phase of the sortie that fetched them:
    whether the vehicle still has to go for that lift is then not known. If it has gone, it left
    the seat when they were moved, and is back when nobody is booked in it any more.

    The other way round too: its hatch is told shut and nobody moved those aboard, so that the
    muster has them in the refuge yet. That lift is with them as they are if they are out.
    """
    if setting.filled:
        return {}
    moves = _by_vehicle(known, moment)
    return _waiting_run(known, moment, setting, moves) | _unmoved(known, moment, setting, moves)


def _waiting_run(
    known: Known, moment: Moment, setting: PlanSetting, moves: Sequence[_Moved]
) -> dict[str, LiftFact]:
    taken = dict.fromkeys((move.refuge for move in moves), 0)
    for lift in setting.lifts:
        if setting.begun(lift.key):
            taken[lift.refuge] = taken.get(lift.refuge, 0) + sum(aboard(setting, lift))
    left: dict[str, int] = {}
    for lift in setting.waiting():
        out = sum(move.persons for move in moves if move.refuge == lift.refuge)
        load = lift.walking + lift.stretcher
        if load and out > taken.get(lift.refuge, 0):
            taken[lift.refuge] += load
            left[lift.key] = _out_by(moves, lift.refuge, min(taken[lift.refuge], out))
    _one_after_another(setting, left)
    return {
        lift.key: _as_moved(known, moment, lift, left[lift.key], _next_of(setting, lift, left))
        for lift in setting.waiting()
        if lift.key in left
    }


def _unmoved(
    known: Known, moment: Moment, setting: PlanSetting, moves: Sequence[_Moved]
) -> dict[str, LiftFact]:
    """Return the lifts whose hatch is shut behind people whom nobody moved, with those people.

    Only of a refuge that somebody counted before it shut: a later count is without them.
    """
    accounts, found = told(known, moment.at), dict[str, LiftFact]()
    down = [setting.facts[k.key] for k in setting.lifts if setting.begun(k.key)]
    still = {id(fact) for fact in down if fact.phase in BEFORE_HATCH_SHUT}
    refuges = {k.key: k.refuge for k in setting.lifts}
    out: dict[str, int] = {}
    for move in moves:
        out[move.refuge] = out.get(move.refuge, 0) + move.persons
    for fact in down:
        if id(fact) in still:
            out[refuges[fact.lift]] = out.get(refuges[fact.lift], 0) - sum(fact.booked or ())
    for lift in setting.lifts:
        if not setting.begun(lift.key) or id(fact := setting.facts[lift.key]) in still:
            continue
        walking, stretcher = aboard(setting, lift)
        moved = min(walking + stretcher, max(out.get(lift.refuge, 0), 0))
        out[lift.refuge] = out.get(lift.refuge, 0) - moved
        shut_us = min(us for phase, us in fact.began_us.items() if phase in HATCH_SHUT)
        counted = any(
            touches(entry, lift.refuge) and to_us(entry.record.valid_at) <= shut_us
            for entry in accounts
        )
        gone = fact.under_way and setting.vehicle(fact.vehicle).state == "lost"
        if moved < walking + stretcher and counted and not gone:
            left = (max(walking - moved, 0), stretcher - max(moved - walking, 0))
            found[lift.key] = replace(fact, unmoved=left)
    return found


def _one_after_another(setting: PlanSetting, left: dict[str, int]) -> None:
    """Give each lift of a vehicle a time of its own: it was at the seat once at a time.

    People of several lifts are booked out together when somebody gets to it, after the last.
    """
    for vehicle in setting.vehicles:
        mine = [k for k in setting.waiting() if k.vehicle == vehicle.name and k.key in left]
        for before, after in reversed(list(pairwise(mine))):
            if left[before.key] >= left[after.key]:
                cycle = cycle_us(vehicle, after, setting.depth_m)
                left[before.key] = left[after.key] - cycle


def _out_by(moves: Iterable[_Moved], refuge: str, persons: int) -> int:
    """Return since when at least so many of a refuge are booked out of it, microseconds."""
    out, since = 0, None
    for move in moves:
        if move.refuge == refuge:
            out += move.persons
            since = None if out < persons else since or move.at_us
    assert since is not None  # so many are out now
    return since


def _next_of(setting: PlanSetting, lift: Lift, left: dict[str, int]) -> int | None:
    """Return when a vehicle left the seat again after a lift, None where that was its last."""
    mine = [left[k.key] for k in setting.waiting() if k.vehicle == lift.vehicle and k.key in left]
    return min((at for at in mine if at > left[lift.key]), default=None)


@dataclass(frozen=True, slots=True)
class _Moved:
    """Persons booked from a refuge into a vehicle or where that brings them; back: below nought."""

    refuge: str
    at_us: int
    persons: int


def _by_vehicle(known: Known, moment: Moment) -> list[_Moved]:
    sorts, found = place_sorts(known), []
    for entry in in_order(known.entries("survivors.move"), moment.at):
        move, at_us = entry.value, to_us(entry.record.valid_at)
        here, there = move.from_place, move.to_place
        if sorts.get(here) is PlaceSort.REFUGE and sorts.get(there) in BY_VEHICLE:
            found.append(_Moved(here, at_us, move.persons))
        if sorts.get(there) is PlaceSort.REFUGE and sorts.get(here) in BY_VEHICLE:
            found.append(_Moved(there, at_us, -move.persons))
    return found


def _as_moved(
    known: Known, moment: Moment, lift: Lift, left_us: int, again_us: int | None
) -> LiftFact:
    """Return a sortie as the muster's moves tell of it, until its vehicle left the seat again."""
    inside, out_us = 0, left_us
    for entry in in_order(known.entries("survivors.move"), moment.at):
        at_us = to_us(entry.record.valid_at)
        if again_us is not None and at_us >= again_us:
            break
        inside += entry.value.persons * (entry.value.to_place == lift.vehicle)
        if entry.value.from_place == lift.vehicle:
            inside -= entry.value.persons
            out_us = at_us
    back = inside <= 0 or again_us is not None
    began = {Phase.AWAY: left_us} | ({Phase.BACK: max(out_us, left_us)} if back else {})
    phase = Phase.BACK if back else Phase.AWAY
    return LiftFact(lift=lift.key, vehicle=lift.vehicle, began_us=began, phase=phase)


ALL_WAYS = 2  # of so many lifts each may have been run or not; of more, the first so many were


def ways_run(
    setting: PlanSetting, perhaps: Mapping[str, LiftFact]
) -> Iterable[dict[str, LiftFact]]:
    """Return which lifts may have been run together, and when: some at least.

    They left when their people were booked out, or as soon as their vehicle could: people are
    booked when somebody gets to it.
    """
    keys = sorted(perhaps, key=lambda key: min(perhaps[key].began_us.values()))
    for count in range(1, len(keys) + 1):
        together = combinations(keys, count) if len(keys) <= ALL_WAYS else [tuple(keys[:count])]
        for some in together:
            facts = {key: perhaps[key] for key in some}
            yield facts
            yield _as_early(setting, facts)


def _as_early(setting: PlanSetting, perhaps: Mapping[str, LiftFact]) -> dict[str, LiftFact]:
    """Return the lifts perhaps run as they were if each vehicle dived as soon as it could."""
    found = dict(perhaps)
    for vehicle in setting.vehicles:
        ran = [f.began_us[Phase.BACK] for f in setting.facts.values()
               if f.vehicle == vehicle.name and f.done]  # fmt: skip
        ready = None if vehicle.ready_at is None else to_us(vehicle.ready_at)
        turn_us = round(vehicle.turn_round.likely * US_PER_MIN)
        from_us = max([ready or 0, *(back + turn_us for back in ran)])
        for lift in setting.waiting():
            fact = perhaps.get(lift.key)
            if fact is None or lift.vehicle != vehicle.name:
                continue
            whole = cycle_us(vehicle, lift, setting.depth_m)
            left = min(fact.began_us.values())
            home_us = sum(
                round(estimate_min(vehicle, lift, phase, setting.depth_m) * US_PER_MIN)
                for phase in (Phase.AWAY, Phase.UP, Phase.RECOVER)
            )
            soonest = (from_us or left - whole) + whole - turn_us - home_us
            if soonest < left:
                began = {Phase.AWAY: soonest, Phase.BACK: soonest + home_us}
                found[lift.key] = replace(fact, began_us=began, phase=Phase.BACK)
            from_us = max(found[lift.key].began_us.values()) + turn_us
    return found


def perhaps_run_words(perhaps: Mapping[str, LiftFact]) -> tuple[str, ...]:
    """Return what would tell whether lifts were run, or took those aboard out, one each."""
    return tuple(
        f"whether the {sum(fact.unmoved)} of lift {key}, not moved in the muster, are out "
        f"with {fact.vehicle}"
        if sum(fact.unmoved)
        else f"whether lift {key} was run"
        for key, fact in perhaps.items()
    )


def perhaps_run_remarks(perhaps: Mapping[str, LiftFact]) -> tuple[str, ...]:
    """Return what to tell of them, as sentences."""
    return tuple(
        f"Lift {key} is told to have left with {sum(fact.unmoved)} who are still booked in the "
        "refuge: move them in the muster, or correct how many are aboard."
        if sum(fact.unmoved)
        else "People are booked out of a refuge, and no phase of a sortie is told that brought "
        f"them: was lift {key} run?"
        for key, fact in perhaps.items()
    )
