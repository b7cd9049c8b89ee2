"""The margin: hours between when people must be out and when they will be.

People count as out of a refuge when the vehicle's hatch is shut behind the last of them; on deck
they are later by the time up and the recovery. Two margins stand beside each other: *if nobody
leaves*, which leads (last out by the plan against air that everybody still breathes, so that the
plan's own success is not taken for granted in the figure that judges it), and *if the lifts go
as planned*.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from layers.contract import Moment, Others
from layers.earth.arrays import Ints
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.uncertain import Bounds, NotKnown, Number, total
from layers.earth.values import DatumValue, ForwardPortValue, WeatherValue
from layers.journal.known import Known
from layers.survivors.air.endurance import Endurance, RefugePeople
from layers.survivors.chambers.chamber import occupancy, people_of
from layers.survivors.decisions.choices import weigh
from layers.survivors.lifts.allowed import later, put_off_h
from layers.survivors.lifts.check import behind_words, remarks
from layers.survivors.lifts.margin_model import (
    LevelOutlook,
    LiftOutlook,
    Outlook,
    RefugeOutlook,
)
from layers.survivors.lifts.model import Lift
from layers.survivors.lifts.plan import Setting, as_chosen, read_setting
from layers.survivors.lifts.quantities import (
    Gaps,
    all_chance,
    chance_of,
    margin_of,
    not_heard_words,
    persons_in_time,
)
from layers.survivors.lifts.refusals import seats_wanted
from layers.survivors.lifts.run.aboard import aboard, left_behind
from layers.survivors.lifts.run.draws import Uniforms
from layers.survivors.lifts.run.ground import US, AirModel, Ground, PressureAt
from layers.survivors.lifts.run.outcome import Outcome, evaluate, level_s, limits_s, ready_draws
from layers.survivors.lifts.run.windows import NEVER, extended, wave_draws, wave_errors
from layers.survivors.lifts.sorties.energy import ballast_kg
from layers.survivors.lifts.sorties.sortie import sorties
from layers.survivors.lifts.spread import Spread3, hours_spread, quantile

DRAWS = 10_000
SEED = 20270316
NO_TIME = Spread3(p10=math.inf, p50=math.inf, p90=math.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class AirGaps:
    """What is not known of the air, and what is expected of its pressure.

    ``missing`` by refuge in words; ``unread`` the refuges of which nothing can be said.
    """

    missing: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    unread: frozenset[str] = frozenset()
    not_heard: int = 0
    pressure_at: PressureAt | None = None


def outlook(
    known: Known,
    others: Others,
    moment: Moment,
    people: Sequence[RefugePeople],
    air: AirModel,
    *,
    gaps: AirGaps | None = None,
    n_draws: int = DRAWS,
    seed: int = SEED,
    decision_draws: int | None = None,
) -> Outlook:
    """Return lifts, margin and decisions at a moment.

    Parameters
    ----------
    known, others, moment
        As a layer gets them; weather, forward port and datum are used where they are there.
    people : sequence of RefugePeople
        Who waits in the refuges.
    air : AirModel
        Runs the air of the refuges on the same draws.
    gaps : AirGaps, optional
        What is not known of it.
    n_draws, seed : int
        Of everything; part of the result.
    decision_draws : int, optional
        The first so many draws are used to compare decisions; 0 compares none.

    Notes
    -----
    Never raises `InputError` for a plan that is missing or cannot run: the muster and the air
    stand without it, and ``unavailable`` says what would fill the place.
    """
    at_us = to_us(moment.at)
    found = gaps or AirGaps()
    try:
        recorded = read_setting(known, moment, _depth_m(others))
        until_us = at_us + round(recorded.limits.horizon_h * 3.6e9)
        ground = ground_of(others, people, air, n_draws, seed, until_us, found)
        return _whole(known, moment, recorded, ground, decision_draws)
    except InputError as reason:
        ground = ground_of(others, people, air, n_draws, seed, at_us, found)
        return _no_plan(at_us, ground, str(reason))


def ground_of(
    others: Others,
    people: Sequence[RefugePeople],
    air: AirModel,
    n_draws: int,
    seed: int,
    until_us: int,
    gaps: AirGaps | None = None,
) -> Ground:
    """Return what stays the same whatever is decided, the sea carried on until a time."""
    weather, response = others.get("weather"), others.get("forward_port")
    series = weather.series_at_datum if isinstance(weather, WeatherValue) else None
    if series is not None and not np.isfinite(series.hs_m).any():
        series = None
    uniforms = Uniforms(n_draws, seed)
    carried = None if series is None else extended(series, until_us)
    errors = None if carried is None else wave_errors(carried, uniforms)
    found = gaps or AirGaps()
    return Ground(
        people=tuple(people),
        uniforms=uniforms,
        series=carried,
        waves=None if carried is None else wave_draws(carried, uniforms),
        response=response if isinstance(response, ForwardPortValue) else None,
        air=air,
        errors=errors,
        forecast_ends_us=None if series is None else int(series.at_us[-1]),
        missing=found.missing,
        unread=found.unread,
        not_heard=found.not_heard,
        pressure_at=found.pressure_at,
        sortie_starts=weather.sortie_starts if isinstance(weather, WeatherValue) else (),
    )


def _depth_m(others: Others) -> float | None:
    datum = others.get("datum")
    return datum.depth_m if isinstance(datum, DatumValue) else None


def _no_plan(at_us: int, ground: Ground, reason: str) -> Outlook:
    """Return how long they can last, where there is no plan to bring them out by."""
    alone = ground.endurance(False, ())
    limit = limits_s(alone, ground.people, at_us, ground.n_draws)
    waiting = [place for place in ground.people if place.persons]
    refuges = []
    for place in waiting:
        gap = _gaps(ground, place.refuge, (reason,))
        unknown = NotKnown(unit="h", missing=(*gap.air, *gap.plan))
        ends = None if gap.unread else limit.get(place.refuge)
        refuges.append(
            RefugeOutlook(
                **_waits(place),
                levels=(),
                binding="" if ends is None else _binding(alone, place.refuge, ends, at_us),
                alone_h=None if ends is None else hours_spread(ends),
                runs_out_h=None,
                last_left_h=None,
                last_on_deck_h=None,
                nobody=unknown,
                planned=unknown,
                late_h=None,
                chance=NotKnown(unit="chance", missing=unknown.missing),
                out_in_time=NotKnown(unit="persons", missing=unknown.missing),
            )
        )
    none = NotKnown(unit="chance", missing=(reason, *not_heard_words(ground)))
    return Outlook(
        at_us=at_us,
        refuges=tuple(refuges),
        all_out=none,
        refuges_out=NotKnown(unit="chance", missing=(reason,)),
        out_in_time=replace(none, unit="persons"),
        to_bring=sum(place.persons for place in waiting) + ground.not_heard,
        not_heard=ground.not_heard,
        unavailable=reason,
        draws=ground.n_draws,
        seed=ground.uniforms.seed,
    )


def _whole(
    known: Known,
    moment: Moment,
    recorded: Setting,
    ground: Ground,
    decision_draws: int | None,
) -> Outlook:
    setting = as_chosen(recorded)
    outcome = evaluate(setting, ground)
    lifts = [_lift(outcome, n, ground) for n in range(len(outcome.setting.lifts))]
    lifts += [_not_run(setting, k, outcome) for k in setting.lifts if k.key in outcome.stopped]
    order = {lift.key: n for n, lift in enumerate(setting.lifts)}
    waiting = [place for place in ground.people if place.persons]
    said = list(remarks(setting, outcome.setting, ground.people, outcome.stopped))
    if ground.series is None:
        said.append("No forecast of the sea is known: no wave, current or night is counted.")
    refuges = tuple(_refuge(outcome, place, ground) for place in waiting)
    missing = tuple(m for place in waiting for m in _gaps(ground, place.refuge).air)
    unheard = not_heard_words(ground)
    rests_on = setting.rests_on
    parts = [one.out_in_time for one in refuges]
    if ground.not_heard:
        parts.append(Bounds(at_least=0.0, at_most=float(ground.not_heard), missing=unheard))
    return Outlook(
        at_us=setting.at_us,
        refuges=refuges,
        lifts=tuple(sorted(lifts, key=lambda lift: order[lift.key])),
        held=tuple(_held(setting, lift) for lift in setting.held),
        all_out=all_chance(outcome, (*missing, *unheard), rests_on),
        refuges_out=all_chance(outcome, missing, rests_on),
        out_in_time=total(parts) if parts else Number(value=0.0, unit="persons"),
        to_bring=sum(place.persons for place in waiting) + ground.not_heard,
        not_heard=ground.not_heard,
        chambers=occupancy(outcome),
        decisions=None if decision_draws == 0 else weigh(recorded, ground, decision_draws),
        sorties=sorties(known, moment, setting, ground.series),
        setting=setting,
        remarks=tuple(said),
        sea=ground.series,
        sea_ends_us=ground.forecast_ends_us,
        first_dive_us=_first_dive_us(setting, ground),
        draws=ground.n_draws,
        seed=ground.uniforms.seed,
        rests_on=rests_on,
    )


def _first_dive_us(setting: Setting, ground: Ground) -> int | None:
    """Return from when the first vehicle of the plan can dive, in the middle of the draws."""
    ready = [int(np.median(ready_draws(v, setting, ground))) for v in setting.vehicles]
    return min(ready, default=None)


def _waits(place: RefugePeople) -> dict[str, Any]:
    return {
        "refuge": place.refuge,
        "persons": place.persons,
        "stretcher": place.stretcher,
        "pressure_bar_abs": place.pressure_bar_abs,
        "seat": place.seat,
    }


def _gaps(ground: Ground, refuge: str, plan: tuple[str, ...] = ()) -> Gaps:
    air = ground.missing.get(refuge, ())
    return Gaps(unread=refuge in ground.unread, air=air, plan=plan)


def _plan_gaps(outcome: Outcome, place: RefugePeople, ground: Ground) -> tuple[str, ...]:
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


def _refuge(outcome: Outcome, place: RefugePeople, ground: Ground) -> RefugeOutlook:
    last = outcome.last_left_s[place.refuge]
    gaps = _gaps(ground, place.refuge, _plan_gaps(outcome, place, ground))
    alone = None if gaps.unread else outcome.alone_s.get(place.refuge)
    limit = None if gaps.unread else outcome.limit_s.get(place.refuge)
    doubted = outcome.doubted_s.get(place.refuge)
    doubted_alone = outcome.doubted_alone_s.get(place.refuge)
    numbers = outcome.lifts_of(place.refuge)
    back = outcome.runs.back_s[numbers].max(axis=0) if numbers else last
    rests_on = outcome.setting.rests_on
    at_us = outcome.setting.at_us
    return RefugeOutlook(
        **_waits(place),
        levels=_levels(outcome, place, gaps),
        binding="" if alone is None else _binding(outcome.alone, place.refuge, alone, at_us),
        alone_h=None if alone is None else hours_spread(alone),
        runs_out_h=None if limit is None else hours_spread(limit),
        last_left_h=hours_spread(last),
        last_on_deck_h=hours_spread(np.where(last >= NEVER // 2, NEVER, back)),
        nobody=margin_of(outcome, place.refuge, alone, gaps, rests_on, doubted_alone),
        planned=margin_of(outcome, place.refuge, limit, gaps, rests_on, doubted),
        late_h=_late_h(last, alone if doubted_alone is None else doubted_alone),
        chance=chance_of(outcome, place.refuge, limit, gaps, rests_on, doubted),
        out_in_time=persons_in_time(outcome, place.refuge, limit, gaps, rests_on, doubted),
    )


def _late_h(last: Ints, alone: Ints | None) -> float | None:
    """Return hours to spare if the hatch shuts at its P90 against the middle of the air."""
    if alone is None:
        return None
    late = quantile(last.astype(np.float64), 0.9)
    middle = quantile(alone.astype(np.float64), 0.5)
    return None if late >= NEVER // 2 or middle >= NEVER else (middle - late) / 3600.0


def _levels(outcome: Outcome, place: RefugePeople, gaps: Gaps) -> tuple[LevelOutlook, ...]:
    """Return every level of a refuge on its own, if nobody leaves."""
    if gaps.unread:
        return ()
    at_us, n = outcome.setting.at_us, outcome.out_in_time.size
    found = []
    for one in outcome.alone:
        if one.refuge != place.refuge:
            continue
        reached = level_s(one, at_us, n)
        alone = replace(gaps, air=())
        doubted = None
        if one.at_least_us is not None:
            doubted = level_s(replace(one, runs_out_us=one.at_least_us), at_us, n)
        in_time = persons_in_time(outcome, place.refuge, reached, alone, ())
        found.append(
            LevelOutlook(
                level=one.level,
                source=one.source,
                runs_out_h=hours_spread(reached),
                margin=margin_of(outcome, place.refuge, reached, alone, (), doubted),
                chance=chance_of(outcome, place.refuge, reached, alone, (), doubted),
                out_in_time=in_time.value if isinstance(in_time, Number) else None,
            )
        )
    unread = [
        LevelOutlook(
            level=said,
            source="",
            runs_out_h=None,
            margin=NotKnown(unit="h", missing=(said,)),
            chance=NotKnown(unit="chance", missing=(said,)),
            out_in_time=None,
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


def _lift(outcome: Outcome, n: int, ground: Ground) -> LiftOutlook:
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


def _forecast_s(ground: Ground, at_us: int) -> int:
    """Return where the forecast of the sea ends, seconds after now; ``NEVER`` without one."""
    ends = ground.forecast_ends_us
    return NEVER if ends is None else (ends - at_us) // US


def _held(setting: Setting, lift: Lift) -> LiftOutlook:
    return _no_times(setting, lift, "held", "")


def _not_run(setting: Setting, lift: Lift, outcome: Outcome) -> LiftOutlook:
    return _no_times(setting, lift, "stopped", outcome.stopped[lift.key])


def _no_times(setting: Setting, lift: Lift, state: str, why: str) -> LiftOutlook:
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


def _who(setting: Setting, lift: Lift, people: int) -> dict[str, Any]:
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
