"""How surely a box-in is solved where replies from the side are noisier than from overhead."""

from __future__ import annotations

import numpy as np

from layers.earth.arrays import Floats


def noisy_from_the_side(
    matrix: Floats, slope: Floats, gap: Floats, level: Floats, sigma_m: float, held_sigma: Floats
) -> Floats:
    """Return the covariance of all that is solved, replies from the side as noisy as they are.

    Noise of her positions is in a reply from the side and hardly in one from overhead, and it is
    those from the side that fix the place: one sigma for all would make the ellipse too small.
    The variance is a line over ``level``, the square of the level part of each ray (0 for ranges
    between transponders), through the squares of the residuals, each set free of what it pulled
    itself (White 1980; MacKinnon and White 1985); never less from the side than from overhead.
    """
    inverse = np.linalg.inv(matrix)
    own = np.einsum("ij,jk,ik->i", slope, inverse, slope)
    square = gap**2 / (1.0 - np.minimum(own, 0.9))
    off = level - level.mean()
    rise = max(float(off @ square) / max(float(off @ off), 1e-9), 0.0)
    variance = np.maximum(sigma_m**2 + rise * off, 0.1 * sigma_m**2)
    middle = slope.T @ (slope * variance[:, None])
    middle[np.diag_indices(len(middle))] += sigma_m**4 / held_sigma**2
    return np.asarray(inverse @ middle @ inverse)
