"""How likely each report is for every place she may be in: one function per kind.

Every likelihood is a density over what was measured, with a tail: with chance ``wrong`` the
report is simply wrong and could have said anything within its span. So one bad report cannot
rule the truth out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

import numpy as np

from layers.datum.before.prior import States
from layers.datum.evidence.laws import doubled_law, right_law, wrong_law
from layers.earth.arrays import Floats, Singles
from layers.earth.plane import REACH_M, Plane, range_bearing

WIDER = 1.5  # places to try about one that is known are spread so much wider than its error
Likelihood = Callable[[States], Floats]


class Measured(Protocol):
    """The likelihood of a report that may be wrong."""

    def __call__(self, states: States) -> Floats:
        """Return the likelihood for each state, shape (n,)."""
        ...

    def wrong_part(self, states: States) -> Floats:
        """Return the density of the report if wrong, times the chance of that, shape (n,)."""
        ...


def with_tail(density: Floats, wrong: float, anything: float) -> Floats:
    """Return the density of a report that with chance ``wrong`` could have said anything."""
    return (1.0 - wrong) * density + wrong * anything


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingTerm:
    """A true bearing from an observer whose own place is uncertain.

    ``shared_sigma_deg`` is the part of the error that is the same in all of the observer's
    bearings (his compass), None when nobody told it. Inside, angles are radians.
    """

    plane: Plane
    latitude_deg: float
    longitude_deg: float
    bearing_true_deg: float
    sigma_deg: float
    position_sigma_m: float
    wrong: float
    shared_sigma_deg: float | None = None

    @property
    def place_shared(self) -> bool:
        """Whether the error of the observer's place is the owner's too: it shifts all alike."""
        return True

    @property
    def shared_told(self) -> bool:
        """Whether the shared part of the error is known."""
        return self.shared_sigma_deg is not None

    def variances(self, part: float | None) -> tuple[float, float]:
        """Return the variance of the report and the part of it that is the observer's own."""
        whole = float(np.radians(self.sigma_deg)) ** 2
        if self.shared_sigma_deg is not None:
            return whole, min(float(np.radians(self.shared_sigma_deg)) ** 2, whole)
        return whole, whole * (part or 0.0)

    def residual_deg(self, states: States) -> tuple[Floats, Floats]:
        """Return measured minus computed, -180 to 180, and its standard deviation, degrees."""
        off, sway = self.offsets(states)
        spread = np.hypot(np.radians(self.sigma_deg), sway)
        return np.degrees(off.astype(np.float64)), np.degrees(spread.astype(np.float64))

    def offsets(self, states: States) -> tuple[Singles, Singles]:
        """Return measured minus computed, and what the observer's place makes of it, radians.

        Single precision is 1e-5 degrees here, and several times as fast: this is what adding a
        bearing costs. The angle is taken from the measured bearing, so it never wraps.
        """
        x0, y0 = self.plane.point(self.latitude_deg, self.longitude_deg)
        if np.hypot(x0, y0) > REACH_M:
            metres, bearing = range_bearing(
                self.plane, self.latitude_deg, self.longitude_deg, states.x_m, states.y_m
            )
            off = np.radians((self.bearing_true_deg - bearing + 180.0) % 360.0 - 180.0)
            away = metres.astype(np.float32)
            off_rad = off.astype(np.float32)
        else:
            turn = np.radians(
                self.bearing_true_deg
                + self.plane.convergence_deg(self.latitude_deg, self.longitude_deg)
            )
            sin, cos = np.float32(np.sin(turn)), np.float32(np.cos(turn))
            east = (states.x_m - x0).astype(np.float32)
            north = (states.y_m - y0).astype(np.float32)
            off_rad = -np.arctan2(east * cos - north * sin, east * sin + north * cos)
            away = np.sqrt(east * east + north * north + np.float32(1.0))
        sway = np.float32(self.position_sigma_m) / np.maximum(away, np.float32(1.0))
        return off_rad, np.minimum(sway, np.float32(np.pi))

    def wrong_at(self, off: Singles, sway: Singles) -> Singles:
        """Return the density of the bearing if wrong, times the chance of that, per radian."""
        variance = sway * sway + np.float32(np.radians(self.sigma_deg) ** 2)
        return np.asarray(self.wrong * wrong_law(off, variance, np.pi), dtype=np.float32)

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        off, sway = self.offsets(states)
        variance = sway * sway + np.float32(np.radians(self.sigma_deg) ** 2)
        found = right_law(off, variance, self.wrong) + self.wrong_at(off, sway)
        return np.asarray(found, dtype=np.float64)

    def wrong_part(self, states: States) -> Floats:
        """Return the density of the bearing if wrong, times the chance of that, shape (n,)."""
        return self.wrong_at(*self.offsets(states)).astype(np.float64)

    def doubled_part(self, states: States) -> Floats:
        """Return the density of it with twice the stated error, times the chance of that."""
        off, sway = self.offsets(states)
        variance = sway * sway + np.float32(np.radians(self.sigma_deg) ** 2)
        return doubled_law(off, variance, self.wrong).astype(np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeTerm:
    """A horizontal range; several when the sound may have come by several paths.

    ``shared_sigma_m`` is the part of the error that the observer's ranges have in common (the
    speed of sound), None when nobody can tell.
    """

    plane: Plane
    latitude_deg: float
    longitude_deg: float
    horizontal_m: Sequence[float]
    sigma_m: float
    position_sigma_m: float
    wrong: float
    anything_per_m: float | None = None  # density of a wrong one; None: up to twice the longest
    shared_sigma_m: float | None = None

    @property
    def place_shared(self) -> bool:
        """Whether the error of the place is the owner's too: not that of the speed of sound."""
        return self.shared_sigma_m is None

    @property
    def shared_told(self) -> bool:
        """Whether the shared part of the error is known."""
        return self.shared_sigma_m is not None

    def variances(self, part: float | None) -> tuple[float, float]:
        """Return the variance of the report and the part of it that is the owner's."""
        whole = self.sigma_m**2
        if self.shared_sigma_m is not None:
            return whole, min(self.shared_sigma_m**2, whole)
        return whole, whole * (part or 0.0)

    def residual_m(self, states: States) -> tuple[Floats, Floats]:
        """Return measured minus computed for the nearest path, metres, and its sigma."""
        off, _ = self.offsets(states)
        return off.astype(np.float64), np.full(len(states), self._sigma())

    def offsets(self, states: States) -> tuple[Singles, Singles]:
        """Return measured minus computed for the nearest path, and the sway of the place, m."""
        metres = self._metres(states)
        off = self.horizontal_m[0] - metres
        for path in self.horizontal_m[1:]:
            off = np.where(np.abs(path - metres) < np.abs(off), path - metres, off)
        return off.astype(np.float32), np.full(len(off), self.position_sigma_m, dtype=np.float32)

    def _metres(self, states: States) -> Floats:
        return range_bearing(
            self.plane, self.latitude_deg, self.longitude_deg, states.x_m, states.y_m
        )[0]

    def _sigma(self) -> float:
        return float(np.hypot(self.sigma_m, self.position_sigma_m))

    def _span(self) -> float:
        # A wrong range may halve or double, so it is off by the longest at least.
        return 0.5 / (self.anything_per_m or 0.5 / max(self.horizontal_m))

    def wrong_at(self, off: Singles, sway: Singles) -> Singles:
        """Return the density of the range if wrong, times the chance of that, per metre."""
        density = wrong_law(off, self._sigma() ** 2, self._span())
        return np.asarray(self.wrong * density, dtype=np.float32)

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        metres, sigma = self._metres(states), self._sigma()
        density = sum(
            (right_law(path - metres, sigma**2, self.wrong) for path in self.horizontal_m),
            np.zeros(len(states)),
        ) / len(self.horizontal_m)
        return np.asarray(density + self.wrong_part(states))

    def wrong_part(self, states: States) -> Floats:
        """Return the density of the range if wrong, times the chance of that, shape (n,)."""
        return self.wrong_at(*self.offsets(states)).astype(np.float64)

    def doubled_part(self, states: States) -> Floats:
        """Return the density of it with twice the stated error, times the chance of that."""
        found = doubled_law(self.offsets(states)[0], self._sigma() ** 2, self.wrong)
        return np.asarray(found, dtype=np.float64)


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
        found = right_law(off, sigma**2, self.wrong) + self.wrong_part(states)
        return np.asarray(found, dtype=np.float64)

    def wrong_part(self, states: States) -> Floats:
        """Return the density of the report if wrong, times the chance of that, shape (n,)."""
        off, sigma = self.residual_m(states)
        return np.asarray(self.wrong * wrong_law(off, sigma**2, self.apart_m), dtype=np.float64)


def _audible(metres: Floats, within_m: float, fades_over_m: float) -> Floats:
    beyond = np.clip((metres - within_m) / fades_over_m, -40.0, 40.0)
    return np.asarray(1.0 / (1.0 + np.exp(4.0 * beyond)))


def mean_about(
    heard: Callable[[Floats], Floats], reach_m: float, sigma_m: float
) -> tuple[Floats, Floats]:
    """Return the chance to be heard by distance from where the listener is thought to be.

    The mean over where he may have been: a round normal error, by Gauss-Hermite quadrature.
    Distances up to ``reach_m``, beyond which nothing is heard, and six sigma more.
    """
    node, weight = np.polynomial.hermite.hermgauss(60)
    east, north = np.meshgrid(node * np.sqrt(2.0) * sigma_m, node * np.sqrt(2.0) * sigma_m)
    weights = np.outer(weight, weight) / np.pi
    away = np.linspace(0.0, reach_m + 6.0 * sigma_m, 400)
    chance = [float((weights * heard(np.hypot(d + east, north))).sum()) for d in away]
    return away, np.array(chance)


@lru_cache(maxsize=64)
def _heard_from(within_m: float, fades_over_m: float, sigma_m: float) -> tuple[Floats, Floats]:
    return mean_about(
        lambda metres: _audible(metres, within_m, fades_over_m),
        within_m + 10.0 * fades_over_m,
        sigma_m,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardTerm:
    """Heard at all: likely within a range, fading beyond it.

    Where the listener was is known to ``position_sigma_m``, round about, 1 sigma: of one whose
    place is doubtful little is learnt.
    """

    plane: Plane
    latitude_deg: float
    longitude_deg: float
    within_m: float
    fades_over_m: float
    wrong: float
    position_sigma_m: float = 0.0

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        metres, _ = range_bearing(
            self.plane, self.latitude_deg, self.longitude_deg, states.x_m, states.y_m
        )
        if self.position_sigma_m > 0.05 * self.within_m:
            away, chance = _heard_from(self.within_m, self.fades_over_m, self.position_sigma_m)
            heard = np.interp(metres, away, chance)
        else:
            heard = _audible(metres, self.within_m, self.fades_over_m)
        return with_tail(heard, self.wrong, 1.0)

    def wrong_part(self, states: States) -> Floats:
        """Return the chance that something else was heard, shape (n,)."""
        return np.full(len(states), self.wrong)


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

    def wrong_part(self, states: States) -> Floats:
        """Return the density if it is not her, times the chance of that, shape (n,)."""
        return np.full(len(states), (1.0 - self.chance_dissub) * self.elsewhere_per_m2)

    def draw(self, count: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Return places to try, spread half as wide again as the contact's own error."""
        off = WIDER * self.sigma_m * rng.standard_normal((2, count))
        return self.x_m + off[0], self.y_m + off[1]

    def density(self, x_m: Floats, y_m: Floats) -> Floats:
        """Return the density that they are drawn with, per square metre, shape (n,)."""
        spread = WIDER * self.sigma_m
        squared = (x_m - self.x_m) ** 2 + (y_m - self.y_m) ** 2
        return np.asarray(np.exp(-0.5 * squared / spread**2) / (2.0 * np.pi * spread**2))
