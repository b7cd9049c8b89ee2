"""What the margin says of each refuge and each lift, from the draws of a plan."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from layers.earth.arrays import Ints
from layers.earth.uncertain import NotKnown, Quantity
from layers.survivors.air.endurance import Endurance, RefugePeople
from layers.survivors.chambers.chamber import people_of
from layers.survivors.lifts.allowed import later, put_off_h
from layers.survivors.lifts.check import behind_words
from layers.survivors.lifts.margin_model import (
    LevelOutlook,
    LiftOutlook,
    RefugeOutlook,
)
from layers.survivors.lifts.model import Lift
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.quantities import (
    Gaps,
    Race,
    chance_of,
    margin_of,
    persons_in_time,
)
from layers.survivors.lifts.refusals import seats_wanted
from layers.survivors.lifts.run.aboard import aboard, left_behind
from layers.survivors.lifts.run.ample import put_off
from layers.survivors.lifts.run.ground import US, PlanGround
from layers.survivors.lifts.run.outcome import PlanOutcome, level_s
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.sorties.energy import ballast_kg
from layers.survivors.lifts.spread import Spread3, hours_spread, quantile
from layers.survivors.lifts.untold import untold

Join = Callable[[Quantity, Quantity], Quantity]  # of two plans, what can be said of both
NO_TIME = Spread3(p10=math.inf, p50=math.inf, p90=math.inf)


def _waits(place: RefugePeople) -> dict[str, Any]:
    return {
        "refuge": place.refuge,
        "persons": place.persons,
        "stretcher": place.stretcher,
        "pressure_bar_abs": place.pressure_bar_abs,
        "seat": place.seat,
    }


def gaps_of(ground: PlanGround, refuge: str, plan: tuple[str, ...] = ()) -> Gaps:
    """Return what is not known of a refuge's people, and of the plan that would take them."""
    air = ground.missing.get(refuge, ())
    more = tuple(dict.fromkeys(ground.unstored.get(refuge, {}).values()))
    return Gaps(unread=refuge in ground.unread, air=air, plan=plan, more=more)


def plan_gaps(outcome: PlanOutcome, place: RefugePeople, ground: PlanGround) -> tuple[str, ...]:
    """Return who of a refuge is in no lift that runs, and why."""
    behind = left_behind(outcome.setting, ground.people).get(place.refuge)
    if behind is None:
        return ()
    lifts = {lift.key for lift in outcome.setting.lifts}
    why = [
        f"lift {key} does not run: {reason}"
        for key, reason in outcome.stopped.items()
        if key not in lifts and place.refuge in reason
    ]
    return (f"no lift that runs takes {behind_words(place, *behind)}", *why)


def hopeful(outcome: PlanOutcome, place: RefugePeople, ground: PlanGround) -> tuple[str, ...]:
    """Return what is not told and could only make the last of a refuge later, in words.

    Lifts that do not run leave their vehicle to the others: not for a refuge of whose people
    nobody has told while some are not heard of, nor for want of a chamber that nobody told of.
    """
    setting, others = outcome.setting, []
    if ground.not_heard:
        others += [f"whether anybody waits in {refuge}" for refuge in outcome.empty]
    if outcome.stopped and not (setting.chambers or setting.spare_chambers or setting.closed):
        others.append("no chamber told")
    return (*untold(setting, ground, place), *others)


