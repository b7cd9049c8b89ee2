"""How warm the gas of a refuge will be: each partial pressure falls as it cools, in each draw.

A boat without power cools towards the sea. At constant moles and volume every partial pressure
goes with the absolute temperature, so ten degrees are 3.5 in 100: low oxygen comes sooner, carbon
dioxide and pressure later, than by a temperature held at its last reading.
"""

from __future__ import annotations

from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.units import KELVIN_AT_0_C
from layers.survivors.air.drawn import normals
from layers.survivors.air.known import RefugeKnown
from layers.survivors.air.learning.trend import SLOW_H, SLOW_SHARE, line_of

# What is held of a refuge's cooling before it was read twice, degC an hour: between nothing and a
# tenth of a degree, the most that 15 degC over the sea give by Newton's law in 150 h. Our
# assumption.
SLOPE_C_H, SLOPE_SIGMA_C_H = -0.05, 0.04
COLDEST_K = KELVIN_AT_0_C - 2.0  # sea water freezes there; no refuge gets colder


def kelvin_ahead(
    one: RefugeKnown, at: datetime, edges_h: Floats, kelvin_now: Floats, seed: int
) -> Floats:
    """Return the mean temperature of the gas between each two hours ahead, draw by draw.

    Parameters
    ----------
    edges_h : ndarray, shape (n_spans + 1,)
        Hours after ``at``, rising.
    kelvin_now : ndarray, shape (n_draws,)
        As it was read last, K.

    Returns
    -------
    ndarray, shape (n_spans, n_draws)
        K; by Newton's law from the slope of the readings, joined to what is held without any.
    """
    n_draws = len(kelvin_now)
    normal = [normals(seed, n_draws, one.refuge, "trend", "temperature", n) for n in (1, 2)]
    slow_h = SLOW_H * np.exp(SLOW_SHARE * normal[1])
    slope, sigma, since_h = SLOPE_C_H, SLOPE_SIGMA_C_H, 0.0
    line = line_of(one, "temperature", at)
    if line is not None:
        since_h = line.read_h  # the gas has cooled since it was read
        if line.slope is not None:
            weight = sigma**2 / (sigma**2 + line.slope_sigma**2)
            slope = slope + weight * (line.slope - slope)
            sigma = sigma * float(np.sqrt(1.0 - weight))
    end_c = (slope + sigma * normal[0]) * slow_h
    left = slow_h * np.exp(-(since_h + edges_h[:, None]) / slow_h)
    kept = (left[:-1] - left[1:]) / np.diff(edges_h)[:, None]
    return np.asarray(np.maximum(kelvin_now + end_c * (1.0 - kept), COLDEST_K))
