"""What a search that saw nothing says: the chance that she would have been missed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt
from shapely import MultiPoint, contains_xy

from layers.datum.prior import States

Floats = npt.NDArray[np.float64]
PodCurve = Literal["inverse cube", "random", "definite range"]


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
        effort evenly over the hull of the track.

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
    reliable: float = 0.99  # a search is never perfect however often it passes

    def detected(self, x_m: Floats, y_m: Floats) -> Floats:
        """Return the chance of having been seen at each place, shape (n,)."""
        if self.curve == "random":
            seen = self._random(x_m, y_m)
        elif self.curve == "definite range":
            seen = (self._nearest(x_m, y_m) <= self.sweep_width_m / 2.0).astype(np.float64)
        else:
            seen = 1.0 - np.exp(-self._exponent(x_m, y_m))
        return np.asarray(self.reliable * seen)

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        x0, y0, cell, missed = self._lattice
        ny, nx = missed.shape
        column = np.rint((states.x_m - x0) / cell)
        row = np.rint((states.y_m - y0) / cell)
        inside = (column >= 0) & (column < nx) & (row >= 0) & (row < ny)
        place = np.where(inside, row * nx + column, 0).astype(np.int64)
        return np.where(inside, missed.ravel().take(place), 1.0)

    @cached_property
    def _lattice(self) -> tuple[float, float, float, Floats]:
        """South-west cell middle, cell side, and the chance of being missed by cell.

        Beyond three sweep widths less than 1 % would be seen; that is counted as nothing.
        """
        margin = 3.0 * self.sweep_width_m
        x0, y0 = float(self.x_m.min()) - margin, float(self.y_m.min()) - margin
        wide = float(self.x_m.max()) + margin - x0
        high = float(self.y_m.max()) + margin - y0
        cell = max(self.sweep_width_m / 10.0, max(wide, high) / 400.0)
        nx, ny = int(wide / cell) + 1, int(high / cell) + 1
        gy, gx = np.meshgrid(y0 + cell * np.arange(ny), x0 + cell * np.arange(nx), indexing="ij")
        missed = 1.0 - self.detected(gx.ravel(), gy.ravel())
        return x0, y0, cell, missed.reshape(ny, nx)

    def _legs(self) -> list[tuple[float, float, float, float, float]]:
        legs = []
        for number in range(len(self.x_m) - 1):
            east = float(self.x_m[number + 1] - self.x_m[number])
            north = float(self.y_m[number + 1] - self.y_m[number])
            length = float(np.hypot(east, north))
            if length > 0.0:
                legs.append(
                    (
                        float(self.x_m[number]),
                        float(self.y_m[number]),
                        east / length,
                        north / length,
                        length,
                    )
                )
        return legs

    def _exponent(self, x_m: Floats, y_m: Floats) -> Floats:
        m = self.sweep_width_m**2 / (4.0 * np.pi)
        total = np.zeros(len(x_m))
        for x0, y0, east, north, length in self._legs():
            dx, dy = x_m - x0, y_m - y0
            along = dx * east + dy * north
            off2 = np.maximum((dx * north - dy * east) ** 2, 1.0)
            ahead, behind = length - along, along
            swept = ahead / np.sqrt(ahead**2 + off2) + behind / np.sqrt(behind**2 + off2)
            total += m / (2.0 * off2) * swept
        return total

    def _nearest(self, x_m: Floats, y_m: Floats) -> Floats:
        nearest = np.full(len(x_m), np.inf)
        for x0, y0, east, north, length in self._legs():
            dx, dy = x_m - x0, y_m - y0
            along = np.clip(dx * east + dy * north, 0.0, length)
            nearest = np.minimum(nearest, np.hypot(dx - along * east, dy - along * north))
        return nearest

    def _random(self, x_m: Floats, y_m: Floats) -> Floats:
        corners = MultiPoint(np.column_stack([self.x_m, self.y_m]))
        hull = corners.convex_hull.buffer(self.sweep_width_m / 2.0)
        length = float(np.hypot(np.diff(self.x_m), np.diff(self.y_m)).sum())
        coverage = self.sweep_width_m * length / hull.area
        return np.where(contains_xy(hull, x_m, y_m), 1.0 - np.exp(-coverage), 0.0)
