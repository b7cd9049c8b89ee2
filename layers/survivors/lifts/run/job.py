"""The plan as numbers: what the simulation of the lifts works on, draw by draw."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Bools, Ints
from layers.earth.clock import to_us
from layers.survivors.air.endurance import AirCurves
from layers.survivors.lifts.check import fault
from layers.survivors.lifts.model import PHASES, Lift, Phase
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.draws import Uniforms
from layers.survivors.lifts.run.rooms import Doors
from layers.survivors.lifts.run.stays import Stays, stays_of
from layers.survivors.lifts.run.windows import NEVER, ClosedSpans
from layers.survivors.lifts.sorties.facts import LiftFact
from layers.survivors.lifts.sorties.learn import estimate_min
from layers.survivors.lifts.sorties.timed import (
    ENDS,
    PARTS,
    SORTIES,
    draw,
    rest_after_s,
    timed,
    whole,
)
from layers.survivors.lifts.take_over import loads_for
from layers.survivors.lifts.vehicle import Vehicle


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One plan, ready to run.

    Times are whole seconds after ``at_us``; arrays over lifts L, sorties S, draws D, vehicles
    V, chambers C.

    Parameters
    ----------
    vehicle, refuge, places, stay_s : ndarray, shape (L,)
        Who takes a lift, from where, the chamber places it needs without attendants where its
        people stay in one, and how long they stay there (0: not at all).
    stays : Stays or None
        How long in each draw, where that differs between them; then ``stay_s`` is the middle.
    offsets : mapping of str to ndarray, shape (L, S, D)
        Seconds after the dive at which each part ends (``PARTS``): off the deck, searching
        (arrived near the seat), people out of the refuge, off the seat, at the surface, on deck.
    planned : mapping of str to ndarray, shape (L,)
        The same at most likely times, which the watch plans by.
    rest_s : ndarray, shape (L, S, D)
        From on deck until the vehicle can dive again; unloading runs beside it.
    into_s : ndarray, shape (L, D)
        From on deck until its people are in the chamber, or off the vehicle.
    gives_up, lost : ndarray of bool, shape (L, S, D)
        The sortie comes back with nobody; its vehicle does not come back.
    riding, teams : ndarray, shape (V,)
        Attendants who come under pressure with the people; how many teams of them there are, 0
        where that is not told.
    forced_s : ndarray, shape (L,)
        When the vehicle went down, for a lift begun; ``NEVER`` for one that waits.
    ready_s : ndarray, shape (V, D)
        First time it can dive.
    base : ndarray, shape (L,)
        The lift of the plan that each stands for: itself, or the one it takes over where that
        one's vehicle is lost in a draw.
    over : mapping of (lift, vehicle) to tuple of int
        The lifts by which another vehicle takes one over; none where it cannot.
    """

    at_us: int
    lifts: tuple[Lift, ...]
    refuges: tuple[str, ...]
    chambers: tuple[str, ...]
    vehicle: Ints
    refuge: Ints
    places: Ints
    stay_s: Ints
    stays: Stays | None
    offsets: Mapping[str, Ints]
    planned: Mapping[str, Ints]
    rest_s: Ints
    into_s: Ints
    gives_up: np.ndarray
    lost: np.ndarray
    forced_s: Ints
    forced_chamber: Ints
    done: np.ndarray
    holds: np.ndarray  # at the surface until the sea lets it be recovered: shape (L,)
    ready_s: Ints
    crews: Ints
    crew_rest_s: Ints
    crews_out_s: Ints  # when the last crew was back, shape (V,); -NEVER when none was out
    riding: Ints
    teams: Ints
    doors: Doors
    free_at_return: bool
    recoverable_throughout: bool
    sea: ClosedSpans
    horizon_s: int
    base: Ints
    over: Mapping[tuple[int, int], tuple[int, ...]]

    @property
    def n_draws(self) -> int:
        """How many draws."""
        return int(self.ready_s.shape[1])

    def stay(self, lift: Ints, rows: Ints, left_s: Ints) -> tuple[Ints, Bools]:
        """Return how long people who leave then stay, and whether they can be brought out."""
        if self.stays is None:
            return self.stay_s[lift], np.ones(len(lift), dtype=bool)
        return self.stays.at(lift, rows, left_s)


