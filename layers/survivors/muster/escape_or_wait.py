"""Escape against waiting: what follows from each, side by side, and no recommendation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layers.earth.clock import to_us
from layers.earth.units import PA_PER_BAR, PA_PER_FSW
from layers.survivors.lifts.run.ground import PlanGround
from layers.survivors.lifts.run.outcome import PlanOutcome
from layers.survivors.lifts.spread import hours_spread

SEA_WATER_KG_M3 = 1025.0  # common practice, no source
GRAVITY_M_S2 = 9.81
SURFACE_BAR_ABS = 1.013
# Parker et al 2000, Aviat Space Environ Med 71(2) 109-114, PMID 10685582 (abstract seen)
STATED_DEPTH_FSW, STATED_PRESSURE_FSW, STATED_RISK = 300.0, 11.0, "below 5 %"


@dataclass(frozen=True, slots=True, kw_only=True)
class Consequences:
    """One refuge: what follows from waiting and what from escaping.

    ``stated_risk`` is the published statement on decompression sickness after escape, empty
    where depth or pressure lie outside what it covers.
    """

    refuge: str
    persons: int
    stretcher: int
    waiting_first_level_h: float | None  # None: its air is not known
    waiting_last_out_h: float
    depth_fsw: float
    inside_fsw: float | None
    stated_risk: str
    chamber_places: int
    hs_next_12_h_m: float | None


def depth_fsw(depth_m: float) -> float:
    """Return feet of sea water for a depth in metres, at 1025 kg/m³."""
    return depth_m * SEA_WATER_KG_M3 * GRAVITY_M_S2 / PA_PER_FSW


def stated_risk(depth: float, inside: float | None) -> str:
    """Return the published statement for a depth and inside pressure in fsw, or an empty text."""
    if inside is None or depth >= STATED_DEPTH_FSW or inside >= STATED_PRESSURE_FSW:
        return ""
    return STATED_RISK


def consequences(outcome: PlanOutcome, ground: PlanGround) -> tuple[Consequences, ...]:
    """Return escape against waiting for every refuge where people are."""
    setting = outcome.setting
    deep = depth_fsw(setting.depth_m)
    next_m = _waves(ground, setting.at_us)
    free, found = places_free(outcome), []
    for place in ground.people:
        if not place.persons:
            continue
        last, limit = outcome.last_left_s[place.refuge], outcome.limit_s.get(place.refuge)
        inside = None
        if place.pressure_bar_abs is not None:
            inside = (place.pressure_bar_abs - SURFACE_BAR_ABS) * PA_PER_BAR / PA_PER_FSW
        found.append(
            Consequences(
                refuge=place.refuge,
                persons=place.persons,
                stretcher=place.stretcher,
                waiting_first_level_h=None if limit is None else hours_spread(limit).p50,
                waiting_last_out_h=hours_spread(last).p50,
                depth_fsw=deep,
                inside_fsw=inside,
                stated_risk=stated_risk(deep, inside),
                chamber_places=free,
                hs_next_12_h_m=next_m,
            )
        )
    return tuple(found)


def places_free(outcome: PlanOutcome) -> int:
    """Return the chamber places beside attendants that are free now, by the middle draw.

    A chamber that is not there yet, or not ready, has none.
    """
    setting, runs = outcome.setting, outcome.runs
    found = 0
    for room, chamber in enumerate(setting.chambers):
        if chamber.available_at is not None and to_us(chamber.available_at) > setting.at_us:
            continue
        here = (runs.chamber_in_s <= 0) & (runs.chamber_out_s > 0)
        inside = float(np.median((runs.shares[:, room] * here).sum(axis=0)))
        found += max(chamber.places - chamber.attendants - round(inside), 0)
    return found


def _waves(ground: PlanGround, at_us: int) -> float | None:
    """Return the highest wave height expected in the next 12 h, metres."""
    series = ground.series
    if series is None:
        return None
    after_h = (series.at_us - at_us) / 3.6e9
    ahead = series.hs_m[np.isfinite(series.hs_m) & (after_h >= 0.0) & (after_h <= 12.0)]
    return float(ahead.max()) if len(ahead) else None
