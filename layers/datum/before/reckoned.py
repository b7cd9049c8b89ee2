"""Dead reckoning by the intended movement, and how far she can have got by now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.datum.before.base import NO_TRACK_KN, Base
from layers.datum.before.prior import TrackPrior
from layers.datum.result import Evidence, FarthestOn
from layers.earth.clock import dtg
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI, M_S_PER_KN

# 95 % of a normal error in two dimensions lies within this many standard deviations
WHOLE_ERROR = 2.4477


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoned:
    """Dead reckoning by the intended movement, and how far she can have got."""

    overdue: bool = False
    place: Position | None = None
    sigma_m: float | None = None
    at: datetime | None = None
    farthest: FarthestOn | None = None
    track: tuple[Position, ...] = ()


def reckoned(base: Base, evidence: Sequence[Evidence], at: datetime) -> Reckoned:
    """Return the dead reckoning at a time, or at the missed report when that is past.

    The farthest-on circle runs to the time shown, for a boat with a dead radio may have way on,
    unless something says that she lay on the bottom before.
    """
    farthest = _farthest(base, evidence, at)
    movement = base.movement
    overdue = movement is not None and movement.due is not None and at >= movement.due
    if movement is None or not isinstance(base.prior, TrackPrior):
        return Reckoned(overdue=overdue, farthest=farthest)
    prior = base.prior
    until = at if movement.due is None else min(at, movement.due)
    gone_s = np.array([max((until - prior.start).total_seconds(), 0.0)])
    mean = 0.5 * (prior.speed_min_m_s + prior.speed_max_m_s)
    x, y = prior.place_at(mean * gone_s)
    lat, lon = base.plane.unproject(prior.x_m, prior.y_m)
    along = (prior.speed_max_m_s - prior.speed_min_m_s) * float(gone_s[0]) / np.sqrt(12.0)
    return Reckoned(
        overdue=overdue,
        place=base.plane.position(float(x[0]), float(y[0])),
        sigma_m=float(np.hypot(prior.spread_m(gone_s)[0], along)),
        at=until,
        farthest=farthest,
        track=tuple(Position(float(a), float(o)) for a, o in zip(lat, lon, strict=True)),
    )


def _farthest(base: Base, evidence: Sequence[Evidence], at: datetime) -> FarthestOn | None:
    """Return the farthest-on circle: as soon as there is a last known position."""
    if base.known is None:
        return None
    heard = base.known.record.valid_at
    speed_kn, said = NO_TRACK_KN, "assumed, no movement is told"
    if base.movement is not None:
        fastest = base.movement.speeds_kn[1] if base.movement.speeds_kn else 0.0
        speed_kn = max(base.movement.greatest_speed_kn, fastest)
        told = any("greatest_speed_kn" in e.value.model_fields_set for e in base.movement.entries)
        said = "her greatest speed as told" if told else "assumed, no greatest speed is told"
    lying = [item.at for item in evidence if item.state == "counts" and item.on_the_bottom]
    until = max(min([at, *lying]), heard)
    run_m = speed_kn * M_S_PER_KN * (until - heard).total_seconds()
    why = "now" if until >= at else f"{dtg(until)}, when she lay on the bottom"
    return FarthestOn(
        radius_m=WHOLE_ERROR * base.known.value.sigma_m + run_m,
        until=until,
        speed_kn=speed_kn,
        words=(
            f"farthest she can have got by {why}, {speed_kn:g} kn ({said}) from the last known "
            f"position and its 95 % error of "
            f"{WHOLE_ERROR * base.known.value.sigma_m / M_PER_NMI:.1f} nmi"
        ),
    )
