"""The parts of a sortie in every draw, and what is left of them once a sortie is under way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.survivors.lifts.model import PHASES, Lift, Phase
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.draws import Uniforms, seconds, tries
from layers.survivors.lifts.sorties.depth import arrives_s, way_left
from layers.survivors.lifts.sorties.energy import transit_min, used_in
from layers.survivors.lifts.sorties.facts import LiftFact
from layers.survivors.lifts.vehicle import Vehicle, shared

SORTIES = 3  # a lift whose mating fails is tried so often; then its people stay
PARTS = ("launched", "at_seat", "left", "away", "at_surface", "back")
# Where the parts end that phases begin at: the mark is what is reported next.
ENDS = {
    Phase.DOWN: "at_seat",
    Phase.TRANSFER: "left",
    Phase.AWAY: "away",
    Phase.UP: "at_surface",
    Phase.RECOVER: "back",
}
# Fewer draws of a phase than this share last as long as it has: they say nothing of the rest.
LEAST_SHARE = 0.01
# A phase that outlasts its estimate goes on, in the mean, by this share of what it has taken: our
# assumption, no source.
GOES_ON = 0.25


@dataclass(frozen=True, slots=True)
class TimedSortie:
    """One sortie in every draw: when each part ends after the dive, and each phase's length.

    All in whole seconds, shape (n_draws,). ``rest`` is from on deck until it can dive again.
    """

    offsets: Mapping[str, Ints]
    phases: Mapping[Phase, Ints]
    rest: Ints
    gives_up: np.ndarray
    lost: np.ndarray


def timed(lift: Lift, setting: PlanSetting, uniforms: Uniforms) -> list[TimedSortie]:
    """Return the sorties of a lift, the first as it stands where it is under way."""
    vehicle = setting.vehicle(lift.vehicle)
    tries_ = [_sortie(lift, vehicle, setting, uniforms, n) for n in range(SORTIES)]
    fact = setting.facts.get(lift.key)
    if fact is not None and setting.begun(lift.key):
        u = uniforms.take(f"{vehicle.name} {lift.key} goes on")
        way = way_left(fact.phase, fact.depths, vehicle, setting.depth_m)
        tries_[0] = conditioned(tries_[0], fact, setting.at_us, u, way)
    return tries_


def _sortie(
    lift: Lift, vehicle: Vehicle, setting: PlanSetting, uniforms: Uniforms, number: int
) -> TimedSortie:
    """Return the draws of one sortie; worked out once."""
    key = (vehicle, lift.key, lift.walking, lift.stretcher, setting.depth_m, number)
    if key not in uniforms.kept:
        uniforms.kept[key] = _drawn(lift, vehicle, setting.depth_m, uniforms, number)
    kept: TimedSortie = uniforms.kept[key]
    return kept


def _drawn(
    lift: Lift, vehicle: Vehicle, depth_m: float, uniforms: Uniforms, number: int
) -> TimedSortie:
    def drawn(part: str) -> Ints:
        return whole(draw(uniforms, vehicle, lift.key, number, part))

    name = f"{vehicle.name} {lift.key} {number}"
    down_min, up_min = transit_min(vehicle, depth_m)
    launch, search, mate = drawn("launch"), drawn("search"), drawn("mate")
    transfer = whole(
        lift.walking * draw(uniforms, vehicle, lift.key, number, "transfer_walking")
        + lift.stretcher * draw(uniforms, vehicle, lift.key, number, "transfer_stretcher")
    )
    away, recover = drawn("away"), drawn("recover")
    down, up = round(down_min * 60), round(up_min * 60)
    # the seat is found: one that fails is a mating more, of a length of its own
    again = whole(draw(uniforms, vehicle, lift.key, number, "mate", " again"))
    wanted = tries(uniforms.take(f"{name} matings"), vehicle.failed_mating_chance)
    moving = launch + down + up + recover
    allowed = _matings_allowed(vehicle, moving, search + mate + transfer + away, again)
    gives_up = wanted > allowed
    at_seat = launch + down
    matings: Ints = np.minimum(wanted, allowed)
    mating = mate + (matings - 1) * again
    left = at_seat + search + mating + np.where(gives_up, 0, transfer)
    off = left + np.where(gives_up, 0, away)
    surface = off + up
    back = surface + recover
    used_kwh = (moving * vehicle.transit_kw + (off - at_seat) * vehicle.seat_kw) / 3600.0
    rest = _rest(uniforms, vehicle, lift.key, number, used_kwh)
    lost = np.zeros(uniforms.n_draws, dtype=bool)
    if vehicle.loss_chance:
        lost = uniforms.take(f"{name} lost") < vehicle.loss_chance
    ends = (launch, at_seat, left, off, surface, back)
    lengths = (launch + down, search, mating, transfer, away, np.full_like(launch, up), recover)
    return TimedSortie(
        offsets=dict(zip(PARTS, ends, strict=True)),
        phases=dict(zip(PHASES, lengths, strict=True)),
        rest=rest,
        gives_up=gives_up,
        lost=lost,
    )


def _matings_allowed(vehicle: Vehicle, moving: Ints, seated: Ints, again: Ints) -> Ints:
    """Return how many attempts the battery allows above the reserve, at least one.

    ``seated`` is with the first of them, ``again`` one more.
    """
    above = (vehicle.battery_kwh - vehicle.reserve_kwh) * 3600.0
    left = above - moving * vehicle.transit_kw - seated * vehicle.seat_kw
    more = (left // np.maximum(again * vehicle.seat_kw, 1.0)).astype(np.int64)
    return np.asarray(1 + np.maximum(more, 0))


def rest_after_s(fact: LiftFact, setting: PlanSetting, uniforms: Uniforms) -> Ints:
    """Return how long a vehicle is on deck after a sortie that was given up, draw by draw."""
    vehicle = setting.vehicle(fact.vehicle)
    used_kwh = used_in(fact.began_us, vehicle, 0, max(fact.began_us.values()))
    return _rest(uniforms, vehicle, fact.lift, 0, used_kwh)


def _rest(
    uniforms: Uniforms, vehicle: Vehicle, key: str, number: int, used_kwh: Floats | float
) -> Ints:
    """Return how long it is on deck: turned round and charged, and now and then mended."""
    turn, repair = (
        whole(draw(uniforms, vehicle, key, number, part)) for part in ("turn_round", "repair")
    )
    charge = whole(np.asarray(used_kwh / vehicle.charge_kw * 3600.0))
    fails = uniforms.take(f"{vehicle.name} {key} {number} fails") < vehicle.failure_chance
    return np.asarray(np.maximum(turn, charge) + np.where(fails, repair, 0))


def conditioned(
    drawn: TimedSortie,
    fact: LiftFact,
    at_us: int,
    uniform: Floats,
    way: tuple[int, float] | None = None,
) -> TimedSortie:
    """Return a sortie's draws given the phases reported.

    Past phases are as they were; the one that goes on lasts at least until now and as long again
    as the draws that have lasted so long say; those to come are added behind it. ``way`` is what
    the vehicle's own depth says of the one that goes on: it knows better.
    """
    began = fact.began_us
    zero = began.get(Phase.DOWN, min(began.values()))
    now = max((at_us - zero) // 1_000_000, 0)
    offsets: dict[str, Ints] = {"launched": np.minimum(drawn.offsets["launched"], now)}
    end = np.zeros_like(drawn.rest)
    for phase in PHASES:
        said = _over_s(began, phase, zero)
        if said is not None:
            end = np.full_like(end, said)
        elif phase is fact.phase:
            since = (fact.goes_on_us - zero) // 1_000_000
            end = since + lasting(drawn.phases[phase], max(now - since, 0), uniform)
            if way is not None:
                end = arrives_s(way, zero, now, uniform)
        else:
            end = end + drawn.phases[phase]
        if phase in ENDS:
            offsets[ENDS[phase]] = end
    none = np.zeros_like(drawn.gives_up)
    lost = drawn.lost if fact.under_way else none  # it may still be lost on its way
    return replace(drawn, offsets=offsets, gives_up=none, lost=lost)


def _over_s(began: Mapping[Phase, int], phase: Phase, zero: int) -> int | None:
    """Return when a phase was over: when the next that was reported began."""
    later = [at for name, at in began.items() if _order(name) > _order(phase)]
    return (min(later) - zero) // 1_000_000 if later else None


def lasting(lengths: Ints, elapsed_s: int, uniform: Floats) -> Ints:
    """Return how long a phase lasts in all, given that it has lasted so long already.

    Parameters
    ----------
    lengths : ndarray, shape (n_draws,)
        As estimated, whole seconds.
    elapsed_s : int
        How long it has lasted.
    uniform : ndarray, shape (n_draws,)
        Decides how long it goes on where the estimate says nothing more.

    Notes
    -----
    The draws that last longer are kept in their order and spread over all draws, which is the
    conditional distribution. Where hardly any do, it goes on by an exponential time.
    """
    longer = np.sort(lengths[lengths > elapsed_s])
    if len(longer) >= max(LEAST_SHARE * len(lengths), 1.0):
        rank = np.argsort(np.argsort(lengths, kind="stable"), kind="stable")
        return np.asarray(longer[rank * len(longer) // len(lengths)])
    mean_s = GOES_ON * max(elapsed_s, float(np.median(lengths)))
    return np.asarray(elapsed_s + whole(-mean_s * np.log1p(-uniform)))


def _order(phase: Phase) -> int:
    return PHASES.index(phase) if phase in PHASES else len(PHASES)


def draw(
    uniforms: Uniforms, vehicle: Vehicle, key: str, number: int, part: str, time: str = ""
) -> Floats:
    """Return the seconds of one part of one sortie, half of the luck shared by the vehicle's.

    ``time`` tells apart the times that a part is done in a sortie.
    """
    # parts that come from the cycle are long or short together: it spreads as a whole
    common = f"{vehicle.name} {'cycle' if shared(vehicle, part) else part}"
    return seconds(uniforms.alike(common, f"{common} {key} {number}{time}"), getattr(vehicle, part))


def whole(values: Floats) -> Ints:
    """Return whole seconds."""
    return np.rint(values).astype(np.int64)
