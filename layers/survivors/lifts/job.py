"""The plan as numbers: what the simulation of the lifts works on, draw by draw."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from layers.earth.clock import to_us
from layers.earth.values import Floats, Ints
from layers.survivors.lifts.draws import Uniforms, seconds, tries
from layers.survivors.lifts.energy import transit_min
from layers.survivors.lifts.facts import LiftFact
from layers.survivors.lifts.model import PHASES, Lift, Phase, Vehicle
from layers.survivors.lifts.plan import Setting
from layers.survivors.lifts.told_vehicle import shared
from layers.survivors.lifts.windows import NEVER, Sea

SORTIES = 2  # a lift whose mating fails is tried once more; the second is taken to succeed
PARTS = ("launched", "at_seat", "left", "away", "at_surface", "back")


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One plan, ready to run.

    Times are whole seconds after ``at_us``; arrays over lifts L, sorties S, draws D, vehicles
    V, chambers C.

    Parameters
    ----------
    vehicle, refuge, places, stay_s : ndarray, shape (L,)
        Who takes a lift, from where, the chamber places it needs without attendants (0: none)
        and how long they stay there.
    offsets : mapping of str to ndarray, shape (L, S, D)
        Seconds after the dive at which each part ends (``PARTS``): off the deck, searching
        (arrived near the seat), people out of the refuge, off the seat, at the surface, on deck.
    rest_s : ndarray, shape (L, S, D)
        From on deck until the vehicle can dive again.
    into_s : ndarray, shape (L, D)
        From on deck until its people are in the chamber.
    gives_up : ndarray of bool, shape (L, D)
        The first sortie comes back with nobody.
    forced_s : ndarray, shape (L,)
        When the vehicle went down, for a lift begun; ``NEVER`` for one that waits.
    ready_s : ndarray, shape (V, D)
        First time it can dive.
    """

    at_us: int
    lifts: tuple[Lift, ...]
    refuges: tuple[str, ...]
    chambers: tuple[str, ...]
    vehicle: Ints
    refuge: Ints
    places: Ints
    stay_s: Ints
    offsets: Mapping[str, Ints]
    rest_s: Ints
    into_s: Ints
    gives_up: np.ndarray
    forced_s: Ints
    forced_chamber: Ints
    done: np.ndarray
    holds: np.ndarray  # at the surface until the sea lets it be recovered: shape (L,)
    ready_s: Ints
    crews: Ints
    crew_rest_s: Ints
    crews_out_s: Ints  # when the last crew was back, shape (V,); -NEVER when none was out
    chamber_places: Ints
    chamber_free_s: Ints
    make_ready_s: Ints
    free_at_return: bool
    recoverable_throughout: bool
    sea: Sea
    horizon_s: int

    @property
    def n_draws(self) -> int:
        """How many draws."""
        return int(self.ready_s.shape[1])


def build_job(
    setting: Setting,
    pressures: Mapping[str, float | None],
    ready_us: Mapping[str, Ints],
    sea: Sea,
    uniforms: Uniforms,
) -> Job:
    """Return the plan as numbers.

    Parameters
    ----------
    setting : Setting
        The plan, decisions put in.
    pressures : mapping of str to float
        By lift, the pressure its people come out of, bar absolute; None where not known.
    ready_us : mapping of str to ndarray of int64, shape (n_draws,)
        When each vehicle can first dive, UTC microseconds.
    sea : Sea
        What the sea forbids.
    uniforms : Uniforms
        The draws.
    """
    lifts = setting.lifts
    vehicles = setting.working()
    names = [vehicle.name for vehicle in vehicles]
    refuges = tuple(dict.fromkeys(lift.refuge for lift in lifts))
    timed = [_timed(lift, setting, uniforms) for lift in lifts]
    stays = [_stay_s(setting, lift, pressures.get(lift.key)) for lift in lifts]
    forced = [_forced_s(setting, lift) for lift in lifts]
    chambers = tuple(chamber.name for chamber in setting.chambers)
    sorties = (SORTIES, uniforms.n_draws)
    return Job(
        at_us=setting.at_us,
        lifts=lifts,
        refuges=refuges,
        chambers=chambers,
        vehicle=np.array([names.index(lift.vehicle) for lift in lifts], dtype=np.int64),
        refuge=np.array([refuges.index(lift.refuge) for lift in lifts], dtype=np.int64),
        places=np.array(
            [_places(lift, setting, s) for lift, s in zip(lifts, stays, strict=True)],
            dtype=np.int64,
        ),
        stay_s=np.array(stays, dtype=np.int64),
        offsets={
            part: _stacked([[one.offsets[part] for one in both] for both in timed], sorties)
            for part in PARTS
        },
        rest_s=_stacked([[one.rest for one in both] for both in timed], sorties),
        into_s=_stacked(
            [
                _whole(_draw(uniforms, setting.vehicle(k.vehicle), k, 0, "into_chamber"))
                for k in lifts
            ],
            (uniforms.n_draws,),
        ),
        gives_up=_stacked([both[0].gives_up for both in timed], (uniforms.n_draws,)).astype(bool),
        forced_s=np.array(forced, dtype=np.int64),
        forced_chamber=np.array(
            [_chamber_of(setting.facts.get(lift.key), chambers) for lift in lifts], dtype=np.int64
        ),
        done=np.array(
            [setting.begun(k.key) and setting.facts[k.key].done for k in lifts], dtype=bool
        ),
        holds=np.array([_holds(setting, lift) for lift in lifts], dtype=bool),
        ready_s=_stacked(
            [_ready_s(vehicle, setting, ready_us) for vehicle in vehicles], (uniforms.n_draws,)
        ),
        crews=np.array([vehicle.crews for vehicle in vehicles], dtype=np.int64),
        crew_rest_s=np.array([round(v.crew_rest_h * 3600) for v in vehicles], dtype=np.int64),
        crews_out_s=np.array([_last_back_s(setting, name) for name in names], dtype=np.int64),
        chamber_places=np.array(
            [c.places - c.attendants for c in setting.chambers], dtype=np.int64
        ),
        chamber_free_s=np.array(
            [
                (to_us(c.available_at) - setting.at_us) // 1_000_000 if c.available_at else -NEVER
                for c in setting.chambers
            ],
            dtype=np.int64,
        ),
        make_ready_s=np.array(
            [round(c.make_ready_min * 60) for c in setting.chambers], dtype=np.int64
        ),
        free_at_return=setting.limits.chamber_rule == "free at return",
        recoverable_throughout=setting.limits.recoverable_throughout,
        sea=sea,
        horizon_s=round(setting.limits.horizon_h * 3600),
    )


