"""What a search that saw nothing says: the chance that she would have been missed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from shapely import Polygon, contains_xy

from layers.datum.before.prior import States
from layers.datum.search.detection import PodCurve
from layers.earth.arrays import Floats

RELIABLE = 0.99  # a search is never perfect however often it passes
# Sweep widths to either side that particles are looked at in; the inverse cube law has a long
# tail, of which 1.6 % of the sweep width lies beyond.
REACH = 10.0
LATTICE = 600  # cells a side at most; a longer or narrower search is worked out place by place


@dataclass(frozen=True, kw_only=True)
class NotSeenTerm:
    """The chance of being missed along the legs as actually steered.

    Parameters
    ----------
    x_m, y_m : ndarray, shape (m,)
        Corners of the steered track on the plane.
    sweep_width_m : float
        Sweep width for the object, the sensor and the conditions.
    curve : str
        Lateral range law: inverse cube or definite range along the legs; random spreads the
        effort evenly over the ground about each place.

    Notes
    -----
    Inverse cube: rate of detection ``k h / r^3``; for a leg passed at distance x the exponent is
    ``m / (2 x^2) (sin b - sin a)`` with ``m = W^2 / (4 pi)``, so the ends of a leg cut short
    count as what they are (Koopman, Search and Screening, OEG 56, 1946; the form of the law
    from memory, its sweep width checked by integration).
    """

    x_m: Floats
    y_m: Floats
    sweep_width_m: float
    curve: PodCurve
    reliable: float = RELIABLE

    def detected(self, x_m: Floats, y_m: Floats, reach_m: float = np.inf) -> Floats:
        """Return the chance of having been seen at each place, shape (n,)."""
        found = np.zeros(len(x_m))
        reach = min(reach_m, np.inf if self.curve == "inverse cube" else self._reach_m)
        by_x = np.argsort(x_m, kind="stable")
        sorted_x = x_m[by_x]
        if self.curve == "definite range":
            found = np.full(len(x_m), np.inf)
        for leg in self.legs:
            x0, y0, east, north, length = leg
            ends = sorted((x0, x0 + east * length))
            low, high = np.searchsorted(sorted_x, (ends[0] - reach, ends[1] + reach))
            rows = by_x[low:high]
            dx, dy = x_m[rows] - x0, y_m[rows] - y0
            off = dx * north - dy * east
            near = np.abs(off) <= reach
            rows, off = rows[near], off[near]
            along = dx[near] * east + dy[near] * north
            if self.curve == "definite range":
                beyond = along - np.clip(along, 0.0, length)
                found[rows] = np.minimum(found[rows], np.hypot(off, beyond))
            elif self.curve == "random":
                found[rows] += _chord(along, off, length, self._disc_m)
            else:
                found[rows] += exponent(along, off, length, self.sweep_width_m)
        if self.curve == "definite range":
            return np.where(found <= self.sweep_width_m / 2.0, self.reliable, 0.0)
        if self.curve == "random":
            found *= self.sweep_width_m / (np.pi * self._disc_m**2)
        return np.asarray(self.reliable * -np.expm1(-found))

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        if self._lattice is None:
            return 1.0 - self.detected(states.x_m, states.y_m, self._reach_m)
        x0, y0, cell, missed = self._lattice
        ny, nx = missed.shape
        column, row = (states.x_m - x0) / cell, (states.y_m - y0) / cell
        inside = (column >= 0) & (column < nx - 1) & (row >= 0) & (row < ny - 1)
        c, r = np.where(inside, column, 0.0), np.where(inside, row, 0.0)
        c0, r0 = c.astype(np.int64), r.astype(np.int64)
        c, r = c - c0, r - r0
        flat, place = missed.ravel(), r0 * nx + c0
        low = flat.take(place) * (1.0 - c) + flat.take(place + 1) * c
        high = flat.take(place + nx) * (1.0 - c) + flat.take(place + nx + 1) * c
        return np.where(inside, low * (1.0 - r) + high * r, 1.0)

    @cached_property
    def _lattice(self) -> tuple[float, float, float, Floats] | None:
        """South-west place, step, and the chance of being missed there; None when too coarse."""
        cell = self.sweep_width_m / 10.0
        margin = self._reach_m + cell
        x0, y0 = float(self.x_m.min()) - margin, float(self.y_m.min()) - margin
        nx = int((float(self.x_m.max()) + margin - x0) / cell) + 2
        ny = int((float(self.y_m.max()) + margin - y0) / cell) + 2
        # the edge of a definite range is sharper than any lattice
        if max(nx, ny) > LATTICE or self.curve == "definite range":
            return None
        gy, gx = np.meshgrid(y0 + cell * np.arange(ny), x0 + cell * np.arange(nx), indexing="ij")
        missed = 1.0 - self.detected(gx.ravel(), gy.ravel(), self._reach_m)
        return x0, y0, cell, missed.reshape(ny, nx)

    @cached_property
    def legs(self) -> tuple[tuple[float, float, float, float, float], ...]:
        """Start, unit direction (east, north) and length of every leg."""
        found = []
        for number in range(len(self.x_m) - 1):
            east = float(self.x_m[number + 1] - self.x_m[number])
            north = float(self.y_m[number + 1] - self.y_m[number])
            length = float(np.hypot(east, north))
            if length > 0.0:
                start = float(self.x_m[number]), float(self.y_m[number])
                found.append((*start, east / length, north / length, length))
        return tuple(found)

    @property
    def _reach_m(self) -> float:
        if self.curve == "random":
            return self._disc_m
        return (0.5 if self.curve == "definite range" else REACH) * self.sweep_width_m

    @cached_property
    def _disc_m(self) -> float:
        """Radius of the ground over which random effort is evened out: some tracks wide.

        Half as wide again as the tracks lie apart: the distance from the middle of each long leg
        to the nearest other long leg; the sweep width at least.
        """
        longest = max((leg[4] for leg in self.legs), default=0.0)
        long = np.array([leg for leg in self.legs if leg[4] >= 0.5 * longest])
        apart = [0.0]
        if len(long) > 1:
            middle = long[:, :2] + 0.5 * long[:, 4:] * long[:, 2:4]
            for number, leg in enumerate(long):
                off = middle - leg[:2]
                along = np.clip(off @ leg[2:4], 0.0, leg[4])
                away = np.hypot(*(off - along[:, None] * leg[2:4]).T)
                away[number] = np.inf
                apart.append(float(away.min()))
        return max(self.sweep_width_m, 1.5 * float(np.median(apart[1:] or [0.0])))


def exponent(along: Floats, off: Floats, length: Floats | float, sweep_width_m: float) -> Floats:
    """Return the inverse cube law's exponent of one leg at places along and off it, metres."""
    m = sweep_width_m**2 / (4.0 * np.pi)
    off2 = np.maximum(off * off, 1.0)
    ahead = length - along
    swept = ahead / np.sqrt(ahead * ahead + off2) + along / np.sqrt(along * along + off2)
    return np.asarray(m / (2.0 * off2) * swept)


def _chord(along: Floats, off: Floats, length: float, radius: float) -> Floats:
    """Return the length of a leg within a radius of each place."""
    half = np.sqrt(np.maximum(radius * radius - off * off, 0.0))
    inside = np.minimum(along + half, length) - np.maximum(along - half, 0.0)
    return np.asarray(np.maximum(inside, 0.0))


@dataclass(frozen=True, kw_only=True)
class AreaNotSeenTerm:
    """The chance of being missed in an area searched evenly, its tracks not told.

    Parameters
    ----------
    outline : Polygon
        On the plane.
    pod : float
        Chance of having been seen anywhere in it, 0 to 1.
    """

    outline: Polygon
    pod: float

    def detected(self, x_m: Floats, y_m: Floats) -> Floats:
        """Return the chance of having been seen at each place, shape (n,)."""
        return np.where(contains_xy(self.outline, x_m, y_m), self.pod, 0.0)

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        return 1.0 - self.detected(states.x_m, states.y_m)
