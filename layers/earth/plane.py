"""A flat working plane: metres east and north, azimuthal equidistant about a centre.

From the centre ranges and bearings are exact; between two points within 5 km of it a distance is
wrong by less than 1 mm. Within `REACH_M` a distance on the plane is true to 1 part in 4,000 and a
direction, turned by the meridian convergence at the observer, to a few hundredths of a degree;
beyond it the ellipsoid is asked.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import scipy
from pyproj import Transformer

from layers.earth.arrays import Floats
from layers.earth.geodesy import WGS84, forward
from layers.earth.position import Position
from layers.earth.values import Ellipse

REACH_M = 250_000.0


@dataclass(frozen=True, slots=True)
class Plane:
    """The plane about a centre (latitude and longitude in degrees)."""

    latitude_deg: float
    longitude_deg: float

    @classmethod
    def about(cls, centre: Position) -> Plane:
        """Return the plane about a place."""
        return cls(centre.latitude_deg, centre.longitude_deg)

    def project(
        self, latitudes_deg: npt.ArrayLike, longitudes_deg: npt.ArrayLike
    ) -> tuple[Floats, Floats]:
        """Return metres east and north of the centre, same shape."""
        x, y = _transformers(self).transform(
            np.asarray(longitudes_deg, dtype=np.float64),
            np.asarray(latitudes_deg, dtype=np.float64),
        )
        return np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)

    def unproject(self, x_m: npt.ArrayLike, y_m: npt.ArrayLike) -> tuple[Floats, Floats]:
        """Return latitudes and longitudes in degrees, same shape."""
        lon, lat = _transformers(self).transform(
            np.asarray(x_m, dtype=np.float64),
            np.asarray(y_m, dtype=np.float64),
            direction="INVERSE",
        )
        return np.asarray(lat, dtype=np.float64), np.asarray(lon, dtype=np.float64)

    def point(self, latitude_deg: float, longitude_deg: float) -> tuple[float, float]:
        """Return one place in metres east and north."""
        x, y = _transformers(self).transform(longitude_deg, latitude_deg)
        return float(x), float(y)

    def position(self, x_m: float, y_m: float) -> Position:
        """Return the place of one point of the plane."""
        lon, lat = _transformers(self).transform(x_m, y_m, direction="INVERSE")
        return Position(float(lat), float(lon))

    def convergence_deg(self, latitude_deg: float, longitude_deg: float) -> float:
        """Return the direction of true north on the plane, degrees clockwise from the y axis."""
        x, y = self.point(latitude_deg, longitude_deg)
        lon_n, lat_n, _ = WGS84.fwd(longitude_deg, latitude_deg, 0.0, 1_000.0)
        x_n, y_n = self.point(float(lat_n), float(lon_n))
        return float(np.degrees(np.arctan2(x_n - x, y_n - y)))


@lru_cache(maxsize=64)
def _transformers(plane: Plane) -> Transformer:
    crs = (
        f"+proj=aeqd +lat_0={plane.latitude_deg!r} +lon_0={plane.longitude_deg!r} "
        "+ellps=WGS84 +units=m +no_defs"
    )
    return Transformer.from_crs("EPSG:4326", crs, always_xy=True)


def range_bearing(
    plane: Plane, latitude_deg: float, longitude_deg: float, x_m: Floats, y_m: Floats
) -> tuple[Floats, Floats]:
    """Return metres and degrees true from an observer to points of the plane, shape (n,)."""
    ox, oy = plane.point(latitude_deg, longitude_deg)
    if np.hypot(ox, oy) > REACH_M:
        lat, lon = plane.unproject(x_m, y_m)
        azimuth, _, metres = WGS84.inv(
            np.full_like(lat, longitude_deg), np.full_like(lat, latitude_deg), lon, lat
        )
        return np.asarray(metres), np.asarray(azimuth) % 360.0
    east, north = x_m - ox, y_m - oy
    turned = plane.convergence_deg(latitude_deg, longitude_deg)
    bearing = (np.degrees(np.arctan2(east, north)) - turned) % 360.0
    return np.hypot(east, north), bearing


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
    special = scipy.special
    factor = special.chdtri(2, 0.05) if freedom is None else 2.0 * special.fdtri(2, freedom, 0.95)
    east, north = vectors[:, 1]
    return Ellipse(
        semi_major_m=float(np.sqrt(max(values[1], 0.0) * factor)),
        semi_minor_m=float(np.sqrt(max(values[0], 0.0) * factor)),
        bearing_true_deg=float(np.degrees(np.arctan2(east, north)) % 180.0),
    )


def ellipse_ring(position: Position, ellipse: Ellipse, n: int = 90) -> tuple[Floats, Floats]:
    """Return an ellipse of ``n + 1`` vertices; the last repeats the first.

    Parameters
    ----------
    position : Position
        Its centre.
    ellipse : Ellipse
        Its semi-axes are laid off as ranges on the ellipsoid.
    n : int
        Number of different vertices.
    """
    turn = np.linspace(0.0, 2.0 * np.pi, n + 1)
    along, across = ellipse.semi_major_m * np.cos(turn), ellipse.semi_minor_m * np.sin(turn)
    bearings = ellipse.bearing_true_deg + np.degrees(np.arctan2(across, along))
    found = forward(
        position.latitude_deg, position.longitude_deg, bearings, np.hypot(along, across)
    )
    return found.latitude_deg, found.longitude_deg
