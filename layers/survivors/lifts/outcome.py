"""What a plan comes to: who is out before the air ends, draw by draw."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np

from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.values import Floats, ForwardPortValue, Ints, SeaSeries
from layers.survivors.air.endurance import NOT_REACHED_US, Endurance, RefugePeople
from layers.survivors.lifts.draws import Uniforms
from layers.survivors.lifts.job import Job, build_job
from layers.survivors.lifts.model import Phase, Vehicle
from layers.survivors.lifts.plan import Setting
from layers.survivors.lifts.simulate import Runs, simulate
from layers.survivors.lifts.spread import margin_h
from layers.survivors.lifts.windows import NEVER, Sea, sea_spans

US = 1_000_000
LEAVING_GRAIN_US = 600 * US  # two plans whose people leave within it share a run of the air
BEFORE_HATCH_SHUT = (Phase.DOWN, Phase.SEARCH, Phase.MATE, Phase.TRANSFER)


@dataclass(frozen=True, slots=True, order=True)
class Leaving:
    """People expected to leave a refuge at a time, so that the air of the rest lasts longer."""

    at_us: int
    refuge: str
    persons: int


class AirModel(Protocol):
    """The air of the refuges run again: other stores, other people leaving, same draws."""

    def __call__(
        self, *, n_draws: int, pods: bool, leaving: tuple[Leaving, ...]
    ) -> tuple[Endurance, ...]:
        """Return when each level is reached, with ``pods`` planned ones counted as taken in."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A case of weather and flooding to try plans against.

    ``later_s`` and ``higher_m`` shift the sea; ``sooner`` shortens what is left of every
    endurance by that share (flooding or leaks worse than thought).
    """

    title: str
    later_s: int = 0
    higher_m: float = 0.0
    sooner: float = 0.0


AS_EXPECTED = Case(title="as expected")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What stays the same whatever is decided: people, draws, sea, response, air.

    ``waves`` has shape (n_draws, n) over the times of ``series``, which is carried on beyond
    ``forecast_ends_us``.
    """

    people: tuple[RefugePeople, ...]
    uniforms: Uniforms
    series: SeaSeries | None
    waves: Floats | None
    response: ForwardPortValue | None
    air: AirModel
    forecast_ends_us: int | None = None
    held: dict[tuple[object, ...], tuple[Endurance, ...]] = field(default_factory=dict)
    seas: dict[tuple[object, ...], Sea] = field(default_factory=dict)

    @property
    def n_draws(self) -> int:
        """How many draws of everything."""
        return self.uniforms.n_draws

    def pressures(self) -> dict[str, float | None]:
        """Return the pressure in each refuge, bar absolute."""
        return {place.refuge: place.pressure_bar_abs for place in self.people}

    def sea(self, setting: Setting, case: Case) -> Sea:
        """Return what the sea forbids under a plan's limits, worked out once for each."""
        limits = setting.limits
        key = (
            limits.launch_hs_m,
            limits.recovery_hs_m,
            limits.through_water_kn,
            limits.mating_kn,
            limits.daylight_only,
            case.later_s,
            case.higher_m,
        )
        if key not in self.seas:
            self.seas[key] = sea_spans(
                self.series, self.waves, limits, setting.at_us, case.later_s, case.higher_m
            )
        return self.seas[key]

    def endurance(self, pods: bool, leaving: tuple[Leaving, ...]) -> tuple[Endurance, ...]:
        """Return the endurance, each variant run once."""
        key = (pods, leaving)
        if key not in self.held:
            self.held[key] = self.air(n_draws=self.n_draws, pods=pods, leaving=leaving)
        return self.held[key]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What one plan comes to.

    Parameters
    ----------
    runs : Runs
        When each lift runs.
    persons : ndarray, shape (L,)
        Whom each lift brings of those still in the refuges; 0 for a lift already out.
    endurance : tuple of Endurance
        With the people leaving as the plan has them.
    last_left_s, limit_s : mapping of refuge to ndarray, shape (n_draws,)
        When the last is out of it, and when its first level is reached, seconds after now.
    out_in_time : ndarray, shape (n_draws,)
        Persons out of their refuge before its first level, of those who wait now.
    worst_margin_h : ndarray, shape (n_draws,)
        The smallest margin of the refuges; minus infinity where somebody never gets out.
    """

    setting: Setting
    runs: Runs
    persons: Ints
    endurance: tuple[Endurance, ...]
    pressures: Mapping[str, float | None]
    last_left_s: Mapping[str, Ints]
    limit_s: Mapping[str, Ints]
    out_in_time: Floats
    worst_margin_h: Floats


def evaluate(
    setting: Setting,
    ground: Ground,
    case: Case = AS_EXPECTED,
    delay_s: int = 0,
    endurance: tuple[Endurance, ...] | None = None,
) -> Outcome:
    """Return what a plan comes to on the ground's draws.

    Parameters
    ----------
    setting : Setting
        The plan, decisions put in.
    ground : Ground
        What stays the same.
    case : Case
        Weather and flooding.
    delay_s : int
        Every vehicle so much later.
    endurance : tuple of Endurance, optional
        Keeps the air as in another run, where only a small change is tried.

    Notes
    -----
    The air of those who wait depends on when the others leave: the plan is run, then the air
    with people leaving at the median times of the lifts, the last lift's staying on.
    """
    runs = simulate(job_of(setting, ground, case, delay_s))
    return judge(setting, ground, runs, endurance, case)


def job_of(setting: Setting, ground: Ground, case: Case = AS_EXPECTED, delay_s: int = 0) -> Job:
    """Return the plan as numbers on the ground's draws."""
    ready = {
        vehicle.name: ready_draws(vehicle, setting, ground) + delay_s * US
        for vehicle in setting.vehicles
    }
    sea = ground.sea(setting, case)
    return build_job(setting, ground.pressures(), ready, sea, ground.uniforms)


