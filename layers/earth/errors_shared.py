"""Errors have owners: one gyro, one receiver's place, one profile, one forecast.

An error that belongs to somebody is the same in all that he reports, however often he reports
it. So it is named, has one prior, and is drawn once for all that it touches: layers that share an
owner share the draw, for it follows from the owner's name and one seed. Where a draw is not
wanted, because weighted particles carry the estimate, the owner's error is *solved out*: followed
from report to report as a mean and a variance (`Solved`).

Decision: between layers only the estimate of an owner is shared, not the draw, where one of them
weighs particles; a weight belongs to a whole particle and cannot be handed over.
"""

from __future__ import annotations

import numpy as np

from layers.earth.arrays import Singles

ROOT_TWO_PI = float(np.sqrt(2.0 * np.pi))


class Solved:
    """An owner's error solved out: what is known of it after each report, place by place.

    The error is ``z`` standard deviations; ``z`` is normal (0, 1) before any report. A report
    reads ``load * z`` plus an error of its own, unless it is wrong; then it says nothing of
    ``z``. After each report the two cases are joined to one normal law with their mean and
    variance, so that the cost is one report's, however many there are.

    Parameters
    ----------
    places : int
        Number of places followed side by side.
    """

    def __init__(self, places: int) -> None:
        self.mean: Singles = np.zeros(places, dtype=np.float32)
        self.variance: Singles = np.ones(places, dtype=np.float32)

    def take(
        self,
        off: Singles,
        own_variance: Singles | float,
        load: Singles | float,
        right: Singles | float,
        wrong_density: Singles,
    ) -> Singles:
        """Return the density of one report at each place, and learn from it.

        Parameters
        ----------
        off : ndarray, shape (n,)
            Measured minus computed.
        own_variance, load : ndarray or float
            Of the report's own error; its share in the owner's.
        right : ndarray or float
            Chance that it is right, 0 where it cannot be.
        wrong_density : ndarray, shape (n,)
            Density of the report if wrong, times the chance of that.
        """
        spread = load * load * self.variance + own_variance
        gap = off - load * self.mean
        good = right * np.exp(gap * gap / (-2.0 * spread)) / (np.sqrt(spread) * ROOT_TWO_PI)
        density = good + wrong_density
        belief = good / density
        gain = self.variance * load / spread
        step = gain * gap
        shrunk = belief * gain * load * self.variance
        self.mean = self.mean + belief * step
        self.variance = self.variance - shrunk + belief * (1.0 - belief) * step * step
        return np.asarray(density, dtype=np.float32)
