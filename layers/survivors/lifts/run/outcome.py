"""What a plan comes to: who is out before the air ends, draw by draw.

One draw is one future: it has its own sea, arrival, repairs and lifts, and the people leave the
refuge when they do in that draw, so that the air of that draw follows. Two times of the air are
kept beside each other: *if nobody leaves* (everybody breathes on, so that it does not depend on
the plan that is judged by it) and *as planned*.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import cast

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.survivors.air.endurance import NOT_REACHED_US, AirCurves, Endurance, RefugePeople
from layers.survivors.lifts.check import stops
from layers.survivors.lifts.model import PHASES, Phase
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.aboard import persons_of
from layers.survivors.lifts.run.ample import ample_s, without_stored
from layers.survivors.lifts.run.ground import AS_EXPECTED, US, Case, Leaving, PlanGround, fewer
from layers.survivors.lifts.run.job import Job, build_job
from layers.survivors.lifts.run.ready import ready_draws, with_unready
from layers.survivors.lifts.run.simulate import Runs, simulate
from layers.survivors.lifts.run.stays import stays_of
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.sorties.learn import estimate_min
from layers.survivors.lifts.spread import margin_h, quantile
from layers.survivors.lifts.take_over import taken_over

FIRST_LOOK_DRAWS = 200  # enough for the median hour at which each hatch shuts


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanOutcome:
    """What one plan comes to.

    Parameters
    ----------
    setting : PlanSetting
        The plan with the lifts that can run; the others are in ``stopped`` with the reason, and in
        ``empty`` the refuges of those that find nobody and where none has run yet.
    runs : Runs
        When each lift runs.
    persons : ndarray, shape (L,)
        Whom each lift brings of those still in the refuges; 0 for a lift already out.
    endurance, alone : tuple of Endurance
        With the people leaving as they do in each draw, and if nobody leaves.
    pressures : mapping of str to float or None
        By lift, the pressure its people come out of, expected when the hatch shuts.
    last_left_s : mapping of refuge to ndarray, shape (n_draws,)
        When the last is out of it, seconds after now; ``NEVER`` where somebody stays.
    limit_s, alone_s : mapping of refuge to ndarray, shape (n_draws,)
        When its first level is reached; a refuge nothing is known of is not in them.
    doubted_s, doubted_alone_s : mapping of refuge to ndarray, shape (n_draws,)
        The same two if a reading in doubt is right, only for refuges where one would shorten it.
    ample_s, ample_alone_s : mapping of refuge to ndarray, shape (n_draws,)
        The same two if stores that nobody told of never end, where that would lengthen one.
    out_in_time : ndarray, shape (n_draws,)
        Persons out of their refuge before its first level, of those whose air is known.
    worst_margin_h : ndarray, shape (n_draws,)
        The smallest margin of the refuges if nobody leaves, which no plan can lengthen by
        leaving people below; minus infinity where somebody never gets out.
    all_in_time : ndarray of bool, shape (n_draws,)
        Everybody of the refuges whose air is known is out in time, as planned.
    all_if_doubted : ndarray of bool, shape (n_draws,)
        The same if every reading in doubt is right; ``all_if_ample`` if stores never end.
    """

    setting: PlanSetting
    stopped: Mapping[str, str] = field(default_factory=dict)
    empty: tuple[str, ...] = ()
    runs: Runs
    persons: Ints
    endurance: tuple[Endurance, ...]
    alone: tuple[Endurance, ...]
    pressures: Mapping[str, float | None] = field(default_factory=dict)
    last_left_s: Mapping[str, Ints]
    limit_s: Mapping[str, Ints]
    alone_s: Mapping[str, Ints]
    doubted_s: Mapping[str, Ints] = field(default_factory=dict)
    doubted_alone_s: Mapping[str, Ints] = field(default_factory=dict)
    ample_s: Mapping[str, Ints] = field(default_factory=dict)
    ample_alone_s: Mapping[str, Ints] = field(default_factory=dict)
    out_in_time: Floats
    worst_margin_h: Floats
    all_in_time: np.ndarray
    all_if_doubted: np.ndarray
    all_if_ample: np.ndarray

    def lifts_of(self, refuge: str) -> list[int]:
        """Return the numbers of the lifts that bring somebody out of a refuge."""
        lifts = enumerate(self.setting.lifts)
        return [n for n, lift in lifts if lift.refuge == refuge and self.persons[n]]


def evaluate(
    setting: PlanSetting,
    ground: PlanGround,
    case: Case = AS_EXPECTED,
    delay_s: int = 0,
    endurance: tuple[Endurance, ...] | None = None,
    alone: tuple[Endurance, ...] | None = None,
) -> PlanOutcome:
    """Return what a plan comes to on the ground's draws.

    Parameters
    ----------
    setting : PlanSetting
        The plan, decisions put in.
    ground : PlanGround
        What stays the same.
    case : Case
        Weather and flooding.
    delay_s : int
        Every vehicle so much later.
    endurance, alone : tuple of Endurance, optional
        Keep the air as in another run, where only a small change is tried.
    """
    told = taken_over(with_unready(setting, ground))
    able, stopped, pressures = able_part(told, ground, case, delay_s)
    runs = _ran(able, ground, pressures, case, delay_s)
    outcome = judge(able, ground, runs, endurance, case, alone)
    busy = {place.refuge for place in ground.people if place.persons}
    busy |= {lift.refuge for lift in told.lifts if told.begun(lift.key)}
    found = dict.fromkeys(k.refuge for k in told.lifts if k.key in stopped)
    empty = tuple(refuge for refuge in found if refuge not in busy)
    return replace(outcome, stopped=stopped, empty=empty, pressures=pressures)


def _ran(
    able: PlanSetting,
    ground: PlanGround,
    pressures: Mapping[str, float | None],
    case: Case,
    delay_s: int,
) -> Runs:
    """Return the lifts run, once for all plans that differ in nothing the lifts go by."""
    lifted = replace(able, pods=False, options=(), chosen=(), chosen_us={}, choice=None)
    asked = (lifted, dict(pressures), case, delay_s)
    for before, runs in ground.ran:
        if before == asked:
            return cast(Runs, runs)
    runs = simulate(job_of(able, ground, pressures, case, delay_s))
    ground.ran.append((asked, runs))
    return runs


def able_part(
    setting: PlanSetting, ground: PlanGround, case: Case = AS_EXPECTED, delay_s: int = 0
) -> tuple[PlanSetting, dict[str, str], dict[str, float | None]]:
    """Return the plan without the lifts that cannot run, why not, and each lift's pressure.

    The pressure is that of the hour at which the hatch shuts, from the forecast of the air; the
    hour is looked for on a few of the draws.
    """
    now = ground.pressures()
    pressures = {lift.key: now.get(lift.refuge) for lift in setting.lifts}
    able, stopped = _without_stopped(setting, ground, pressures)
    if ground.pressure_at is None or not able.waiting():
        return able, stopped, pressures
    few = fewer(ground, FIRST_LOOK_DRAWS)
    runs = simulate(job_of(able, few, pressures, case, delay_s))
    for n, lift in enumerate(able.lifts):
        hours = quantile(runs.left_s[n].astype(np.float64), 0.5) / 3600.0
        if not able.begun(lift.key) and hours < NEVER / 7200:
            pressures[lift.key] = ground.pressure(lift.refuge, hours)
    able, stopped = _without_stopped(setting, ground, pressures)
    return able, stopped, pressures


def _without_stopped(
    setting: PlanSetting, ground: PlanGround, pressures: Mapping[str, float | None]
) -> tuple[PlanSetting, dict[str, str]]:
    seats = {place.refuge: place.seat for place in ground.people}
    stopped = stops(setting, pressures, seats)
    able = replace(setting, lifts=tuple(k for k in setting.lifts if k.key not in stopped))
    takes = persons_of(able, ground.people)
    for lift, count in zip(able.lifts, takes, strict=True):
        if not count and not setting.begun(lift.key):
            stopped[lift.key] = f"nobody is left in {lift.refuge} for it to fetch"
    kept = tuple(lift for lift in setting.lifts if lift.key not in stopped)
    return replace(setting, lifts=kept), stopped


def job_of(
    setting: PlanSetting,
    ground: PlanGround,
    pressures: Mapping[str, float | None],
    case: Case = AS_EXPECTED,
    delay_s: int = 0,
) -> Job:
    """Return the plan as numbers on the ground's draws."""
    ready = {
        vehicle.name: ready_draws(vehicle, setting, ground) + delay_s * US
        for vehicle in setting.working()
    }
    sea = ground.sea(setting, case, _lead_h(setting))
    curves = _pressures_that_matter(setting, ground)
    return build_job(setting, pressures, ready, sea, ground.uniforms, curves)


