"""The rhumb line on the WGS 84 ellipsoid: the line of constant course.

Vectorised, latitude first, degrees and metres. Written so that nothing cancels when the two
latitudes are nearly or exactly equal: all differences are taken in closed form.

Notes
-----
Meridional parts: ``M = (10800 / pi) (atanh(sin p) - e atanh(e sin p))``; course
``tan C = DLo / dM``; distance ``dm / cos C`` with ``dm`` the arc of the meridian.
With ``d`` the difference and ``m`` the mean of two latitudes,

    atanh(sin p2) - atanh(sin p1)     = 2 atanh(sin(d/2) / cos m)
    atanh(e sin p2) - atanh(e sin p1) = atanh(e (sin p2 - sin p1) / (1 - e2 sin p1 sin p2))
    sin p2 - sin p1                   = 2 cos m sin(d/2)

The meridian arc is the series in the third flattening ``n`` to ``n**6``.

References
----------
Helmert, F. R. (1880), Die mathematischen und physikalischen Theorieen der höheren Geodäsie, vol. 1
(the series, as in Karney 2011, Transverse Mercator with an accuracy of a few nanometers; from
memory, checked in the tests against the meridian quadrant and pygeodesy).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats

A_M = 6_378_137.0  # WGS 84 semi-major axis, exactly; NGA.STND.0036
F = 1.0 / 298.257223563  # WGS 84 flattening, exactly; NGA.STND.0036
E2 = F * (2.0 - F)
E = float(np.sqrt(E2))
_N = F / (2.0 - F)
RECTIFYING_RADIUS_M = A_M / (1.0 + _N) * (1.0 + _N**2 / 4.0 + _N**4 / 64.0 + _N**6 / 256.0)
_ARC = (
    -3.0 * _N / 2.0 + 9.0 * _N**3 / 16.0 - 3.0 * _N**5 / 32.0,
    15.0 * _N**2 / 16.0 - 15.0 * _N**4 / 32.0 + 135.0 * _N**6 / 2048.0,
    -35.0 * _N**3 / 48.0 + 105.0 * _N**5 / 256.0,
    315.0 * _N**4 / 512.0 - 189.0 * _N**6 / 512.0,
    -693.0 * _N**5 / 1280.0,
    1001.0 * _N**6 / 2048.0,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RhumbInverse:
    """Distance and course from A to B along the rhumb line, arrays of one shape.

    The course is NaN where A and B are the same place.
    """

    distance_m: Floats
    bearing_true_deg: Floats


def meridian_arc_m(mean_rad: Floats, difference_rad: Floats) -> Floats:
    """Return the arc of the meridian between two latitudes, from their mean and difference."""
    arc = difference_rad.copy()
    for k, coefficient in enumerate(_ARC, start=1):
        arc += coefficient * 2.0 * np.cos(2 * k * mean_rad) * np.sin(k * difference_rad)
    return RECTIFYING_RADIUS_M * arc


def _isometric_difference(mean_rad: Floats, difference_rad: Floats) -> Floats:
    """Return the difference of isometric latitude (radians), infinite when a pole is reached."""
    half, cosine = np.sin(difference_rad / 2.0), np.cos(mean_rad)
    with np.errstate(divide="ignore", invalid="ignore"):
        sphere = 2.0 * np.arctanh(np.clip(half / cosine, -1.0, 1.0))
    sines = np.sin(mean_rad) ** 2 - half**2  # sin p1 sin p2
    flattened = E * np.arctanh(E * 2.0 * cosine * half / (1.0 - E2 * sines))
    return np.asarray(sphere - flattened, dtype=np.float64)


def _metres_per_isometric(mean_rad: Floats, difference_rad: Floats) -> Floats:
    """Return dm / dpsi between two latitudes; at equal latitudes the radius of the parallel."""
    equal = difference_rad == 0.0
    safe = np.where(equal, 1.0e-3, difference_rad)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = meridian_arc_m(mean_rad, safe) / _isometric_difference(mean_rad, safe)
    parallel = A_M * np.cos(mean_rad) / np.sqrt(1.0 - E2 * np.sin(mean_rad) ** 2)
    return np.where(equal, parallel, ratio)


def inverse(
    latitude_a_deg: npt.ArrayLike,
    longitude_a_deg: npt.ArrayLike,
    latitude_b_deg: npt.ArrayLike,
    longitude_b_deg: npt.ArrayLike,
) -> RhumbInverse:
    """Return distance and course from A to B along the shorter rhumb line.

    Parameters
    ----------
    latitude_a_deg, longitude_a_deg, latitude_b_deg, longitude_b_deg : array_like
        Degrees; shapes that broadcast together. Longitudes 180° apart go by the east.
    """
    lat_a, lon_a, lat_b, lon_b = (
        np.asarray(part, dtype=np.float64)
        for part in (latitude_a_deg, longitude_a_deg, latitude_b_deg, longitude_b_deg)
    )
    lat_a, lon_a, lat_b, lon_b = np.broadcast_arrays(lat_a, lon_a, lat_b, lon_b)
    east = np.radians(180.0 - (180.0 - (lon_b - lon_a)) % 360.0)
    mean, difference = np.radians((lat_a + lat_b) / 2.0), np.radians(lat_b - lat_a)
    along = meridian_arc_m(mean, difference)
    psi = _isometric_difference(mean, difference)
    across = np.abs(east) * _metres_per_isometric(mean, difference)
    # at a pole psi is infinite and the parallel has no length: only the meridian counts
    distance = np.hypot(along, np.where(np.isinf(psi), 0.0, across))
    course = np.degrees(np.arctan2(east, psi)) % 360.0
    course = np.where(course >= 360.0, 0.0, course)
    course = np.where(distance < 1e-6, np.nan, course)
    return RhumbInverse(distance_m=distance, bearing_true_deg=course)


def forward(
    latitude_deg: npt.ArrayLike,
    longitude_deg: npt.ArrayLike,
    bearing_true_deg: npt.ArrayLike,
    distance_m: npt.ArrayLike,
) -> tuple[Floats, Floats]:
    """Return (latitude_deg, longitude_deg) after a distance on a constant course.

    NaN where the line would run past a pole: a rhumb line ends there.
    """
    lat, lon, course, run = np.broadcast_arrays(
        *(
            np.asarray(part, dtype=np.float64)
            for part in (latitude_deg, longitude_deg, bearing_true_deg, distance_m)
        )
    )
    start, course_rad = np.radians(lat), np.radians(course)
    along = run * np.cos(course_rad)
    difference = _latitude_difference(start, along)
    end = start + difference
    past = np.abs(end) > np.pi / 2.0 + 1e-12
    mean = start + difference / 2.0
    per_isometric = _metres_per_isometric(mean, difference)
    with np.errstate(divide="ignore", invalid="ignore"):
        east = np.degrees(run * np.sin(course_rad) / per_isometric)
    east = np.where(run * np.sin(course_rad) == 0.0, 0.0, east)
    east = np.where(np.isfinite(east), east, np.nan)
    turned = 180.0 - (180.0 - (lon + east)) % 360.0
    unusable = past | np.isnan(east)
    latitude = np.clip(lat + np.degrees(difference), -90.0, 90.0)
    return np.where(unusable, np.nan, latitude), np.where(unusable, np.nan, turned)


def _latitude_difference(start_rad: Floats, along_m: Floats) -> Floats:
    """Return the difference of latitude that an arc of the meridian makes, by Newton."""
    difference = along_m / RECTIFYING_RADIUS_M
    for _ in range(5):
        end_sine2 = np.sin(start_rad + difference) ** 2
        radius = A_M * (1.0 - E2) / (1.0 - E2 * end_sine2) ** 1.5
        arc = meridian_arc_m(start_rad + difference / 2.0, difference)
        difference = difference + (along_m - arc) / radius
    return np.asarray(difference, dtype=np.float64)