def _stacked(rows: Sequence[object], shape: tuple[int, ...]) -> Ints:
    """Return rows as one array, of no rows where there are none."""
    return np.array(rows) if rows else np.zeros((0, *shape), dtype=np.int64)


@dataclass(frozen=True, slots=True)
class _Timed:
    offsets: dict[str, Ints]
    rest: Ints
    gives_up: np.ndarray
    search: Ints
    mate: Ints
    transfer: Ints


def _timed(lift: Lift, setting: Setting, uniforms: Uniforms) -> list[_Timed]:
    vehicle = setting.vehicle(lift.vehicle)
    both = [_sortie(lift, vehicle, setting, uniforms, n) for n in range(SORTIES)]
    fact = setting.facts.get(lift.key)
    if fact is not None and setting.begun(lift.key):
        both[0] = _conditioned(both[0], fact, setting.at_us)
    return both


def _sortie(
    lift: Lift, vehicle: Vehicle, setting: Setting, uniforms: Uniforms, number: int
) -> _Timed:
    """Return the draws of one sortie, every part in whole seconds; worked out once."""
    key = (vehicle, lift.key, lift.walking, lift.stretcher, setting.depth_m, number)
    if key not in uniforms.kept:
        uniforms.kept[key] = _drawn_sortie(lift, vehicle, setting.depth_m, uniforms, number)
    kept: _Timed = uniforms.kept[key]
    return kept


def _drawn_sortie(
    lift: Lift, vehicle: Vehicle, depth_m: float, uniforms: Uniforms, number: int
) -> _Timed:
    def drawn(part: str) -> Ints:
        return _whole(_draw(uniforms, vehicle, lift, number, part))

    down_min, up_min = transit_min(vehicle, depth_m)
    launch, search, mate = drawn("launch"), drawn("search"), drawn("mate")
    transfer = _whole(
        lift.walking * _draw(uniforms, vehicle, lift, number, "transfer_walking")
        + lift.stretcher * _draw(uniforms, vehicle, lift, number, "transfer_stretcher")
    )
    away, recover = drawn("away"), drawn("recover")
    down, up = round(down_min * 60), round(up_min * 60)
    wanted = tries(
        uniforms.take(f"{vehicle.name} {lift.key} {number} matings"), vehicle.failed_mating_chance
    )
    allowed = _matings_allowed(
        vehicle, launch + down + up + recover, search + mate, transfer + away
    )
    gives_up = (wanted > allowed) & (number == 0)
    matings = np.minimum(wanted, allowed)
    launched = launch
    at_seat = launched + down
    mated = at_seat + matings * (search + mate)
    left = mated + np.where(gives_up, 0, transfer)
    off = left + np.where(gives_up, 0, away)
    surface = off + up
    back = surface + recover
    moving, seated = launch + down + up + recover, off - at_seat
    used_kwh = (moving * vehicle.transit_kw + seated * vehicle.seat_kw) / 3600.0
    charge = _whole(used_kwh / vehicle.charge_kw * 3600.0)
    fails = uniforms.take(f"{vehicle.name} {lift.key} {number} fails") < vehicle.failure_chance
    rest = np.maximum(drawn("turn_round"), charge) + np.where(fails, drawn("repair"), 0)
    ends = (launched, at_seat, left, off, surface, back)
    return _Timed(
        offsets=dict(zip(PARTS, ends, strict=True)),
        rest=rest,
        gives_up=gives_up,
        search=search,
        mate=mate,
        transfer=transfer,
    )