def refuge_outlook(outcome: PlanOutcome, place: RefugePeople, ground: PlanGround) -> RefugeOutlook:
    """Return a refuge's margin and what it rests on."""
    last = outcome.last_left_s[place.refuge]
    gaps = replace(
        gaps_of(ground, place.refuge, plan_gaps(outcome, place, ground)),
        late=hopeful(outcome, place, ground),
    )
    alone = None if gaps.unread else outcome.alone_s.get(place.refuge)
    limit = None if gaps.unread else outcome.limit_s.get(place.refuge)
    doubted, ample = outcome.doubted_alone_s, outcome.ample_alone_s
    race = Race(
        outcome=outcome,
        refuge=place.refuge,
        gaps=gaps,
        limit_s=limit,
        doubted_s=outcome.doubted_s.get(place.refuge),
        ample_s=outcome.ample_s.get(place.refuge),
        rests_on=outcome.setting.rests_on,
    )
    nobody = replace(
        race,
        limit_s=alone,
        doubted_s=doubted.get(place.refuge),
        ample_s=ample.get(place.refuge),
    )
    numbers = outcome.lifts_of(place.refuge)
    back = outcome.runs.back_s[numbers].max(axis=0) if numbers else last
    at_us = outcome.setting.at_us
    return RefugeOutlook(
        **_waits(place),
        levels=_levels(outcome, place, gaps, ground),
        binding="" if alone is None else _binding(outcome.alone, place.refuge, alone, at_us),
        alone_h=None if alone is None else hours_spread(alone),
        runs_out_h=None if limit is None else hours_spread(limit),
        last_left_h=hours_spread(last),
        last_on_deck_h=hours_spread(np.where(last >= NEVER // 2, NEVER, back)),
        nobody=margin_of(nobody),
        planned=margin_of(race),
        late_h=_late_h(last, alone if nobody.doubted_s is None else nobody.doubted_s),
        chance=chance_of(race),
        out_in_time=persons_in_time(race),
        at_most=bool(gaps.air),
        at_least=alone is not None and put_off(place.refuge, outcome.alone_s, ample),
    )


def joined(first: RefugeOutlook, other: RefugeOutlook, join: Join) -> RefugeOutlook:
    """Return a refuge of which it is not known which of two plans is the true one."""
    return replace(
        first,
        nobody=join(first.nobody, other.nobody),
        planned=join(first.planned, other.planned),
        chance=join(first.chance, other.chance),
        out_in_time=join(first.out_in_time, other.out_in_time),
        levels=tuple(
            replace(
                one,
                margin=join(one.margin, two.margin),
                chance=join(one.chance, two.chance),
                out_in_time=join(one.out_in_time, two.out_in_time),
            )
            for one, two in zip(first.levels, other.levels, strict=True)
        ),
    )


def as_told(one: RefugeOutlook, lifts: Sequence[LiftOutlook]) -> RefugeOutlook:
    """Return a refuge whose last is out at the hour that its last lift is told for: one time."""
    mine = [k for k in lifts if k.refuge == one.refuge and math.isfinite(k.left_h.p50)]
    if not mine or one.last_left_h is None or not math.isfinite(one.last_left_h.p50):
        return one
    last = max(mine, key=lambda lift: lift.left_h.p50)
    if last.left_h.p50 <= one.last_left_h.p50:
        return one
    return replace(one, last_left_h=last.left_h, last_on_deck_h=last.back_h)


def _late_h(last: Ints, alone: Ints | None) -> float | None:
    """Return hours to spare if the hatch shuts at its P90 against the middle of the air."""
    if alone is None:
        return None
    late = quantile(last.astype(np.float64), 0.9)
    middle = quantile(alone.astype(np.float64), 0.5)
    return None if late >= NEVER // 2 or middle >= NEVER else (middle - late) / 3600.0


def _levels(
    outcome: PlanOutcome, place: RefugePeople, gaps: Gaps, ground: PlanGround
) -> tuple[LevelOutlook, ...]:
    """Return every level of a refuge on its own, if nobody leaves."""
    if gaps.unread:
        return ()
    at_us, n = outcome.setting.at_us, outcome.out_in_time.size
    found = []
    for one in outcome.alone:
        if one.refuge != place.refuge:
            continue
        reached = level_s(one, at_us, n)
        asked = ground.unstored.get(place.refuge, {}).get(one.quantity)
        race = Race(
            outcome=outcome,
            refuge=place.refuge,
            gaps=replace(gaps, air=(), more=(asked,) if asked else ()),
            limit_s=reached,
        )
        ample = np.full(n, NEVER, dtype=np.int64) if asked else None
        doubted = None
        if one.at_least_us is not None:
            doubted = level_s(replace(one, runs_out_us=one.at_least_us), at_us, n)
        whole = replace(race, doubted_s=doubted, ample_s=ample)
        found.append(
            LevelOutlook(
                level=one.level,
                source=one.source,
                runs_out_h=hours_spread(reached),
                margin=margin_of(whole),
                chance=chance_of(whole),
                out_in_time=persons_in_time(whole),
            )
        )
    unread = [
        LevelOutlook(
            level=said,
            source="",
            runs_out_h=None,
            margin=NotKnown(unit="h", missing=(said,)),
            chance=NotKnown(unit="chance", missing=(said,)),
            out_in_time=NotKnown(unit="persons", missing=(said,)),
            unknown=said,
        )
        for said in gaps.air
    ]
    return (*found, *unread)


def _binding(endurance: Sequence[Endurance], refuge: str, limit: Ints, at_us: int) -> str:
    mine = [one for one in endurance if one.refuge == refuge]
    first = [(level_s(one, at_us, len(limit)) == limit) & (limit < NEVER) for one in mine]
    shares = [float(hit.mean()) for hit in first]
    return mine[int(np.argmax(shares))].level if shares and max(shares) > 0 else ""


def lift_outlook(outcome: PlanOutcome, n: int, ground: PlanGround) -> LiftOutlook:
    """Return what is expected of a lift that runs in the draws."""
    setting, runs = outcome.setting, outcome.runs
    lift = setting.lifts[n]
    fact = setting.facts.get(lift.key)
    start = runs.start_s[n]
    used = runs.chamber[n][runs.chamber[n] >= 0]
    room = int(np.bincount(used).argmax()) if len(used) else -1
    ran = start < NEVER // 2
    in_room = runs.chamber[n] == room
    times = [hours_spread(each) for each in (start, runs.left_s[n], runs.back_s[n])]
    begun = setting.begun(lift.key)
    put_off = 0.0 if begun else put_off_h(times[0].p50, ground.sortie_starts, setting.at_us)
    dive, left, back = (later(each, put_off or 0.0) for each in times)
    return LiftOutlook(
        **_who(setting, lift, people_of(outcome, n)),
        state=fact.phase.value if fact and begun else "waiting",
        dive_h=dive,
        left_h=left,
        back_h=back,
        unforecast=put_off is None,
        chamber=setting.chambers[room].name if room >= 0 else "",
        chamber_until_h=hours_spread(runs.chamber_out_s[n][in_room]) if room >= 0 else None,
        pressure_bar_abs=outcome.pressures.get(lift.key),
        runs=float(ran.mean()),
        beyond_forecast=float((ran & (start > _forecast_s(ground, setting.at_us))).mean()),
        caught=float((ran & (runs.caught_s[n] > 0)).mean()),
    )


def _forecast_s(ground: PlanGround, at_us: int) -> int:
    """Return where the forecast of the sea ends, seconds after now; ``NEVER`` without one."""
    ends = ground.forecast_ends_us
    return NEVER if ends is None else (ends - at_us) // US


def held(setting: PlanSetting, lift: Lift) -> LiftOutlook:
    """Return a lift that waits for somebody's word."""
    return _no_times(setting, lift, "held", "")


def not_run(setting: PlanSetting, lift: Lift, outcome: PlanOutcome) -> LiftOutlook:
    """Return a lift that the simulation could not run, and why."""
    return _no_times(setting, lift, "stopped", outcome.stopped[lift.key])


def _no_times(setting: PlanSetting, lift: Lift, state: str, why: str) -> LiftOutlook:
    return LiftOutlook(
        **_who(setting, lift, sum(aboard(setting, lift))),
        state=state,
        dive_h=NO_TIME,
        left_h=NO_TIME,
        back_h=NO_TIME,
        chamber="",
        chamber_until_h=None,
        pressure_bar_abs=None,
        runs=0.0,
        beyond_forecast=0.0,
        stopped=why,
    )


def _who(setting: PlanSetting, lift: Lift, people: int) -> dict[str, Any]:
    vehicle = setting.vehicle(lift.vehicle)
    walking, stretcher = aboard(setting, lift)
    return {
        "key": lift.key,
        "vehicle": lift.vehicle,
        "refuge": lift.refuge,
        "walking": walking,
        "stretcher": stretcher,
        "seats": seats_wanted(walking, stretcher, vehicle),
        "ballast_kg": ballast_kg(vehicle, walking, stretcher),
    }
