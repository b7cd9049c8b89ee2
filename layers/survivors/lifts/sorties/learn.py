"""Cycle times learnt from sorties that are back; they replace the estimates."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from layers.earth.clock import US_PER_MIN
from layers.survivors.lifts.model import Lift, Phase
from layers.survivors.lifts.sorties.energy import transit_min
from layers.survivors.lifts.sorties.facts import LiftFact
from layers.survivors.lifts.vehicle import ThreePoint, Vehicle

DIRECT = {
    Phase.SEARCH: "search",
    Phase.MATE: "mate",
    Phase.AWAY: "away",
    Phase.RECOVER: "recover",
}
LEAST_RATIO = 0.05  # a phase entered and left in the same minute teaches no more than this


@dataclass(frozen=True, slots=True, kw_only=True)
class LearntPhase:
    """What one phase of a vehicle's sorties took against its estimate, minutes."""

    vehicle: str
    phase: Phase
    estimated_min: float
    taken_min: float
    sorties: int


def learn(
    vehicle: Vehicle, lifts: Iterable[Lift], facts: Iterable[LiftFact], depth_m: float
) -> tuple[Vehicle, tuple[LearntPhase, ...]]:
    """Return the vehicle with the times its sorties took, and what was learnt.

    Parameters
    ----------
    vehicle : Vehicle
        With the times as estimated.
    lifts, facts : iterables
        The lifts and what was reported of them.
    depth_m : float
        Depth of the rescue seat.

    Notes
    -----
    The most likely time becomes the mean of those taken; the spread keeps its proportions and
    narrows with the square root of one more than the sorties seen.
    """
    by_key = {lift.key: lift for lift in lifts}
    changes: dict[str, object] = {}
    told = []
    held = [fact for fact in facts if fact.vehicle == vehicle.name and fact.lift in by_key]
    for phase in (*DIRECT, Phase.DOWN, Phase.TRANSFER, Phase.UP):
        pairs = [
            (us / US_PER_MIN, estimate_min(vehicle, by_key[fact.lift], phase, depth_m))
            for fact in held
            if (us := fact.taken_us(phase)) is not None
        ]
        if not pairs:
            continue
        taken = sum(pair[0] for pair in pairs) / len(pairs)
        estimated = sum(pair[1] for pair in pairs) / len(pairs)
        ratio = max(taken / estimated, LEAST_RATIO) if estimated > 0 else 1.0
        changes.update(_changed(vehicle, phase, ratio, len(pairs)))
        told.append(
            LearntPhase(
                vehicle=vehicle.name,
                phase=phase,
                estimated_min=estimated,
                taken_min=taken,
                sorties=len(pairs),
            )
        )
    return vehicle.model_copy(update=changes), tuple(told)


def estimate_min(vehicle: Vehicle, lift: Lift, phase: Phase, depth_m: float) -> float:
    """Return the most likely minutes of a phase as estimated, for the people of a lift."""
    down, up = transit_min(vehicle, depth_m)
    if phase is Phase.DOWN:
        return vehicle.launch.likely + down
    if phase is Phase.UP:
        return up
    if phase is Phase.TRANSFER:
        return (
            lift.walking * vehicle.transfer_walking.likely
            + lift.stretcher * vehicle.transfer_stretcher.likely
        )
    spread: ThreePoint = getattr(vehicle, DIRECT[phase])
    return spread.likely


def _changed(vehicle: Vehicle, phase: Phase, ratio: float, sorties: int) -> dict[str, object]:
    if phase is Phase.DOWN:
        return {
            "launch": _scaled(vehicle.launch, ratio, sorties),
            "speed_down_m_min": vehicle.speed_down_m_min / ratio,
        }
    if phase is Phase.UP:
        return {"speed_up_m_min": vehicle.speed_up_m_min / ratio}
    if phase is Phase.TRANSFER:
        names = ("transfer_walking", "transfer_stretcher")
        return {name: _scaled(getattr(vehicle, name), ratio, sorties) for name in names}
    return {DIRECT[phase]: _scaled(getattr(vehicle, DIRECT[phase]), ratio, sorties)}


def _scaled(spread: ThreePoint, ratio: float, sorties: int) -> ThreePoint:
    likely = spread.likely * ratio
    narrow = 1.0 / (sorties + 1) ** 0.5
    return ThreePoint(
        low=likely - (spread.likely - spread.low) * ratio * narrow,
        likely=likely,
        high=likely + (spread.high - spread.likely) * ratio * narrow,
    )