def judge(
    setting: Setting,
    ground: Ground,
    runs: Runs,
    endurance: tuple[Endurance, ...] | None = None,
    case: Case = AS_EXPECTED,
) -> Outcome:
    """Return what lifts that were run come to, against the air."""
    persons = persons_of(setting, ground.people)
    if endurance is None:
        endurance = ground.endurance(setting.pods, leaving_of(setting, runs, persons))
    limit = limits_s(endurance, ground.people, setting.at_us, ground.n_draws, case.sooner)
    return _outcome(setting, ground, runs, persons, endurance, limit)


def _outcome(
    setting: Setting,
    ground: Ground,
    runs: Runs,
    persons: Ints,
    endurance: tuple[Endurance, ...],
    limit: Mapping[str, Ints],
) -> Outcome:
    last, out = {}, np.zeros(ground.n_draws)
    worst = np.full(ground.n_draws, np.inf)
    for place in ground.people:
        if not place.persons:
            continue
        mine = [
            n for n, one in enumerate(setting.lifts) if one.refuge == place.refuge and persons[n]
        ]
        left = runs.left_s[mine]
        last[place.refuge] = _last_left(left, int(persons[mine].sum()), place.persons)
        in_time = left <= limit[place.refuge][None, :]
        out += persons[mine] @ in_time if mine else 0.0
        worst = np.minimum(worst, margin_h(last[place.refuge], limit[place.refuge]))
    return Outcome(
        setting=setting,
        runs=runs,
        persons=persons,
        endurance=endurance,
        pressures=ground.pressures(),
        last_left_s=last,
        limit_s=limit,
        out_in_time=out,
        worst_margin_h=worst,
    )


def _last_left(left: Ints, carried: int, there: int) -> Ints:
    if carried < there or not len(left):
        return np.full(left.shape[1], NEVER)
    return np.asarray(left.max(axis=0))