def build_job(
    setting: PlanSetting,
    pressures: Mapping[str, float | None],
    ready_us: Mapping[str, Ints],
    sea: ClosedSpans,
    uniforms: Uniforms,
    curves: AirCurves | None = None,
) -> Job:
    """Return the plan as numbers.

    Parameters
    ----------
    setting : PlanSetting
        The plan, decisions put in.
    pressures : mapping of str to float
        By lift, the pressure its people come out of, bar absolute; None where not known.
    ready_us : mapping of str to ndarray of int64, shape (n_draws,)
        When each vehicle can first dive, UTC microseconds.
    sea : ClosedSpans
        What the sea forbids.
    uniforms : Uniforms
        The draws.
    curves : AirCurves, optional
        The pressure ahead in each draw, where it matters; without them that of ``pressures``.
    """
    planned = setting.lifts
    vehicles = setting.working()
    others, over = _taking_over(setting, pressures)
    lifts = (*planned, *(one for _, one in others))
    pressures = {**pressures, **{one.key: pressures.get(planned[n].key) for n, one in others}}
    names = [vehicle.name for vehicle in vehicles]
    refuges = tuple(dict.fromkeys(lift.refuge for lift in lifts))
    sorties = (SORTIES, uniforms.n_draws)
    made = [timed(lift, setting, uniforms) for lift in lifts]
    offsets = {
        part: _stacked([[one.offsets[part] for one in each] for each in made], sorties)
        for part in PARTS
    }
    stays = [_stay_s(setting, lift, pressures.get(lift.key)) for lift in lifts]
    forced = [_forced_s(setting, lift) for lift in lifts]
    chambers = tuple(chamber.name for chamber in setting.chambers)
    return Job(
        at_us=setting.at_us,
        lifts=lifts,
        refuges=refuges,
        chambers=chambers,
        vehicle=np.array([names.index(lift.vehicle) for lift in lifts], dtype=np.int64),
        refuge=np.array([refuges.index(lift.refuge) for lift in lifts], dtype=np.int64),
        places=np.array(
            [
                _places(lift, setting, curves is not None or s)
                for lift, s in zip(lifts, stays, strict=True)
            ],
            dtype=np.int64,
        ),
        stay_s=np.array(stays, dtype=np.int64),
        stays=None if curves is None else _stays(setting, lifts, curves),
        offsets=offsets,
        planned=_planned(setting, lifts),
        rest_s=_stacked([[one.rest for one in each] for each in made], sorties),
        into_s=_stacked(
            [
                whole(draw(uniforms, setting.vehicle(k.vehicle), k.key, 0, "into_chamber"))
                for k in lifts
            ],
            (uniforms.n_draws,),
        ),
        gives_up=_stacked([[one.gives_up for one in each] for each in made], sorties).astype(bool),
        lost=_stacked([[one.lost for one in each] for each in made], sorties).astype(bool),
        forced_s=np.array(forced, dtype=np.int64),
        forced_chamber=np.array(
            [_chamber_of(setting.facts.get(lift.key), chambers) for lift in lifts], dtype=np.int64
        ),
        done=np.array(
            [setting.begun(k.key) and setting.facts[k.key].done for k in lifts], dtype=bool
        ),
        holds=np.array([_holds(setting, lift) for lift in lifts], dtype=bool),
        ready_s=_stacked(
            [_ready_s(vehicle, setting, ready_us, uniforms) for vehicle in vehicles],
            (uniforms.n_draws,),
        ),
        crews=np.array([vehicle.crews for vehicle in vehicles], dtype=np.int64),
        crew_rest_s=np.array([round(v.crew_rest_h * 3600) for v in vehicles], dtype=np.int64),
        crews_out_s=np.array([_last_back_s(setting, name) for name in names], dtype=np.int64),
        riding=np.array([vehicle.attendants for vehicle in vehicles], dtype=np.int64),
        teams=np.array([vehicle.attendant_teams or 0 for vehicle in vehicles], dtype=np.int64),
        doors=_doors(setting),
        free_at_return=setting.limits.chamber_rule == "free at return",
        recoverable_throughout=setting.limits.recoverable_throughout,
        sea=sea,
        horizon_s=round(setting.limits.horizon_h * 3600),
        base=np.array([*range(len(planned)), *(n for n, _ in others)], dtype=np.int64),
        over=over,
    )


def _taking_over(
    setting: PlanSetting, pressures: Mapping[str, float | None]
) -> tuple[list[tuple[int, Lift]], dict[tuple[int, int], tuple[int, ...]]]:
    """Return the lifts by which others take over those of a vehicle that may be lost."""
    lifts, vehicles = setting.lifts, setting.working()
    found: list[tuple[int, Lift]] = []
    over: dict[tuple[int, int], tuple[int, ...]] = {}
    for n, lift in enumerate(lifts):
        if setting.begun(lift.key) or not setting.vehicle(lift.vehicle).loss_chance:
            continue
        for v, vehicle in enumerate(vehicles):
            if vehicle.name == lift.vehicle or setting.why_not(vehicle.name):
                continue
            parts = [
                lift.model_copy(
                    update={
                        "key": f"{lift.key} over {vehicle.name} {part}",
                        "vehicle": vehicle.name,
                        "walking": walking,
                        "stretcher": stretcher,
                    }
                )
                for part, (walking, stretcher) in enumerate(loads_for(lift, vehicle, setting))
            ]
            if any(fault(one, setting, pressures.get(lift.key), "") for one in parts):
                continue
            first = len(lifts) + len(found)
            over[n, v] = tuple(range(first, first + len(parts)))
            found += [(n, one) for one in parts]
    return found, over


