"""The margin: hours between when people must be out and when they will be.

People count as out of a refuge when the vehicle's hatch is shut behind the last of them; on deck
they are later by the time up and the recovery.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from layers.contract import Moment, Others
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.values import DatumValue, Floats, ForwardPortValue, Ints, WeatherValue
from layers.journal.known import Known
from layers.survivors.air.endurance import Endurance, RefugePeople
from layers.survivors.chambers.chamber import occupancy, people_of
from layers.survivors.decisions.choices import weigh
from layers.survivors.lifts.check import remarks
from layers.survivors.lifts.draws import Uniforms
from layers.survivors.lifts.energy import ballast_kg
from layers.survivors.lifts.margin_model import (
    Clocks,
    LevelOutlook,
    LiftOutlook,
    Outlook,
    RefugeOutlook,
)
from layers.survivors.lifts.model import Lift, seats_wanted
from layers.survivors.lifts.outcome import (
    US,
    AirModel,
    Ground,
    Outcome,
    evaluate,
    level_s,
)
from layers.survivors.lifts.plan import Setting, as_chosen, read_setting
from layers.survivors.lifts.sortie import sorties
from layers.survivors.lifts.spread import Spread3, hours_spread, margin_h, quantile, spread3
from layers.survivors.lifts.windows import NEVER, extended, wave_draws

DRAWS = 10_000
SEED = 20270316
CLOCK_STEPS = 240


def outlook(
    known: Known,
    others: Others,
    moment: Moment,
    people: Sequence[RefugePeople],
    air: AirModel,
    *,
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
    n_draws, seed : int
        Of everything; part of the result.
    decision_draws : int, optional
        The first so many draws are used to compare decisions.

    Notes
    -----
    Never raises `InputError` for a plan that is missing or cannot run: the muster and the air
    stand without it, and ``unavailable`` says what would fill the place.
    """
    at_us = to_us(moment.at)
    try:
        recorded = read_setting(known, moment, _depth_m(others))
        until_us = at_us + round(recorded.limits.horizon_h * 3.6e9)
        ground = ground_of(others, people, air, n_draws, seed, until_us)
        return _whole(known, moment, recorded, ground, decision_draws)
    except InputError as reason:
        return Outlook(at_us=at_us, unavailable=str(reason))


def ground_of(
    others: Others,
    people: Sequence[RefugePeople],
    air: AirModel,
    n_draws: int,
    seed: int,
    until_us: int,
) -> Ground:
    """Return what stays the same whatever is decided, the sea carried on until a time."""
    weather, response = others.get("weather"), others.get("forward_port")
    series = weather.series_at_datum if isinstance(weather, WeatherValue) else None
    if series is not None and not np.isfinite(series.hs_m).any():
        series = None
    uniforms = Uniforms(n_draws, seed)
    carried = None if series is None else extended(series, until_us)
    return Ground(
        people=tuple(people),
        uniforms=uniforms,
        series=carried,
        waves=None if carried is None else wave_draws(carried, uniforms),
        response=response if isinstance(response, ForwardPortValue) else None,
        air=air,
        forecast_ends_us=None if series is None else int(series.at_us[-1]),
    )


def _depth_m(others: Others) -> float | None:
    datum = others.get("datum")
    return datum.depth_m if isinstance(datum, DatumValue) else None


def _whole(
    known: Known,
    moment: Moment,
    recorded: Setting,
    ground: Ground,
    decision_draws: int | None,
) -> Outlook:
    setting = as_chosen(recorded)
    outcome = evaluate(setting, ground)
    lifts = tuple(_lift(outcome, n, ground) for n in range(len(setting.lifts)))
    waiting = [place for place in ground.people if place.persons]
    said = list(remarks(setting, ground.people, ground.pressures()))
    if ground.series is None:
        said.append("No forecast of the sea is known: no wave, current or night is counted.")
    return Outlook(
        at_us=setting.at_us,
        refuges=tuple(_refuge(outcome, place) for place in waiting),
        lifts=lifts,
        held=tuple(_held(setting, lift) for lift in setting.held),
        clocks=_clocks(outcome, waiting),
        out_in_time=spread3(outcome.out_in_time),
        expected_out=float(outcome.out_in_time.mean()),
        chambers=occupancy(outcome),
        decisions=weigh(recorded, ground, decision_draws),
        sorties=sorties(known, moment, setting, ground.series),
        setting=setting,
        remarks=tuple(said),
        draws=ground.n_draws,
        seed=ground.uniforms.seed,
        rests_on=setting.rests_on,
    )