def ready_draws(vehicle: Vehicle, setting: Setting, ground: Ground) -> Ints:
    """Return when a vehicle can first dive, UTC microseconds, shape (n_draws,).

    From its sorties once it has dived, else from the response chain when it follows that, else
    from its own entry.

    Raises
    ------
    InputError
        Nothing says when.
    """
    n = ground.n_draws
    if any(fact.vehicle == vehicle.name for fact in setting.facts.values()):
        return np.full(n, setting.at_us, dtype=np.int64)
    options = ground.response.options if ground.response and vehicle.follows_chain else ()
    for option in options:
        if option.key == setting.response or (setting.response is None and option.chosen):
            return np.resize(option.ready_us, n)
    own = not vehicle.follows_chain or setting.response is None
    if vehicle.ready_at is not None and own:
        u = ground.uniforms.take(f"{vehicle.name} ready")
        spread_us = vehicle.ready_spread_h * 3.6e9
        return np.asarray(to_us(vehicle.ready_at) + np.rint((u - 0.5) * spread_us).astype(np.int64))
    wanted = f"port and ship combination {setting.response!r}" if setting.response else "choice"
    raise InputError(
        f"nothing says when {vehicle.name} can first dive: no {wanted} is known of the response",
        where="lift plan",
        accepted="a chosen port and ship combination, or the vehicle's own ready_at",
    )


def persons_of(setting: Setting, people: Sequence[RefugePeople]) -> Ints:
    """Return whom each lift brings of those booked in the refuges now, shape (L,).

    In the plan's order; a lift whose hatch is shut brings nobody more, and nobody is counted
    twice when the lifts have more room than people.
    """
    left = {place.refuge: place.persons for place in people}
    found = []
    for lift in setting.lifts:
        fact = setting.facts.get(lift.key)
        begun = fact is not None and setting.begun(lift.key)
        if begun and fact is not None and fact.phase not in BEFORE_HATCH_SHUT:
            found.append(0)
            continue
        takes = min(lift.walking + lift.stretcher, left.get(lift.refuge, 0))
        left[lift.refuge] = left.get(lift.refuge, 0) - takes
        found.append(takes)
    return np.array(found, dtype=np.int64)


def leaving_of(setting: Setting, runs: Runs, persons: Ints) -> tuple[Leaving, ...]:
    """Return when people are expected to leave: the median of each lift, to ten minutes.

    The last lift of a refuge is left out: how long its people can last is what is asked.
    """
    found = []
    draws = runs.left_s.shape[1]
    for refuge in dict.fromkeys(lift.refuge for lift in setting.lifts):
        mine = [n for n, one in enumerate(setting.lifts) if one.refuge == refuge and persons[n]]
        middles = [int(np.partition(runs.left_s[n], draws // 2)[draws // 2]) for n in mine]
        for place in sorted(range(len(mine)), key=middles.__getitem__)[:-1]:
            if middles[place] < NEVER // 2:
                at_us = setting.at_us + middles[place] * US
                at_us -= at_us % LEAVING_GRAIN_US
                found.append(Leaving(at_us, refuge, int(persons[mine[place]])))
    return tuple(sorted(found))


def limits_s(
    endurance: Sequence[Endurance],
    people: Sequence[RefugePeople],
    at_us: int,
    n_draws: int,
    sooner: float = 0.0,
) -> dict[str, Ints]:
    """Return when the first of a refuge's levels is reached, seconds after now; ``NEVER`` if none.

    ``sooner`` shortens what is left by that share.
    """
    found = {place.refuge: np.full(n_draws, NEVER, dtype=np.int64) for place in people}
    for one in endurance:
        if one.refuge in found:
            found[one.refuge] = np.minimum(found[one.refuge], level_s(one, at_us, n_draws, sooner))
    return found


def level_s(one: Endurance, at_us: int, n_draws: int, sooner: float = 0.0) -> Ints:
    """Return when a level is reached, seconds after now, shape (n_draws,)."""
    draws = np.resize(one.runs_out_us, n_draws)
    after = np.where(draws == NOT_REACHED_US, 0, draws - at_us) // US
    after = np.where(after > 0, np.rint(after * (1.0 - sooner)).astype(np.int64), after)
    return np.where(draws == NOT_REACHED_US, NEVER, after)


def fewer(ground: Ground, n_draws: int) -> Ground:
    """Return the ground with its first draws only: draw i stays draw i."""
    if n_draws >= ground.n_draws:
        return ground
    waves = None if ground.waves is None else ground.waves[:n_draws]
    return replace(
        ground,
        uniforms=Uniforms(n_draws, ground.uniforms.seed),
        waves=waves,
        held={},
        seas={},
    )
