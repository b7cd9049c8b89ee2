"""Fields on curved grids brought onto straight parallels and meridians.

A model of a coast, or one on a turned pole, gives latitude and longitude point by point. Its
values are brought over by straight interpolation within the triangles between its own points
(Delaunay, by scipy); outside of them, and beside a point that is missing, nothing is known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy

from layers.earth.arrays import Array
from layers.earth.errors import InputError

MOST_POINTS = 250_000
MOST_LINES = 400  # of the straight grid, either way


@dataclass(frozen=True, slots=True)
class Straightened:
    """How values on curved points become values on straight ones.

    ``corners`` has shape (n, 3), places in the flat curved grid; ``weights`` the same, NaN where
    a straight point lies outside.
    """

    latitudes_deg: Array
    longitudes_deg: Array
    corners: Array
    weights: Array

    def apply(self, values: Array) -> Array:
        """Return values of shape (time, y, x) on the straight grid, (time, latitude, longitude)."""
        flat = values.reshape(len(values), -1)
        made = np.einsum("tnk,nk->tn", flat[:, self.corners], self.weights)
        shape = (len(values), len(self.latitudes_deg), len(self.longitudes_deg))
        straight: Array = made.reshape(shape).astype(np.float32)
        return straight


def straightened(latitudes_deg: Array, longitudes_deg: Array) -> Straightened:
    """Return how a curved grid is brought onto a straight one of about the same spacing.

    Parameters
    ----------
    latitudes_deg, longitudes_deg : ndarray, shape (ny, nx)
        Of each point.

    Raises
    ------
    InputError
        Missing coordinates, too many points, or points that span no surface.
    """
    lat = np.asarray(latitudes_deg, dtype=np.float64)
    lon = np.asarray(longitudes_deg, dtype=np.float64)
    if not (np.isfinite(lat).all() and np.isfinite(lon).all()) or np.abs(lat).max() > 90.0:
        raise InputError("a point of its curved grid has no latitude or longitude")
    if lat.size > MOST_POINTS or min(lat.shape) < 2:
        raise InputError(f"a curved grid of {lat.shape[0]} by {lat.shape[1]} points",
                         accepted=f"2 by 2 to {MOST_POINTS} points in all: cut it")  # fmt: skip
    lon = (lon - lon.flat[0] + 180.0) % 360.0 - 180.0 + lon.flat[0]  # over the date line too
    steps = [np.hypot(np.diff(lat, axis=a), np.diff(lon, axis=a)) for a in (0, 1)]
    step = max(float(np.median(np.concatenate([s.ravel() for s in steps]))), 1e-4)
    straight = [
        np.linspace(v.min(), v.max(), int(np.clip(np.ceil(np.ptp(v) / step) + 1, 2, MOST_LINES)))
        for v in (lat, lon)
    ]
    try:
        mesh = scipy.spatial.Delaunay(np.column_stack([lon.ravel(), lat.ravel()]))
    except (scipy.spatial.QhullError, ValueError):
        raise InputError("the points of its curved grid span no surface") from None
    x, y = np.meshgrid(straight[1], straight[0])
    points = np.column_stack([x.ravel(), y.ravel()])
    simplex = mesh.find_simplex(points)
    affine = mesh.transform[simplex]
    two = np.einsum("nij,nj->ni", affine[:, :2], points - affine[:, 2])
    weights = np.column_stack([two, 1.0 - two.sum(axis=1)])
    weights[simplex < 0] = np.nan
    longitudes = straight[1]
    turned = longitudes - 360.0 * np.floor((longitudes[0] + 180.0) / 360.0)
    return Straightened(straight[0], turned, mesh.simplices[simplex], weights)
