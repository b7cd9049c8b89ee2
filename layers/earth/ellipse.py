"""Ellipses of error: what a covariance says of a place."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtri, fdtri

from layers.earth.arrays import Floats
from layers.earth.values import Ellipse


def ellipse_of(covariance: Floats, freedom: int | None = None) -> Ellipse:
    """Return the 95 % ellipse of a covariance, m².

    Parameters
    ----------
    covariance : ndarray, shape (2, 2)
        East first; the upper triangle is read.
    freedom : int, optional
        Degrees of freedom when the scale was estimated from residuals (then 2 F(0.95; 2, ν));
        without it the scale is known (χ² with two degrees: 2.448 sigma, not 1.96).
    """
    full = np.triu(covariance) + np.triu(covariance, 1).T
    values, vectors = np.linalg.eigh(full)
    factor = chdtri(2, 0.05) if freedom is None else 2.0 * fdtri(2, freedom, 0.95)
    east, north = vectors[:, 1]
    return Ellipse(
        semi_major_m=float(np.sqrt(max(values[1], 0.0) * factor)),
        semi_minor_m=float(np.sqrt(max(values[0], 0.0) * factor)),
        bearing_true_deg=float(np.degrees(np.arctan2(east, north)) % 180.0),
    )