def _matings_allowed(vehicle: Vehicle, moving: Ints, mating: Ints, seated: Ints) -> Ints:
    """Return how many attempts the battery allows above the reserve, at least one."""
    above = (vehicle.battery_kwh - vehicle.reserve_kwh) * 3600.0
    left = above - moving * vehicle.transit_kw - seated * vehicle.seat_kw
    each = np.maximum(mating * vehicle.seat_kw, 1.0)
    return np.asarray(np.maximum(left // each, 1.0).astype(np.int64))


def _conditioned(drawn: _Timed, fact: LiftFact, at_us: int) -> _Timed:
    """Return a sortie's draws given the phases reported: past ones as taken, this one longer."""
    began = fact.began_us
    zero = began.get(Phase.DOWN, min(began.values()))
    now = max((at_us - zero) // 1_000_000, 0)
    whole = drawn.offsets
    offsets = {"launched": np.minimum(whole["launched"], now)}

    def known_or(mark: Phase, part: str, expected: Ints) -> None:
        said = _reported_s(began, mark, zero)
        # a part that is not reported over lasts at least until now
        offsets[part] = np.maximum(expected, now) if said is None else np.full_like(expected, said)

    known_or(Phase.SEARCH, "at_seat", whole["at_seat"])
    known_or(Phase.AWAY, "left", _left(began, zero, offsets["at_seat"], drawn))
    known_or(Phase.UP, "away", offsets["left"] + whole["away"] - whole["left"])
    known_or(Phase.RECOVER, "at_surface", offsets["away"] + whole["at_surface"] - whole["away"])
    known_or(Phase.BACK, "back", offsets["at_surface"] + whole["back"] - whole["at_surface"])
    return replace(drawn, offsets=offsets, gives_up=np.zeros_like(drawn.gives_up))


def _left(began: Mapping[Phase, int], zero: int, at_seat: Ints, drawn: _Timed) -> Ints:
    """Return when the last person is out of the refuge, from the last thing reported."""
    rest = drawn.transfer
    if Phase.TRANSFER in began:
        return (began[Phase.TRANSFER] - zero) // 1_000_000 + rest
    rest = rest + drawn.mate
    if Phase.MATE in began:
        return (began[Phase.MATE] - zero) // 1_000_000 + rest
    return at_seat + drawn.search + rest


def _reported_s(began: Mapping[Phase, int], mark: Phase, zero: int) -> int | None:
    later = [at for phase, at in began.items() if _order(phase) >= _order(mark)]
    return (min(later) - zero) // 1_000_000 if later else None


def _order(phase: Phase) -> int:
    return PHASES.index(phase) if phase in PHASES else len(PHASES)


def _draw(uniforms: Uniforms, vehicle: Vehicle, lift: Lift, number: int, part: str) -> Floats:
    # parts that come from the cycle are long or short together: it spreads as a whole
    common = f"{vehicle.name} {'cycle' if shared(vehicle, part) else part}"
    return seconds(uniforms.alike(common, f"{common} {lift.key} {number}"), getattr(vehicle, part))


def _whole(values: Floats) -> Ints:
    return np.rint(values).astype(np.int64)


def _stay_s(setting: Setting, lift: Lift, pressure: float | None) -> int:
    if setting.schedule is None or pressure is None:
        return 0
    if setting.begun(lift.key):
        return round(setting.schedule.nearest(pressure).hours * 3600)
    return setting.schedule.stay_s(pressure)


def _places(lift: Lift, setting: Setting, stay_s: int) -> int:
    if not stay_s:
        return 0
    most = max((chamber.stretcher_places for chamber in setting.chambers), default=1)
    return lift.walking + lift.stretcher * most


def _forced_s(setting: Setting, lift: Lift) -> int:
    if not setting.begun(lift.key):
        return NEVER
    began = setting.facts[lift.key].began_us
    return (began.get(Phase.DOWN, min(began.values())) - setting.at_us) // 1_000_000


def _holds(setting: Setting, lift: Lift) -> bool:
    """Whether a vehicle under way may still have to wait at the surface to be recovered."""
    fact = setting.facts.get(lift.key)
    return fact is not None and fact.under_way and Phase.RECOVER not in fact.began_us


def _chamber_of(fact: LiftFact | None, names: Sequence[str]) -> int:
    return names.index(fact.chamber) if fact and fact.chamber in names else -1


def _last_back_s(setting: Setting, vehicle: str) -> int:
    back = [
        max(fact.began_us.values())
        for fact in setting.facts.values()
        if fact.vehicle == vehicle and fact.phase is Phase.GIVEN_UP
    ]
    return (max(back) - setting.at_us) // 1_000_000 if back else -NEVER


def _ready_s(vehicle: Vehicle, setting: Setting, ready_us: Mapping[str, Ints]) -> Ints:
    ready = (ready_us[vehicle.name] - setting.at_us) // 1_000_000
    given_up = _last_back_s(setting, vehicle.name) + round(vehicle.turn_round.likely * 60)
    return np.maximum(ready, max(given_up, 0))
