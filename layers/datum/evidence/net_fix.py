"""A fix of her by the net on the seabed, or by a ship over it, as evidence like any other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from layers.datum.before.prior import States
from layers.datum.evidence.likelihood import with_tail
from layers.datum.evidence.setting import Built, EvidenceSetting
from layers.datum.probability.particles import Term
from layers.datum.result import Drawn, Evidence
from layers.earth.arrays import Floats
from layers.earth.clock import day_hhmm
from layers.earth.position import Position
from layers.earth.values import Ellipse, FoundFix

KIND = "transponders.typed_fix"
# That a fix is simply wrong (another object, a wrong transponder); its lines agree or not.
# Common practice, no source.
WRONG, WRONG_DISAGREES = 0.02, 0.3
WIDER = 1.5
FACTOR = 2.4477  # 95 % of a normal law in two dimensions, standard deviations


@dataclass(frozen=True, slots=True, kw_only=True)
class FixTerm:
    """A place with the error ellipse of its fix; two places where the lines allow two.

    Parameters
    ----------
    places_m : tuple of (float, float)
        East and north on the plane; equally likely.
    inverse : ndarray, shape (2, 2)
        Inverse covariance, east and north, per square metre.
    """

    places_m: tuple[tuple[float, float], ...]
    inverse: Floats
    wrong: float
    elsewhere_per_m2: float

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the fix for each state, shape (n,)."""
        density = self._normal(states.x_m, states.y_m, self.inverse)
        return with_tail(density, self.wrong, self.elsewhere_per_m2)

    def wrong_part(self, states: States) -> Floats:
        """Return the density of a wrong fix, times the chance of that, shape (n,)."""
        return np.full(len(states), self.wrong * self.elsewhere_per_m2)

    def _normal(self, x_m: Floats, y_m: Floats, inverse: Floats) -> Floats:
        scale = np.sqrt(np.linalg.det(inverse)) / (2.0 * np.pi)
        density = np.zeros(len(x_m))
        (xx, xy), (_, yy) = inverse
        for x, y in self.places_m:
            dx, dy = x_m - x, y_m - y
            density += np.exp(-0.5 * (xx * dx * dx + 2.0 * xy * dx * dy + yy * dy * dy))
        return np.asarray(scale / len(self.places_m) * density)

    def draw(self, count: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Return places to try, spread half as wide again as the fix's own error."""
        root = np.linalg.cholesky(np.linalg.inv(self.inverse)) * WIDER
        off = root @ rng.standard_normal((2, count))
        places = np.array(self.places_m)[rng.integers(0, len(self.places_m), count)]
        return places[:, 0] + off[0], places[:, 1] + off[1]

    def density(self, x_m: Floats, y_m: Floats) -> Floats:
        """Return the density that they are drawn with, per square metre, shape (n,)."""
        return self._normal(x_m, y_m, self.inverse / WIDER**2)


def net_fix(
    found: FoundFix, setting: EvidenceSetting, weights: Mapping[str, tuple[float, str]], best: bool
) -> Built:
    """Return a fix as evidence; only the best one counts, the others share its net's error."""
    weight, why = weights.get(found.records[0], (1.0, ""))
    radius = found.ellipse_95.semi_major_m
    says = f"fix by {found.lines} lines, good to {radius:.0f} m (95 %)"
    says += "" if found.agrees else ", its lines disagree"
    state = "counts" if weight == 1.0 else "counts in part" if weight > 0.0 else "suspended"
    if not best:
        state, why = "noted", f"an earlier fix, {day_hhmm(found.at)}; it shares the net's errors"
    counts = best and weight > 0.0
    wrong = WRONG if found.agrees else WRONG_DISAGREES
    places = [found.position, *([found.second] if found.second else [])]
    term = FixTerm(
        places_m=tuple(setting.plane.point(p.latitude_deg, p.longitude_deg) for p in places),
        inverse=np.asarray(
            np.linalg.inv(covariance(found.ellipse_95, turn_deg(setting, found.position))),
            dtype=np.float64,
        ),
        wrong=wrong,
        elsewhere_per_m2=setting.elsewhere_per_m2,
    )
    return Built(
        evidence=Evidence(
            key=found.records[0],
            kind=KIND,
            says=says,
            source=found.source,
            at=found.at,
            heard_at=found.heard_at,
            drawn=Drawn(),  # the transponders layer draws it
            weight=weight if best else 0.0,
            state=state,
            why=why,
            disputed=found.disputed,
            on_the_bottom=True,
        ),
        term=Term(key=found.records[0], likelihood=term, weight=weight) if counts else None,
    )


def best_fix(fixes: Sequence[FoundFix]) -> FoundFix | None:
    """Return the fix that counts: the latest undisputed one whose lines agree, else the latest."""
    return max(fixes, key=lambda f: (f.agrees and not f.disputed, f.at), default=None)


def turn_deg(setting: EvidenceSetting, place: Position) -> float:
    """Return the direction of true north on the plane at a place, degrees."""
    return setting.plane.convergence_deg(place.latitude_deg, place.longitude_deg)


def covariance(ellipse: Ellipse, north_deg: float) -> Floats:
    """Return the covariance of a 95 % ellipse on the plane, east and north, square metres.

    A semi-axis under 1 m counts as 1 m: no ship's own position is better.
    """
    turn = np.radians(ellipse.bearing_true_deg + north_deg)
    axes = np.array([[np.sin(turn), np.cos(turn)], [np.cos(turn), -np.sin(turn)]])
    sizes = np.maximum([ellipse.semi_major_m, ellipse.semi_minor_m], 1.0) / FACTOR
    return np.asarray(axes.T @ np.diag(sizes**2) @ axes)
