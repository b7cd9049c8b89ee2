"""Particles of one object on their way: one drift from release to now, whoever reports what."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from layers.datum.adrift.drift import Drifters, drift, sample_field, unknown_words
from layers.datum.probability.particles import systematic, weights
from layers.earth.arrays import Floats
from layers.earth.plane import Plane
from layers.earth.values import ConditionsField

# The field is sampled anew about the particles every so often, so that the square is as small as
# they lie and follows them wherever they go.
WINDOW_US = 3 * 3_600_000_000
FASTEST_M_S = 3.0  # room for what a window's drift covers


@dataclass(slots=True, kw_only=True)
class Flock:
    """Particles of one object on their way.

    Parameters
    ----------
    x_m, y_m : ndarray, shape (n,)
        Places on the plane at ``at_us``.
    exponents : dict of str to ndarray, shape (n,)
        What each search under way has swept of each particle so far.
    anchors : dict of str to (ndarray, ndarray)
        Where the particles were when the leg under way began.
    no_current_us, no_wind_us : float
        Microseconds drifted times the part of the field of which it was not known.
    """

    x_m: Floats
    y_m: Floats
    drifters: Drifters
    at_us: int
    released_us: npt.NDArray[np.int64] | None
    plane: Plane
    conditions: ConditionsField | None
    rng: np.random.Generator
    left: float = 1.0
    began_us: int = 0
    no_current_us: float = 0.0
    no_wind_us: float = 0.0
    exponents: dict[str, Floats] = field(default_factory=dict)
    anchors: dict[str, tuple[Floats, Floats]] = field(default_factory=dict)

    def go_to(self, at_us: int) -> None:
        """Drift on to a time; an earlier one changes nothing."""
        while at_us > self.at_us:
            until = min(at_us, self.at_us + WINDOW_US)
            low = np.quantile(self.x_m, 0.002), np.quantile(self.y_m, 0.002)
            high = np.quantile(self.x_m, 0.998), np.quantile(self.y_m, 0.998)
            middle = 0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1])
            room = 2.0 * FASTEST_M_S * (until - self.at_us) / 1e6 + 2_000.0
            side = float(max(high[0] - low[0], high[1] - low[1])) + room
            sampled = sample_field(
                self.conditions, self.plane, (float(middle[0]), float(middle[1])), side,
                self.at_us, until,
            )  # fmt: skip
            self.no_current_us += sampled.unknown_current * (until - self.at_us)
            self.no_wind_us += sampled.unknown_wind * (until - self.at_us)
            self.x_m, self.y_m = drift(
                sampled, self.x_m, self.y_m, self.at_us, until, self.drifters, self.rng,
                released_us=self.released_us,
            )  # fmt: skip
            self.at_us = until

    @property
    def unknown_words(self) -> str:
        """Of what part of the drift current or wind are not known, empty when both are."""
        whole = max(self.at_us - self.began_us, 1)
        return unknown_words(self.no_current_us / whole, self.no_wind_us / whole)

    def update(self, likelihood: Floats) -> None:
        """Draw the particles again in proportion to a likelihood, with all they carry."""
        with np.errstate(divide="ignore"):
            rows = systematic(weights(np.log(likelihood)), len(self.x_m), self.rng)
        self.keep(rows)

    def keep(self, rows: npt.NDArray[np.int64]) -> None:
        """Keep these particles, in this order."""
        self.x_m, self.y_m = self.x_m[rows], self.y_m[rows]
        if self.released_us is not None:
            self.released_us = self.released_us[rows]
        self.drifters = self.drifters.take(rows)
        self.exponents = {key: swept[rows] for key, swept in self.exponents.items()}
        self.anchors = {key: (x[rows], y[rows]) for key, (x, y) in self.anchors.items()}
