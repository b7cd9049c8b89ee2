"""A small plane in metres about one place, for work within some ten kilometres of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri, fdtri

from layers.earth.arrays import Floats
from layers.earth.geodesy import forward, inverse
from layers.earth.position import Position
from layers.earth.values import Ellipse


@dataclass(frozen=True, slots=True)
class Plane:
    """East and north in metres from an origin, azimuthal equidistant on the ellipsoid.

    Ranges and bearings from the origin are exact; between two other points within 5 km of it a
    distance is wrong by less than 1 mm.
    """

    origin: Position

    def to_metres(
        self, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike
    ) -> tuple[Floats, Floats]:
        """Return east and north of places, m."""
        there = inverse(
            self.origin.latitude_deg, self.origin.longitude_deg, latitude_deg, longitude_deg
        )
        bearing = np.radians(np.nan_to_num(there.bearing_true_deg))  # NaN at the origin itself
        return there.distance_m * np.sin(bearing), there.distance_m * np.cos(bearing)

    def to_degrees(self, east_m: npt.ArrayLike, north_m: npt.ArrayLike) -> tuple[Floats, Floats]:
        """Return latitude and longitude of places on the plane, degrees."""
        east, north = np.asarray(east_m, dtype=float), np.asarray(north_m, dtype=float)
        there = forward(
            self.origin.latitude_deg,
            self.origin.longitude_deg,
            np.degrees(np.arctan2(east, north)),
            np.hypot(east, north),
        )
        return there.latitude_deg, there.longitude_deg

    def position(self, east_m: float, north_m: float) -> Position:
        """Return one place on the plane."""
        lat, lon = self.to_degrees(east_m, north_m)
        return Position(float(lat), float(lon))


def fine(position: Position) -> str:
    """Return degrees and minutes to a thousandth, about 2 m: ``49°50.128′N 008°29.788′W``."""
    return " ".join(
        _fine(angle, width, letters)
        for angle, width, letters in (
            (position.latitude_deg, 2, "NS"),
            (position.longitude_deg, 3, "EW"),
        )
    )


def _fine(angle_deg: float, width: int, letters: str) -> str:
    thousandths = round(abs(angle_deg) * 60_000.0)
    degrees, rest = divmod(thousandths, 60_000)
    return f"{degrees:0{width}d}°{rest / 1000.0:06.3f}′{letters[angle_deg < 0]}"


def ellipse_95(covariance: Floats, freedom: int | None = None) -> Ellipse:
    """Return the 95 % ellipse of an east, north covariance, m².

    Parameters
    ----------
    covariance : ndarray, shape (2, 2)
        East first.
    freedom : int, optional
        Degrees of freedom when the scale was estimated from residuals (then 2 F(0.95; 2, ν));
        without it the scale is known (χ² with two degrees: 2.448 sigma, not 1.96).
    """
    values, vectors = np.linalg.eigh(covariance)
    factor = chdtri(2, 0.05) if freedom is None else 2.0 * fdtri(2, freedom, 0.95)
    east, north = vectors[:, 1]
    return Ellipse(
        semi_major_m=float(np.sqrt(max(values[1], 0.0) * factor)),
        semi_minor_m=float(np.sqrt(max(values[0], 0.0) * factor)),
        bearing_true_deg=float(np.degrees(np.arctan2(east, north)) % 180.0),
    )
