"""How likely each report is for every place she may be in: one function per kind.

Every likelihood is a density over what was measured, with a tail: with chance ``wrong`` the
report is simply wrong and could have said anything within its span. So one bad report cannot
rule the truth out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from layers.datum.evidence.plane import REACH_M, Plane, range_bearing
from layers.datum.prior import States

Floats = npt.NDArray[np.float64]
WIDER = 1.5  # places to try about one that is known are spread so much wider than its error
ROOT_TWO_PI = float(np.sqrt(2.0 * np.pi))
Likelihood = Callable[[States], Floats]


def with_tail(density: Floats, wrong: float, anything: float) -> Floats:
    """Return the density of a report that with chance ``wrong`` could have said anything."""
    return (1.0 - wrong) * density + wrong * anything


def normal(residual: Floats, sigma: Floats | float) -> Floats:
    """Return the normal density of residuals."""
    scaled = residual / sigma
    return np.asarray(np.exp(-0.5 * scaled * scaled) / (sigma * ROOT_TWO_PI))


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingTerm:
    """A true bearing from an observer whose own place is uncertain."""

    plane: Plane
    latitude_deg: float
    longitude_deg: float
    bearing_true_deg: float
    sigma_deg: float
    position_sigma_m: float
    wrong: float

    def residual_deg(self, states: States) -> tuple[Floats, Floats]:
        """Return measured minus computed, -180 to 180, and its standard deviation, degrees."""
        metres, bearing = range_bearing(
            self.plane, self.latitude_deg, self.longitude_deg, states.x_m, states.y_m
        )
        off = (self.bearing_true_deg - bearing + 180.0) % 360.0 - 180.0
        sway = np.degrees(np.minimum(self.position_sigma_m / np.maximum(metres, 1.0), np.pi))
        return off, np.hypot(self.sigma_deg, sway)

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        x0, y0 = self.plane.point(self.latitude_deg, self.longitude_deg)
        if np.hypot(x0, y0) > REACH_M:
            off, sigma = self.residual_deg(states)
            return with_tail(normal(off, sigma), self.wrong, 1.0 / 360.0)
        # Single precision is 1e-5 degrees here, and several times as fast: this is what adding
        # a bearing costs. The angle is taken from the measured bearing, so it never wraps.
        turn = np.radians(
            self.bearing_true_deg
            + self.plane.convergence_deg(self.latitude_deg, self.longitude_deg)
        )
        sin, cos = np.float32(np.sin(turn)), np.float32(np.cos(turn))
        east, north = (states.x_m - x0).astype(np.float32), (states.y_m - y0).astype(np.float32)
        off_rad = np.arctan2(east * cos - north * sin, east * sin + north * cos)
        sway = np.float32(self.position_sigma_m) / np.sqrt(east * east + north * north + 1.0)
        variance = np.minimum(sway, np.float32(np.pi)) ** 2
        variance += np.float32(np.radians(self.sigma_deg) ** 2)
        density = np.exp(off_rad * off_rad / (-2.0 * variance))
        density *= np.float32(np.radians(1.0) / ROOT_TWO_PI) / np.sqrt(variance)
        return with_tail(density.astype(np.float64), self.wrong, 1.0 / 360.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeTerm:
    """A horizontal range; several when the sound may have come by several paths."""

    plane: Plane
    latitude_deg: float
    longitude_deg: float
    horizontal_m: Sequence[float]
    sigma_m: float
    position_sigma_m: float
    wrong: float
    anything_per_m: float | None = None  # density of a wrong one; None: up to twice the longest

    def residual_m(self, states: States) -> tuple[Floats, Floats]:
        """Return measured minus computed for the nearest path, metres, and its sigma."""
        metres = self._metres(states)
        offs = np.stack([path - metres for path in self.horizontal_m])
        nearest = np.abs(offs).argmin(axis=0)
        sigma = np.full(len(states), self._sigma())
        return offs[nearest, np.arange(len(states))], sigma

    def _metres(self, states: States) -> Floats:
        return range_bearing(
            self.plane, self.latitude_deg, self.longitude_deg, states.x_m, states.y_m
        )[0]

    def _sigma(self) -> float:
        return float(np.hypot(self.sigma_m, self.position_sigma_m))

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        metres, sigma = self._metres(states), self._sigma()
        density = sum(
            (normal(path - metres, sigma) for path in self.horizontal_m), np.zeros(len(states))
        ) / len(self.horizontal_m)
        # A wrong range may halve or double, so anything up to twice the longest at least.
        anything = self.anything_per_m or 0.5 / max(self.horizontal_m)
        return with_tail(density, self.wrong, anything)


@dataclass(frozen=True, slots=True, kw_only=True)
class DifferenceTerm:
    """Range to a second place minus range to the first, metres (a hyperbola)."""

    plane: Plane
    first: tuple[float, float]
    second: tuple[float, float]
    difference_m: float
    sigma_m: float
    wrong: float
    apart_m: float

    def residual_m(self, states: States) -> tuple[Floats, Floats]:
        """Return measured minus computed, metres, and its sigma."""
        near, _ = range_bearing(self.plane, *self.first, states.x_m, states.y_m)
        far, _ = range_bearing(self.plane, *self.second, states.x_m, states.y_m)
        return self.difference_m - (far - near), np.full(len(states), self.sigma_m)

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        off, sigma = self.residual_m(states)
        return with_tail(normal(off, sigma), self.wrong, 0.5 / self.apart_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardTerm:
    """Heard at all: likely within a range, fading beyond it."""

    plane: Plane
    latitude_deg: float
    longitude_deg: float
    within_m: float
    fades_over_m: float
    wrong: float

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        metres, _ = range_bearing(
            self.plane, self.latitude_deg, self.longitude_deg, states.x_m, states.y_m
        )
        beyond = np.clip((metres - self.within_m) / self.fades_over_m, -40.0, 40.0)
        return with_tail(1.0 / (1.0 + np.exp(4.0 * beyond)), self.wrong, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceTerm:
    """Found on the bottom at a place: she with a chance, something else otherwise."""

    x_m: float
    y_m: float
    sigma_m: float
    chance_dissub: float
    elsewhere_per_m2: float
    identified: bool = False

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        squared = (states.x_m - self.x_m) ** 2 + (states.y_m - self.y_m) ** 2
        density = np.exp(-0.5 * squared / self.sigma_m**2) / (2.0 * np.pi * self.sigma_m**2)
        return with_tail(density, 1.0 - self.chance_dissub, self.elsewhere_per_m2)

    def draw(self, count: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Return places to try, spread half as wide again as the contact's own error."""
        off = WIDER * self.sigma_m * rng.standard_normal((2, count))
        return self.x_m + off[0], self.y_m + off[1]

    def density(self, x_m: Floats, y_m: Floats) -> Floats:
        """Return the density that they are drawn with, per square metre, shape (n,)."""
        spread = WIDER * self.sigma_m
        squared = (x_m - self.x_m) ** 2 + (y_m - self.y_m) ** 2
        return np.asarray(np.exp(-0.5 * squared / spread**2) / (2.0 * np.pi * spread**2))


@dataclass(frozen=True, slots=True, kw_only=True)
class ExcludedTerm:
    """Looked at closely and not her: a low chance inside a circle, never none."""

    x_m: float
    y_m: float
    radius_m: float
    missed: float = 0.02

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        inside = np.hypot(states.x_m - self.x_m, states.y_m - self.y_m) <= self.radius_m
        return np.where(inside, self.missed, 1.0)