def _pressures_that_matter(setting: PlanSetting, ground: PlanGround) -> AirCurves | None:
    """Return the pressures ahead draw by draw, None where all draws are kept alike by them."""
    few = ground.pressures_ahead(min(FIRST_LOOK_DRAWS, ground.n_draws))
    waiting = setting.waiting()
    if few is None or not waiting:
        return None
    most = np.array([setting.vehicle(k.vehicle).max_pressure_bar_abs for k in waiting])
    refuges = tuple(lift.refuge for lift in waiting)
    if not stays_of(few, refuges, most, setting.schedule).matter:
        return None
    return ground.pressures_ahead(ground.n_draws)


def _lead_h(setting: PlanSetting) -> float:
    """Return how long before its recovery a dive is decided on: the longest sortie, whole hours."""
    last = PHASES[: PHASES.index(Phase.RECOVER)]
    minutes = [
        sum(estimate_min(setting.vehicle(k.vehicle), k, p, setting.depth_m) for p in last)
        for k in setting.waiting()
    ]
    return float(round(max(minutes, default=0.0) / 60.0))


def judge(
    setting: PlanSetting,
    ground: PlanGround,
    runs: Runs,
    endurance: tuple[Endurance, ...] | None = None,
    case: Case = AS_EXPECTED,
    alone: tuple[Endurance, ...] | None = None,
) -> PlanOutcome:
    """Return what lifts that were run come to, against the air."""
    persons = persons_of(setting, ground.people)
    horizon_h = setting.limits.horizon_h
    if alone is None:
        alone = ground.endurance(setting.pods, (), horizon_h)
    if endurance is None:
        leaving = leaving_of(setting, runs, persons)
        endurance = ground.endurance(setting.pods, leaving, horizon_h) if leaving else alone
    last, out = {}, np.zeros(ground.n_draws)
    asked = (ground.people, setting.at_us, ground.n_draws)
    limit, still = limits_s(endurance, *asked, case.sooner), limits_s(alone, *asked, case.sooner)
    doubted, unstored = doubted_limits_s(endurance, *asked), ground.unstored
    ample, ample_alone = (
        ample_s(own, limits_s(without_stored(air, unstored), *asked, case.sooner), unstored)
        for own, air in ((limit, endurance), (still, alone))
    )
    worst = np.full(ground.n_draws, np.inf)
    everybody = np.ones(ground.n_draws, dtype=bool)
    in_doubt, if_ample = everybody.copy(), everybody.copy()
    for place in ground.people:
        if not place.persons:
            continue
        mine = _lifts_of(setting, persons, place.refuge)
        left = runs.left_s[mine]
        last[place.refuge] = _last_left(left, int(persons[mine].sum()), place.persons)
        if place.refuge not in limit:
            continue
        if mine:
            out += persons[mine] @ (left <= limit[place.refuge][None, :])
        worst = np.minimum(worst, margin_h(last[place.refuge], still[place.refuge]))
        in_time = margin_h(last[place.refuge], limit[place.refuge]) >= 0
        everybody &= in_time
        if place.refuge in doubted:
            in_time = margin_h(last[place.refuge], doubted[place.refuge]) >= 0
        in_doubt &= in_time
        if_ample &= margin_h(last[place.refuge], ample.get(place.refuge, limit[place.refuge])) >= 0
    return PlanOutcome(
        setting=setting,
        runs=runs,
        persons=persons,
        endurance=endurance,
        alone=alone,
        last_left_s=last,
        limit_s=limit,
        alone_s=still,
        doubted_s=doubted,
        doubted_alone_s=doubted_limits_s(alone, *asked),
        ample_s=ample,
        ample_alone_s=ample_alone,
        out_in_time=out,
        worst_margin_h=worst,
        all_in_time=everybody,
        all_if_doubted=in_doubt,
        all_if_ample=if_ample,
    )


