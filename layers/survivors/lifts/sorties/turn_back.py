"""Until when a vehicle below can go on before it must turn back.

Each phase is charged with its own power: going down at that of moving, at the seat at that of
lying there. Before the seat is reached the way home is as long as the way down so far.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.clock import US_PER_H
from layers.earth.values import SeaSeries
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.run.draws import Uniforms, seconds
from layers.survivors.lifts.run.windows import NEVER, closed_spans
from layers.survivors.lifts.sorties.energy import transit_min
from layers.survivors.lifts.vehicle import Vehicle

DRAWS, SEED = 2_000, 1
EARLY = 0.1  # early enough in nine cases of ten


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """What a vehicle has left: kWh, hours of life support, its phase and the minutes to come."""

    battery_kwh: float
    life_h: float
    phase: Phase
    rest_min: Mapping[Phase, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnBack:
    """When to turn back at the latest, UTC microseconds, and what sets that time."""

    likely_us: int
    early_us: int
    because: str


def turn_back(vehicle: Vehicle, depth_m: float, left: Left, at_us: int) -> TurnBack:
    """Return when at the latest it must turn back, by battery and by life support.

    Notes
    -----
    With a battery B, a reserve R, power P while moving and S at the seat, d hours to the seat
    and a way home that takes H kWh, it can stay until d + (B - R - P d - H) / S. Where that is
    before d it must turn back on its way down.
    """
    u = Uniforms(DRAWS, SEED)
    away = seconds(u.take("away"), vehicle.away) / 3600.0
    recover = seconds(u.take("recover"), vehicle.recover) / 3600.0
    launch = seconds(u.take("launch"), vehicle.launch) / 3600.0
    likely = (vehicle.away.likely / 60.0, vehicle.recover.likely / 60.0)
    stretch = launch / max(vehicle.launch.likely / 60.0, 1e-9) if vehicle.launch.likely else 1.0
    down_h = left.rest_min.get(Phase.DOWN, 0.0) / 60.0 if left.phase is Phase.DOWN else 0.0
    found = []
    for name, hours in (("battery above the reserve", _battery_h), ("life support", _life_h)):
        middle = float(hours(vehicle, depth_m, left, np.array([down_h]), *map(np.array, likely))[0])
        spread = hours(vehicle, depth_m, left, down_h * np.asarray(stretch), away, recover)
        found.append((middle, float(np.quantile(spread, EARLY)), name))
    middle, early, name = min(found)
    early = min(early, middle)
    return TurnBack(
        likely_us=at_us + round(min(middle, 1e5) * US_PER_H),
        early_us=at_us + round(min(early, 1e5) * US_PER_H),
        because=name,
    )


def _battery_h(
    vehicle: Vehicle, depth_m: float, left: Left, down_h: Floats, away_h: Floats, recover_h: Floats
) -> Floats:
    """Return hours from now until the battery just brings it home above the reserve."""
    moving, lying = vehicle.transit_kw, vehicle.seat_kw
    if moving <= 0.0 and lying <= 0.0:
        return np.full(np.shape(away_h) or (1,), np.inf)  # no power is told: it binds nothing
    down_min, up_min = transit_min(vehicle, depth_m)
    up_h, whole_h = up_min / 60.0, max(down_min / 60.0, 1e-9)
    above = left.battery_kwh - vehicle.reserve_kwh
    home = away_h * lying + (up_h + recover_h) * moving
    at_seat = down_h + (above - moving * down_h - home) / max(lying, 1e-3)
    # turned on the way down: up again from as deep as it has come
    deep = np.clip(1.0 - down_h / whole_h, 0.0, 1.0)
    before = (above - moving * (recover_h + up_h * deep)) / (moving * (1.0 + up_h / whole_h) or 1.0)
    return np.where(at_seat >= down_h, at_seat, np.minimum(before, down_h))


def _life_h(
    vehicle: Vehicle, depth_m: float, left: Left, down_h: Floats, away_h: Floats, recover_h: Floats
) -> Floats:
    """Return hours from now until life support just lasts the way home."""
    up_h = transit_min(vehicle, depth_m)[1] / 60.0
    return left.life_h - (away_h + up_h + recover_h) + 0.0 * down_h


def sooner(turn: TurnBack, closes_us: int | None) -> TurnBack:
    """Return the turn-back with the sea at recovery counted."""
    if closes_us is None or closes_us >= turn.likely_us:
        return turn
    return TurnBack(
        likely_us=closes_us, early_us=min(turn.early_us, closes_us), because="sea at recovery"
    )


def recovery_closes(series: SeaSeries | None, limit_m: float, at_us: int) -> int | None:
    """Return when the forecast has the recovery shut next, None when it does not."""
    if series is None or not np.isfinite(series.hs_m).all():
        return None
    after_s = (series.at_us - at_us) // 1_000_000
    spans = closed_spans(series.hs_m[None, :], limit_m, after_s)
    start = spans.starts[0][spans.ends[0] > 0]
    if not len(start) or start[0] >= NEVER:
        return None
    return at_us + int(max(start[0], 0)) * 1_000_000