def _refuge(outcome: Outcome, place: RefugePeople) -> RefugeOutlook:
    last, limit = outcome.last_left_s[place.refuge], outcome.limit_s[place.refuge]
    mine = [one for one in outcome.endurance if one.refuge == place.refuge]
    margins = margin_h(last, limit)
    numbers = _lifts_of(outcome, place.refuge)
    back = outcome.runs.back_s[numbers].max(axis=0) if numbers else last
    return RefugeOutlook(
        refuge=place.refuge,
        persons=place.persons,
        stretcher=place.stretcher,
        pressure_bar_abs=place.pressure_bar_abs,
        levels=tuple(_level(outcome, one, last, numbers) for one in mine),
        binding=_binding(mine, limit, outcome.setting.at_us),
        runs_out_h=hours_spread(limit),
        last_left_h=hours_spread(last),
        last_on_deck_h=hours_spread(np.where(last >= NEVER // 2, NEVER, back)),
        margin_h=spread3(margins),
        chance=float((margins >= 0).mean()),
        out_in_time=_in_time(outcome, numbers, limit),
    )


def _lifts_of(outcome: Outcome, refuge: str) -> list[int]:
    lifts = enumerate(outcome.setting.lifts)
    return [n for n, lift in lifts if lift.refuge == refuge and outcome.persons[n]]


def _in_time(outcome: Outcome, numbers: list[int], limit: Ints) -> float:
    if not numbers:
        return 0.0
    in_time = outcome.runs.left_s[numbers] <= limit[None, :]
    return float((outcome.persons[numbers] @ in_time).mean())


def _level(outcome: Outcome, one: Endurance, last: Ints, numbers: list[int]) -> LevelOutlook:
    reached = level_s(one, outcome.setting.at_us, len(last))
    margins = margin_h(last, reached)
    return LevelOutlook(
        level=one.level,
        source=one.source,
        runs_out_h=hours_spread(reached),
        margin_h=spread3(margins),
        chance=float((margins >= 0).mean()),
        out_in_time=_in_time(outcome, numbers, reached),
    )


def _binding(mine: list[Endurance], limit: Ints, at_us: int) -> str:
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
    return LiftOutlook(
        **_who(setting, lift, people_of(outcome, n)),
        state=fact.phase.value if fact and setting.begun(lift.key) else "waiting",
        dive_h=hours_spread(start),
        left_h=hours_spread(runs.left_s[n]),
        back_h=hours_spread(runs.back_s[n]),
        chamber=setting.chambers[room].name if room >= 0 else "",
        chamber_until_h=hours_spread(runs.chamber_out_s[n][in_room]) if room >= 0 else None,
        runs=float(ran.mean()),
        beyond_forecast=float((ran & (start > _forecast_s(ground, setting.at_us))).mean()),
    )


def _forecast_s(ground: Ground, at_us: int) -> int:
    """Return where the forecast of the sea ends, seconds after now; ``NEVER`` without one."""
    ends = ground.forecast_ends_us
    return NEVER if ends is None else (ends - at_us) // US


def _held(setting: Setting, lift: Lift) -> LiftOutlook:
    never = Spread3(p10=math.inf, p50=math.inf, p90=math.inf)
    return LiftOutlook(
        **_who(setting, lift, lift.walking + lift.stretcher),
        state="held",
        dive_h=never,
        left_h=never,
        back_h=never,
        chamber="",
        chamber_until_h=None,
        runs=0.0,
        beyond_forecast=0.0,
    )


def _who(setting: Setting, lift: Lift, people: int) -> dict[str, Any]:
    vehicle = setting.vehicle(lift.vehicle)
    fact = setting.facts.get(lift.key)
    told = fact is not None and fact.walking is not None
    walking = fact.walking if fact and told else lift.walking
    stretcher = people - (walking or 0) if told else lift.stretcher
    return {
        "key": lift.key,
        "vehicle": lift.vehicle,
        "refuge": lift.refuge,
        "walking": walking,
        "stretcher": stretcher,
        "seats": seats_wanted(walking or 0, stretcher, vehicle),
        "ballast_kg": ballast_kg(vehicle, walking or 0, stretcher),
    }


def _clocks(outcome: Outcome, waiting: Sequence[RefugePeople]) -> Clocks | None:
    ends = [
        value
        for place in waiting
        for times in (outcome.last_left_s[place.refuge], outcome.limit_s[place.refuge])
        if math.isfinite(value := hours_spread(times).p90)
    ]
    if not waiting:
        return None
    horizon_s = max(*ends, 6.0, 0.0) * 1.1 * 3600 if ends else 72 * 3600.0
    grid = np.linspace(0.0, horizon_s, CLOCK_STEPS).astype(np.int64)
    lasting = np.zeros((len(waiting), len(grid)))
    out = np.zeros((len(waiting), 3, len(grid)))
    for row, place in enumerate(waiting):
        limit = np.sort(outcome.limit_s[place.refuge])
        lasting[row] = 1.0 - np.searchsorted(limit, grid, side="right") / len(limit)
        out[row] = _out_by(outcome, _lifts_of(outcome, place.refuge), grid)
    return Clocks(
        at_us=outcome.setting.at_us + grid * US,
        refuges=tuple(place.refuge for place in waiting),
        persons=tuple(place.persons for place in waiting),
        lasting=lasting,
        out=out,
    )


def _out_by(outcome: Outcome, numbers: list[int], grid: Ints) -> Floats:
    """Return persons out of a refuge by each time: P10, P50, P90, shape (3, n).

    Lifts of one refuge leave one after another, so that the k-th person's time has quantiles
    of its own; the count is read off those.
    """
    found = np.zeros((3, len(grid)))
    if not numbers:
        return found
    left = outcome.runs.left_s[numbers]
    persons = outcome.persons[numbers]
    for row, share in enumerate((0.9, 0.5, 0.1)):  # late times make few persons
        for lift, count in zip(left, persons, strict=True):
            found[row] += count * (grid >= quantile(lift.astype(np.float64), share))
    return found