def as_doubted(endurance: Sequence[Endurance]) -> tuple[Endurance, ...]:
    """Return the air as it is if every reading in doubt that would shorten it is right."""
    return tuple(
        one if one.at_least_us is None else replace(one, runs_out_us=one.at_least_us)
        for one in endurance
    )


def doubted_limits_s(
    endurance: Sequence[Endurance], people: Sequence[RefugePeople], at_us: int, n_draws: int
) -> dict[str, Ints]:
    """Return by refuge when its first level is reached if what is in doubt is right."""
    doubtful = {one.refuge for one in endurance if one.at_least_us is not None}
    sooner = [one for one in as_doubted(endurance) if one.refuge in doubtful]
    return limits_s(sooner, people, at_us, n_draws)


def _lifts_of(setting: PlanSetting, persons: Ints, refuge: str) -> list[int]:
    return [n for n, one in enumerate(setting.lifts) if one.refuge == refuge and persons[n]]


def _last_left(left: Ints, carried: int, there: int) -> Ints:
    if carried < there or not len(left):
        return np.full(left.shape[1], NEVER)
    return np.asarray(left.max(axis=0))


def leaving_of(setting: PlanSetting, runs: Runs, persons: Ints) -> tuple[Leaving, ...]:
    """Return when people leave, draw by draw.

    In each draw the last lift of a refuge is left out: how long its people can last is what is
    asked.
    """
    found = []
    for refuge in dict.fromkeys(lift.refuge for lift in setting.lifts):
        mine = _lifts_of(setting, persons, refuge)
        if len(mine) < 2:
            continue
        left = runs.left_s[mine]
        stays = left.argmax(axis=0)
        for row, n in enumerate(mine):
            goes = (stays != row) & (left[row] < NEVER // 2)
            at_us = np.where(goes, setting.at_us + left[row] * US, NOT_REACHED_US)
            found.append(Leaving(at_us, refuge, int(persons[n])))
    return tuple(found)


def limits_s(
    endurance: Sequence[Endurance],
    people: Sequence[RefugePeople],
    at_us: int,
    n_draws: int,
    sooner: float = 0.0,
) -> dict[str, Ints]:
    """Return when the first of a refuge's levels is reached, seconds after now.

    ``NEVER`` in draws that reach none; a refuge of which no level is worked out is not in it.
    ``sooner`` shortens what is left by that share.
    """
    found: dict[str, Ints] = {}
    wanted = {place.refuge for place in people}
    for one in endurance:
        if one.refuge in wanted:
            before = found.get(one.refuge, np.full(n_draws, NEVER, dtype=np.int64))
            found[one.refuge] = np.minimum(before, level_s(one, at_us, n_draws, sooner))
    return found


def level_s(one: Endurance, at_us: int, n_draws: int, sooner: float = 0.0) -> Ints:
    """Return when a level is reached, seconds after now, shape (n_draws,)."""
    draws = np.resize(one.runs_out_us, n_draws)
    after = np.where(draws == NOT_REACHED_US, 0, draws - at_us) // US
    after = np.where(after > 0, np.rint(after * (1.0 - sooner)).astype(np.int64), after)
    return np.where(draws == NOT_REACHED_US, NEVER, after)
