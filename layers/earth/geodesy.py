"""Range and bearing on the WGS 84 ellipsoid, and the figures drawn with them.

Everything is vectorised: scalars or arrays of one shape go in, latitude first; arrays come
out. Bearings are degrees true, 0 <= bearing < 360. A NaN in gives a NaN out.

References
----------
Karney, C. F. F. (2013), Algorithms for geodesics, J. Geodesy 87, 43-55, as carried by PROJ and
called through ``pyproj.Geod`` (which takes longitude first and returns the back bearing).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from pyproj import Geod

from layers.earth import rhumb
from layers.earth.arrays import Floats
from layers.earth.chart.marks import Path
from layers.earth.position import Position

WGS84 = Geod(ellps="WGS84")
EARTH_AREA_M2 = 510_065_621_724_088.5  # of the WGS 84 ellipsoid; geographiclib 2.1
SAME_PLACE_M = 1e-6  # nearer than this there is no bearing
STEPS_PER_LEG = 2_000  # a leg is never cut into more


@dataclass(frozen=True, slots=True, kw_only=True)
class Inverse:
    """Range and bearing from A to B, arrays of one shape.

    Parameters
    ----------
    distance_m : ndarray
        Length of the geodesic.
    bearing_true_deg : ndarray
        At A towards B; NaN where A and B are the same place.
    back_bearing_true_deg : ndarray
        At B towards A; NaN where A and B are the same place.
    """

    distance_m: Floats
    bearing_true_deg: Floats
    back_bearing_true_deg: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Forward:
    """Where a range and bearing lead, arrays of one shape."""

    latitude_deg: Floats
    longitude_deg: Floats
    back_bearing_true_deg: Floats


def inverse(
    latitude_a_deg: npt.ArrayLike,
    longitude_a_deg: npt.ArrayLike,
    latitude_b_deg: npt.ArrayLike,
    longitude_b_deg: npt.ArrayLike,
) -> Inverse:
    """Return range and bearing from A to B along the geodesic.

    Parameters
    ----------
    latitude_a_deg, longitude_a_deg, latitude_b_deg, longitude_b_deg : array_like
        Degrees; shapes that broadcast together.
    """
    lon_a, lat_a, lon_b, lat_b = _own(
        longitude_a_deg, latitude_a_deg, longitude_b_deg, latitude_b_deg
    )
    unknown = np.isnan(lon_a + lat_a + lon_b + lat_b)
    # inplace: the answers overwrite the three first arguments, which are our own copies
    out = WGS84.inv(lon_a, lat_a, lon_b, lat_b, inplace=True)
    bearing, back, distance = (np.asarray(part, dtype=np.float64) for part in out)
    _turn_positive(bearing)
    _turn_positive(back)
    same = distance < SAME_PLACE_M
    if np.any(same):
        bearing[same] = np.nan
        back[same] = np.nan
    if np.any(unknown):
        for part in (bearing, back, distance):
            part[unknown] = np.nan
    return Inverse(distance_m=distance, bearing_true_deg=bearing, back_bearing_true_deg=back)


def forward(
    latitude_deg: npt.ArrayLike,
    longitude_deg: npt.ArrayLike,
    bearing_true_deg: npt.ArrayLike,
    distance_m: npt.ArrayLike,
) -> Forward:
    """Return the place at a range and bearing along the geodesic; all arguments broadcast."""
    lon, lat, bearing, distance = _own(longitude_deg, latitude_deg, bearing_true_deg, distance_m)
    unknown = np.isnan(lon + lat + bearing + distance)
    out = WGS84.fwd(lon, lat, bearing, distance)
    lon, lat, back = (np.array(part, dtype=np.float64) for part in out)
    _turn_positive(back)
    for part in (lon, lat, back):
        part[unknown] = np.nan
    return Forward(latitude_deg=lat, longitude_deg=lon, back_bearing_true_deg=back)


def _own(*parts: npt.ArrayLike) -> tuple[Floats, ...]:
    """Return copies of our own, broadcast together and packed as PROJ takes them."""
    whole = np.broadcast_arrays(*(np.asarray(part, dtype=np.float64) for part in parts))
    return tuple(np.array(part, order="C") for part in whole)


def _turn_positive(bearing_deg: Floats) -> None:
    """Turn -180..180 into 0 <= bearing < 360, in place."""
    np.add(bearing_deg, 360.0, out=bearing_deg, where=bearing_deg < 0.0)
    bearing_deg[bearing_deg >= 360.0] = 0.0  # -1e-15 + 360 is 360.0 in floating point
    np.add(bearing_deg, 0.0, out=bearing_deg)  # -0.0 becomes 0.0


def between(a: Position, b: Position) -> tuple[float, float, float]:
    """Return (distance_m, bearing_true_deg, back_bearing_true_deg) between two places."""
    found = inverse(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
    return (
        float(found.distance_m),
        float(found.bearing_true_deg),
        float(found.back_bearing_true_deg),
    )


def going(start: Position, bearing_true_deg: float, distance_m: float) -> Position:
    """Return the place at a range and bearing from another, along the geodesic."""
    found = forward(start.latitude_deg, start.longitude_deg, bearing_true_deg, distance_m)
    return Position(float(found.latitude_deg), float(found.longitude_deg))


def densify(
    latitudes_deg: npt.ArrayLike,
    longitudes_deg: npt.ArrayLike,
    path: Path,
    max_step_m: float,
) -> tuple[Floats, Floats]:
    """Return the vertices with others put between, so that no step is longer than asked.

    Parameters
    ----------
    latitudes_deg, longitudes_deg : array_like, shape (n,)
        Vertices; a NaN pair breaks the line and is kept.
    path : Path
        Geodesic or rhumb line; `Path.AS_GIVEN` comes back as it is.
    max_step_m : float
        Longest step; a leg is cut into 2,000 at most.
    """
    lat = np.asarray(latitudes_deg, dtype=np.float64)
    lon = np.asarray(longitudes_deg, dtype=np.float64)
    if path is Path.AS_GIVEN or lat.size < 2:
        return lat, lon
    if path is Path.RHUMB:
        rhumbs = rhumb.inverse(lat[:-1], lon[:-1], lat[1:], lon[1:])
        distance, bearing = rhumbs.distance_m, rhumbs.bearing_true_deg
    else:
        found = inverse(lat[:-1], lon[:-1], lat[1:], lon[1:])
        distance, bearing = found.distance_m, found.bearing_true_deg
    steps = np.ceil(np.nan_to_num(distance) / max_step_m)
    steps = np.clip(steps, 1, STEPS_PER_LEG).astype(np.int64)
    leg = np.repeat(np.arange(steps.size), steps)
    first = np.concatenate(([0], np.cumsum(steps)[:-1]))
    part = np.arange(leg.size) - first[leg]
    run = distance[leg] * part / steps[leg]
    inner = part > 0
    out_lat, out_lon = lat[leg].copy(), lon[leg].copy()
    if np.any(inner):
        at = leg[inner]
        if path is Path.RHUMB:
            between_lat, between_lon = rhumb.forward(lat[at], lon[at], bearing[at], run[inner])
        else:
            moved = forward(lat[at], lon[at], bearing[at], run[inner])
            between_lat, between_lon = moved.latitude_deg, moved.longitude_deg
        out_lat[inner], out_lon[inner] = between_lat, between_lon
    return np.append(out_lat, lat[-1]), np.append(out_lon, lon[-1])


def ring(position: Position, radius_m: float, n: int = 120) -> tuple[Floats, Floats]:
    """Return a range ring of ``n + 1`` vertices; the last repeats the first."""
    bearings = np.linspace(0.0, 360.0, n + 1)
    found = forward(position.latitude_deg, position.longitude_deg, bearings, radius_m)
    return found.latitude_deg, found.longitude_deg


def area_m2(latitudes_deg: npt.ArrayLike, longitudes_deg: npt.ArrayLike) -> float:
    """Return the area inside a closed figure with geodesic sides, in square metres.

    Parameters
    ----------
    latitudes_deg, longitudes_deg : array_like, shape (n,)
        Its corners in order, either way round; the first need not be repeated.

    Notes
    -----
    The smaller of the two parts that the figure cuts the earth into. Where the figure crosses
    itself the loops count against each other.
    """
    lat = np.asarray(latitudes_deg, dtype=np.float64)
    lon = np.asarray(longitudes_deg, dtype=np.float64)
    if lat.size < 3:
        return 0.0
    signed, _perimeter = WGS84.polygon_area_perimeter(lon, lat)
    area = abs(float(signed))
    return min(area, EARTH_AREA_M2 - area)
