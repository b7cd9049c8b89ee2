"""Three-point times: the beta distribution, its mean and variance, and draws of it.

References
----------
Malcolm, Roseboom, Clark & Fazar (1959), Application of a technique for research and development
program evaluation, Operations Research 7(5), 646-669: mean (a + 4m + b)/6 and standard
deviation (b − a)/6 (from memory, not checked against the page). The beta distribution used is
the one with exactly that mean and shape parameters that sum to 6; its own variance is
(μ − a)(b − μ)/7, which equals ((b − a)/6)² only near the middle.
"""

from __future__ import annotations

import hashlib
from functools import lru_cache

import numpy as np
import scipy

from layers.earth.arrays import Floats

_PLACES = 801


def mean_h(least_h: float, likely_h: float, most_h: float) -> float:
    """Return the mean, (a + 4m + b) / 6."""
    return (least_h + 4.0 * likely_h + most_h) / 6.0


def uniforms(key: str, seed: int, n: int) -> Floats:
    """Return the ``n`` random numbers that belong to a key: the same in every option."""
    words = np.frombuffer(hashlib.sha256(f"{seed} {key}".encode()).digest(), dtype=np.uint32)
    return np.random.default_rng(words).random(n)


def draw_h(least_h: float, likely_h: float, most_h: float, u: Floats) -> Floats:
    """Return durations for uniform numbers: the beta quantile, so equal numbers stay equal.

    Parameters
    ----------
    least_h, likely_h, most_h : float
        In order.
    u : ndarray, shape (n,)
        0 to 1.
    """
    span = most_h - least_h
    if span <= 0.0:
        return np.full(len(u), likely_h)
    share = round((likely_h - least_h) / span, 6)
    places, quantiles = _quantiles(share)
    return least_h + span * np.interp(u, places, quantiles)


SHARED = 0.5  # of the variance of those with one cause, an assumption (common practice, no source)


@lru_cache(maxsize=400)
def draws_of(
    key: str, seed: int, n: int, least_h: float, likely_h: float, most_h: float, cause: str = ""
) -> Floats:
    """Return the draws of an activity, read-only; kept, since most do not change in between.

    Activities with one ``cause`` are long or short together.
    """
    found = draw_h(least_h, likely_h, most_h, of_cause(key, seed, n, cause))
    found.setflags(write=False)
    return found


def of_cause(key: str, seed: int, n: int, cause: str) -> Floats:
    """Return the uniform numbers of an activity; with a cause, half of it is the cause's."""
    own = uniforms(key, seed, n)
    if not cause:
        return own
    common = uniforms(f"cause {cause}", seed, n)
    mixed = np.sqrt(SHARED) * _normal(common) + np.sqrt(1.0 - SHARED) * _normal(own)
    return np.asarray(scipy.special.ndtr(mixed))


def _normal(u: Floats) -> Floats:
    return np.asarray(scipy.special.ndtri(np.clip(u, 1e-12, 1.0 - 1e-12)))


def under_way_h(
    least_h: float, likely_h: float, most_h: float, elapsed_h: float, u: Floats
) -> Floats | None:
    """Return whole durations of what has run for a time and is not done; None past its most.

    The distribution given that it takes longer than ``elapsed_h``: the quantile of
    F(elapsed) + u (1 - F(elapsed)).
    """
    if elapsed_h >= most_h:
        return None
    if elapsed_h <= least_h:
        return draw_h(least_h, likely_h, most_h, u)
    span = most_h - least_h
    places, quantiles = _quantiles(round((likely_h - least_h) / span, 6))
    done = float(np.interp((elapsed_h - least_h) / span, quantiles, places))
    return draw_h(least_h, likely_h, most_h, done + u * (1.0 - done))


@lru_cache(maxsize=512)
def _quantiles(share: float) -> tuple[Floats, Floats]:
    """Return a table of beta quantiles, closer together towards both ends."""
    places = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, _PLACES)))
    found = scipy.special.betaincinv(1.0 + 4.0 * share, 1.0 + 4.0 * (1.0 - share), places)
    return places, np.asarray(found, dtype=np.float64)