def _planned(setting: PlanSetting, lifts: Sequence[Lift]) -> dict[str, Ints]:
    """Return seconds from the dive to each part's end at its most likely length."""
    made = [
        np.cumsum([estimate_min(setting.vehicle(k.vehicle), k, p, setting.depth_m) for p in PHASES])
        for k in lifts
    ]
    ends = whole(60.0 * np.array(made).reshape(len(lifts), len(PHASES)))
    launch = [60.0 * setting.vehicle(k.vehicle).launch.likely for k in lifts]
    found = {ENDS[phase]: ends[:, n] for n, phase in enumerate(PHASES) if phase in ENDS}
    return {"launched": whole(np.array(launch)), **found}


def _doors(setting: PlanSetting) -> Doors:
    chambers = setting.chambers
    free = [
        (to_us(c.available_at) - setting.at_us) // 1_000_000 if c.available_at else -NEVER
        for c in chambers
    ]
    return Doors(
        places=np.array([c.places - c.attendants for c in chambers], dtype=np.int64),
        attendants=np.array([c.attendants for c in chambers], dtype=np.int64),
        free_s=np.array(free, dtype=np.int64),
        make_ready_s=np.array([round(c.make_ready_min * 60) for c in chambers], dtype=np.int64),
    )


def _stacked(rows: Sequence[object], shape: tuple[int, ...]) -> Ints:
    """Return rows as one array, of no rows where there are none."""
    return np.array(rows) if rows else np.zeros((0, *shape), dtype=np.int64)


def _stay_s(setting: PlanSetting, lift: Lift, pressure: float | None) -> int:
    if setting.schedule is None or pressure is None:
        return 0
    if setting.begun(lift.key):
        return round(setting.schedule.nearest(pressure).hours * 3600)
    return setting.schedule.stay_s(pressure)


def _stays(setting: PlanSetting, lifts: Sequence[Lift], curves: AirCurves) -> Stays:
    return stays_of(
        curves,
        tuple(lift.refuge for lift in lifts),
        np.array([setting.vehicle(k.vehicle).max_pressure_bar_abs for k in lifts]),
        setting.schedule,
    )


def _places(lift: Lift, setting: PlanSetting, stays: int | bool) -> int:
    if not stays:
        return 0
    most = max((chamber.stretcher_places for chamber in setting.chambers), default=1)
    return lift.walking + lift.stretcher * most


def _forced_s(setting: PlanSetting, lift: Lift) -> int:
    if not setting.begun(lift.key):
        return NEVER
    began = setting.facts[lift.key].began_us
    return (began.get(Phase.DOWN, min(began.values())) - setting.at_us) // 1_000_000


def _holds(setting: PlanSetting, lift: Lift) -> bool:
    """Whether a vehicle under way may still have to wait at the surface to be recovered."""
    fact = setting.facts.get(lift.key)
    return fact is not None and fact.under_way and Phase.RECOVER not in fact.began_us


def _chamber_of(fact: LiftFact | None, names: Sequence[str]) -> int:
    return names.index(fact.chamber) if fact and fact.chamber in names else -1


def _given_up(setting: PlanSetting, vehicle: str) -> LiftFact | None:
    """Return the last sortie of a vehicle that came back with nobody."""
    mine = [f for f in setting.facts.values() if f.vehicle == vehicle and f.phase is Phase.GIVEN_UP]
    return max(mine, key=lambda fact: fact.began_us[Phase.GIVEN_UP], default=None)


def _last_back_s(setting: PlanSetting, vehicle: str) -> int:
    fact = _given_up(setting, vehicle)
    if fact is None:
        return -NEVER
    return (fact.began_us[Phase.GIVEN_UP] - setting.at_us) // 1_000_000


def _ready_s(
    vehicle: Vehicle, setting: PlanSetting, ready_us: Mapping[str, Ints], uniforms: Uniforms
) -> Ints:
    ready = (ready_us[vehicle.name] - setting.at_us) // 1_000_000
    fact = _given_up(setting, vehicle.name)
    if fact is None:
        return np.maximum(ready, 0)
    rest = rest_after_s(fact, setting, uniforms)
    return np.maximum(ready, _last_back_s(setting, vehicle.name) + rest)
