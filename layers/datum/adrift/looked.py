"""A search for what drifts: the chance of having seen it where it was when the searcher passed.

While a leg is steered the object drifts; seen from the object the searcher runs along another
straight line at another speed. The law of a leg then holds along that line, its strength in
proportion to the time spent there (Washburn, Search and Detection, ch. on moving targets; from
memory, checked against the integral over time in the tests).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import contains_xy

from layers.datum.evidence.not_seen import area_outline
from layers.datum.evidence.searched import RELIABLE, exponent
from layers.datum.search.detection import pod
from layers.datum.search.model import NegativeSearch
from layers.earth.arrays import Floats
from layers.earth.clock import to_us
from layers.earth.plane import Plane

AREA_STEPS = 24  # looks at an area searched evenly, over its time


@dataclass(frozen=True, slots=True, kw_only=True)
class LookedLeg:
    """One leg on the plane with the times of its ends, UTC microseconds."""

    from_m: tuple[float, float]
    to_m: tuple[float, float]
    begin_us: int
    end_us: int


def legs_of(value: NegativeSearch, end_us: int, plane: Plane) -> list[LookedLeg]:
    """Return the legs of a search with their times; untold ones at an even speed."""
    lat = np.array([point.latitude_deg for point in value.waypoints])
    lon = np.array([point.longitude_deg for point in value.waypoints])
    x, y = plane.project(lat, lon)
    run = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))))
    begin_us = min(to_us(value.started_at), end_us)
    even = begin_us + run / max(float(run[-1]), 1e-9) * (end_us - begin_us)
    told = np.array([np.nan if p.at is None else to_us(p.at) for p in value.waypoints])
    if np.isfinite(told).sum() >= 2:
        known = np.isfinite(told)
        even = np.interp(run, run[known], told[known])
    times = np.maximum.accumulate(even).astype(np.int64)
    return [
        LookedLeg(
            from_m=(float(x[k]), float(y[k])),
            to_m=(float(x[k + 1]), float(y[k + 1])),
            begin_us=int(times[k]),
            end_us=int(times[k + 1]),
        )
        for k in range(len(x) - 1)
        if run[k + 1] > run[k]
    ]


def swept(
    leg: LookedLeg,
    begin: tuple[Floats, Floats],
    end: tuple[Floats, Floats],
    sweep_width_m: float,
    curve: str = "inverse cube",
) -> Floats:
    """Return what a leg adds to the exponent of each object, shape (n,).

    Parameters
    ----------
    begin, end : tuple of ndarray
        East and north of the objects when the leg begins and ends.
    """
    ax, ay = leg.from_m[0] - begin[0], leg.from_m[1] - begin[1]
    dx, dy = leg.to_m[0] - end[0] - ax, leg.to_m[1] - end[1] - ay
    length = np.maximum(np.hypot(dx, dy), 1.0)
    east, north = dx / length, dy / length
    along, off = -(ax * east + ay * north), -ax * north + ay * east
    if curve == "definite range":
        beyond = along - np.clip(along, 0.0, length)
        return np.where(np.hypot(off, beyond) <= sweep_width_m / 2.0, np.inf, 0.0)
    steered = float(np.hypot(leg.to_m[0] - leg.from_m[0], leg.to_m[1] - leg.from_m[1]))
    if curve == "random":
        # the effort is even over three sweep widths to either side
        reach = 3.0 * sweep_width_m
        half = np.sqrt(np.maximum(reach * reach - off * off, 0.0))
        inside = np.minimum(along + half, length) - np.maximum(along - half, 0.0)
        even = np.maximum(inside, 0.0) * sweep_width_m / (np.pi * reach**2)
        return np.asarray(even * steered / length)
    return exponent(along, off, length, sweep_width_m) * steered / length


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaLook:
    """An area searched evenly over a span, looked at in steps."""

    value: NegativeSearch
    plane: Plane
    share: float  # of the whole search in one step

    def swept(self, x_m: Floats, y_m: Floats) -> Floats:
        """Return what one step adds to the exponent of each object, shape (n,)."""
        outline = area_outline(self.value, self.plane)
        coverage = self.value.sweep_width_m / (self.value.spacing_m or 1.0)
        chance = min(float(pod(coverage, self.value.pod_curve)), 0.999)
        whole = -np.log1p(-chance)
        return np.where(contains_xy(outline, x_m, y_m), whole * self.share, 0.0)


def missed(exponents: Floats) -> Floats:
    """Return the chance of having been missed after all legs, never none, shape (n,)."""
    return np.asarray(1.0 - RELIABLE * -np.expm1(-exponents))
