"""When each level of a refuge is reached, as it is said: what comes first before the others."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import to_us
from layers.earth.uncertain import Bounds, Number, Quantity
from layers.survivors.air.endurance import NOT_REACHED_US, Endurance
from layers.survivors.air.model import Level

if TYPE_CHECKING:
    from layers.survivors.air.learning.again import AirModel


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelSpread:
    """P10, P50 and P90 of a quantity; infinity where a draw never gets there."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelHours:
    """When one level is reached in one refuge.

    ``hours`` are from the moment shown; ``reached`` says that it is at or past the level now,
    ``within_horizon`` the share of draws that reach it before the forecast ends after
    ``horizon_h``. ``how`` is ``"balance"`` or ``"trend"``; ``at_least_h`` the middle time if a
    doubtful reading is right, None where no doubt shortens it. ``untold`` is what stores nobody
    told of, that could only put it off: ``hours`` then count none.
    """

    name: str
    quantity: str
    limit: str
    source: str
    entered_by: str
    hours: LevelSpread
    reached: bool
    within_horizon: float
    how: str = "balance"
    at_least_h: float | None = None
    limit_value: float = 0.0
    horizon_h: float = 240.0
    untold: str = ""

    @property
    def form(self) -> Quantity:
        """Hours until it is reached: a number with its spread, or bounds."""
        p50 = self.hours.p50
        doubt = () if self.at_least_h is None else ("whether the doubtful reading stands",)
        if self.untold:
            least = p50 if self.at_least_h is None else self.at_least_h
            least = least if math.isfinite(least) else self.horizon_h
            return Bounds(unit="h", at_least=least, missing=(self.untold, *doubt))
        if self.at_least_h is not None:
            return Bounds(
                unit="h",
                at_least=self.at_least_h,
                at_most=p50 if math.isfinite(p50) else None,
                missing=doubt,
            )
        if not math.isfinite(p50):
            return Bounds(unit="h", at_least=self.horizon_h)
        p90 = self.hours.p90 if math.isfinite(self.hours.p90) else None
        return Number(unit="h", p10=self.hours.p10, value=p50, p90=p90)


def band(values: Floats) -> LevelSpread:
    """Return P10, P50 and P90 of draws; whole draws, so that infinity stays infinity."""
    low, mid, high = np.percentile(values, (10, 50, 90), method="nearest")
    return LevelSpread(p10=float(low), p50=float(mid), p90=float(high))


def limit_words(level: Level) -> str:
    """Return a limit with its unit."""
    if level.gas is not None:
        if level.gas.unit == "sev_percent":
            return f"{level.gas.value:g} % SEV ({level.limit:.2f} kPa)"
        return f"{level.limit:g} kPa"
    if level.pressure is not None:
        return f"{level.limit:.2f} bar absolute"
    if level.quantity.endswith("temperature"):
        return f"{level.limit:g} °C"
    if level.quantity == "flooding":
        return f"{level.limit:g} m³ still free"
    return f"{level.limit:g} ppm surface equivalent"


def level_hours(
    model: AirModel, refuge: str, endurance: Iterable[Endurance], untold: Mapping[str, str]
) -> tuple[LevelHours, ...]:
    """Return the levels of a refuge whose time can be said, the first to come before the others.

    One that is reached stands before all. ``untold``: by quantity, what stores nobody told of.
    """
    by_name = {level.name: level for level, _ in model.levels if level.holds_for(refuge)}
    at_us = to_us(model.at)
    found = []
    for one in endurance:
        if one.refuge != refuge:
            continue
        level = by_name[one.level]
        hours = _hours(one.runs_out_us, at_us)
        spread = band(hours)
        sooner = None
        if one.at_least_us is not None:
            sooner = max(band(_hours(one.at_least_us, at_us)).p50, 0.0)
        found.append(
            LevelHours(
                name=level.name,
                quantity=level.quantity,
                limit=limit_words(level),
                source=level.source,
                entered_by=level.entered_by,
                hours=spread,
                reached=spread.p50 <= 0.0,
                within_horizon=float(np.mean(hours <= model.horizon_h)),
                how=one.how,
                at_least_h=sooner,
                limit_value=level.limit,
                horizon_h=model.horizon_h,
                untold=untold.get(level.quantity, "") if one.how == "balance" else "",
            )
        )
    return tuple(sorted(found, key=lambda one: (not one.reached, one.hours.p50)))


def _hours(times_us: Ints, at_us: int) -> Floats:
    never = times_us == NOT_REACHED_US
    return np.asarray(np.where(never, np.inf, (np.where(never, at_us, times_us) - at_us) / 3.6e9))
