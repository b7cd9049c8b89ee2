"""Sweep width, coverage and the chance of detection.

``C = W L / A`` (for parallel tracks ``W / S``). Random search ``POD = 1 - exp(-C)``, inverse
cube ``erf(C sqrt(pi) / 2)``, definite range ``min(C, 1)``.

References
----------
Koopman, Search and Screening, OEG Report 56 (1946): the formulas agree with an integration of
the lateral range curve (VERIFIED by integration; the report itself not seen).
"""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt
import scipy

from layers.earth.arrays import Floats
from layers.earth.errors import InputError
from layers.earth.units import M_S_PER_KN, S_PER_H

PodCurve = Literal["inverse cube", "random", "definite range"]


def pod(coverage: npt.ArrayLike, curve: PodCurve = "inverse cube") -> Floats:
    """Return the chance of detection at a coverage factor; 0 at 0."""
    c = np.asarray(coverage, dtype=np.float64)
    if np.any(c < 0.0):
        raise InputError("a coverage cannot be negative", where="coverage", accepted="0 or more")
    if curve == "random":
        return np.asarray(1.0 - np.exp(-c))
    if curve == "definite range":
        return np.minimum(c, 1.0)
    return np.asarray(scipy.special.erf(c * np.sqrt(np.pi) / 2.0))


def hours_to_cover(across_m: float, spacing_m: float, speed_kn: float) -> float:
    """Return the hours to cover a circle with parallel tracks at a spacing.

    The tracks' length is the circle's area over the spacing; each change of track takes
    ``spacing / speed`` more.
    """
    if min(across_m, spacing_m, speed_kn) <= 0.0:
        raise InputError("size, spacing and speed must be more than 0", where="search time")
    speed = speed_kn * M_S_PER_KN
    tracks = max(int(np.ceil(across_m / spacing_m)), 1)
    length = np.pi * (across_m / 2.0) ** 2 / spacing_m
    return float((length / speed + (tracks - 1) * spacing_m / speed) / S_PER_H)
