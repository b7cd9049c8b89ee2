"""Where pairs of lines cross: places at which to look for her before any weighing.

Lines cross in a spot that a prior of tens of miles seldom draws a particle in, and two ranges
cross in two. Particles drawn about every crossing, and weighted back to the prior, give each spot
its due share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layers.datum.lines.crossings import crossed
from layers.datum.lines.line import LineOfPosition
from layers.earth.arrays import Floats
from layers.earth.plane import Plane

MOST = 24
WIDER = 2.0  # than the lines' own errors there: their crossing angle spreads them further


@dataclass(frozen=True, slots=True, kw_only=True)
class Spots:
    """A mixture of round normal laws, all as likely.

    Parameters
    ----------
    places_m : ndarray, shape (n, 2)
        East and north on the plane.
    sigma_m : ndarray, shape (n,)
        Standard deviation per axis of each.
    """

    places_m: Floats
    sigma_m: Floats

    def draw(self, count: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Return places to try, each of shape (count,)."""
        rows = rng.integers(0, len(self.sigma_m), count)
        off = self.sigma_m[rows, None] * rng.standard_normal((count, 2))
        places = self.places_m[rows] + off
        return places[:, 0], places[:, 1]

    def density(self, x_m: Floats, y_m: Floats) -> Floats:
        """Return the density that they are drawn with, per square metre, shape (n,)."""
        total = np.zeros(len(x_m))
        for (x, y), sigma in zip(self.places_m, self.sigma_m, strict=True):
            squared = ((x_m - x) ** 2 + (y_m - y) ** 2) / (-2.0 * sigma**2)
            total += np.exp(squared) / (2.0 * np.pi * sigma**2)
        return total / len(self.sigma_m)


def spots(lines: Sequence[LineOfPosition], plane: Plane) -> Spots | None:
    """Return the crossings of pairs of lines with their spread, or None where none cross."""
    found = crossed(lines, plane, MOST)
    if not found:
        return None
    places = np.array([place for place, _, _ in found])
    sizes = [
        max(_across(one, plane, place), _across(two, plane, place)) for place, one, two in found
    ]
    return Spots(places_m=places, sigma_m=WIDER * np.maximum(sizes, 10.0))


def _across(line: LineOfPosition, plane: Plane, place: Floats) -> float:
    """Return the error of a line at a place, metres across it."""
    if line.bearing_true_deg is None:
        return float(np.hypot(line.sigma, line.position_sigma_m))
    away = np.hypot(*(place - np.array(plane.point(line.latitude_deg, line.longitude_deg))))
    return float(np.hypot(np.radians(line.sigma) * away, line.position_sigma_m))
