"""Depth grids in NetCDF, of the kind of the general bathymetric charts: latitude, longitude, z."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from layers.contract import Feed, Origin, Reading
from layers.earth.errors import InputError
from layers.transponders.seabed.depth_draft import add_grid, refuse_huge, rejected
from layers.transponders.seabed.depth_grid import Raster

_MAGIC = (b"CDF\x01", b"CDF\x02", b"CDF\x05", b"\x89HDF")
_SAYS = (b"elevation", b"athymetr", b"opograph", b"Relief", b"relief", b"sea_floor_depth")
_OTHER = (b"JULD", b"wind", b"VHM0", b"wave", b"thetao")
_METRES = {"m", "meter", "meters", "metre", "metres"}
_UP = ("elevation", "height", "relief", "topograph", "altitude")
_DOWN = ("depth", "bathymetry")


def recognise(head: bytes, name: str) -> float:
    """Return how surely this is a depth grid in NetCDF."""
    if not head.startswith(_MAGIC) or any(word in head for word in _OTHER):
        return 0.0
    if any(word in head for word in _SAYS):
        return 0.9
    return 0.6 if "gebco" in name.lower() or "bathy" in name.lower() else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return the depth grid of a NetCDF file, or the reason why there is none."""
    from netCDF4 import Dataset  # imported here: this reader runs in a process of its own

    reading = Reading()
    try:
        with Dataset("grid", memory=data) as file:
            _read(file, origin, reading)
    except InputError as reason:
        reading.rejects.append(rejected(origin, str(reason)))
    except (OSError, KeyError, RuntimeError, ValueError, IndexError):
        said = "a depth grid (NetCDF) that is damaged or cut short: get the file again"
        reading.rejects.append(rejected(origin, said))
    return reading


def _read(file: Any, origin: Origin, reading: Reading) -> None:
    lat, lon = _axis(file, "lat", origin), _axis(file, "lon", origin)
    variable = _depths(file, lat[0], lon[0], origin)
    refuse_huge(len(lon[1]), len(lat[1]), origin.source)
    notes: list[str] = []
    values = np.ma.filled(variable[:].astype(np.float32), np.nan)
    if variable.dimensions[0] != lat[0]:
        values = values.T
    depth = -values if _is_up(variable, origin) else values
    x, depth = _turned(lon[1], depth, notes)
    y = lat[1]
    if y[0] > y[-1]:
        y, depth = y[::-1], depth[::-1]
    _even(x, "longitude", origin)
    _even(y, "latitude", origin)
    title = str(getattr(file, "title", "") or getattr(variable, "long_name", "") or variable.name)
    datum = str(getattr(variable, "vert_crs_name", "") or "not stated")
    add_grid(
        reading,
        Raster(
            x=np.ascontiguousarray(x, dtype=np.float64),
            y=np.ascontiguousarray(y, dtype=np.float64),
            depth_m=np.ascontiguousarray(depth, dtype=np.float32),
            uncertainty_m=None,
            crs="EPSG:4326",
        ),
        origin,
        title=f"{title} ({origin.source})",
        valid_at=origin.received_at,
        vertical_datum=datum,
        not_for_navigation=True,
        notes=[*notes, "a general grid: ask for a survey before anyone relies on a depth"],
    )


def _axis(file: Any, start: str, origin: Origin) -> tuple[str, npt.NDArray[np.float64]]:
    """Return the dimension and the values of latitude or longitude, found by their units."""
    unit = "degrees_north" if start == "lat" else "degrees_east"
    for variable in file.variables.values():
        if variable.ndim != 1:
            continue
        units = str(getattr(variable, "units", "")).lower()
        if units.replace("degree_", "degrees_") == unit:
            values = np.ma.filled(variable[:].astype(np.float64), np.nan)
            if len(values) < 2 or not np.all(np.isfinite(values)):
                raise InputError(f"axis {variable.name!r} is incomplete", where=origin.source)
            return variable.dimensions[0], values
    name = {"lat": "latitude", "lon": "longitude"}[start]
    raise InputError(f"no {name}", where=origin.source, accepted=f"a variable with units {unit!r}")


def _depths(file: Any, lat: str, lon: str, origin: Origin) -> Any:
    for variable in file.variables.values():
        if set(variable.dimensions) == {lat, lon} and variable.ndim == 2:
            units = str(getattr(variable, "units", "")).strip().lower()
            if units in _METRES:
                return variable
            said = f"units {units!r}" if units else "no units"
            raise InputError(
                f"variable {variable.name!r} has {said}", where=origin.source, accepted="metres"
            )
    raise InputError("no variable over latitude and longitude", where=origin.source)


def _is_up(variable: Any, origin: Origin) -> bool:
    """Return whether values count upwards; refuse to guess."""
    positive = str(getattr(variable, "positive", "")).lower()
    if positive in {"up", "down"}:
        return positive == "up"
    said = " ".join(
        str(getattr(variable, name, "")) for name in ("standard_name", "long_name")
    ).lower()
    said += f" {variable.name.lower()}"
    if any(word in said for word in _UP):
        return True
    if any(word in said for word in _DOWN):
        return False
    raise InputError(
        f"variable {variable.name!r} does not say whether it counts up or down",
        where=origin.source,
        accepted="attribute positive = 'up' or 'down', or a name such as elevation or depth",
    )


def _turned(
    lon: npt.NDArray[np.float64], depth: npt.NDArray[Any], notes: list[str]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[Any]]:
    """Return longitudes ascending; a grid of 0 to 360 is turned to -180 to 180 where it can be."""
    if lon[0] > lon[-1]:
        lon, depth = lon[::-1], depth[:, ::-1]
    if lon[-1] <= 180.0:
        return lon, depth
    notes.append("longitudes 0 to 360 turned to -180 to 180")
    if lon[0] >= 180.0:
        return lon - 360.0, depth
    if lon[-1] - lon[0] < 359.0:  # across the date line: kept running on past 180
        return lon, depth
    east = lon > 180.0
    return np.concatenate((lon[east] - 360.0, lon[~east])), np.concatenate(
        (depth[:, east], depth[:, ~east]), axis=1
    )


def _even(axis: npt.NDArray[np.float64], name: str, origin: Origin) -> None:
    steps = np.diff(axis)
    if np.any(steps <= 0.0) or np.ptp(steps) > 1e-3 * abs(float(np.mean(steps))):
        raise InputError(f"{name} is not evenly spaced", where=origin.source,
                         accepted="a regular grid")  # fmt: skip


FEED = Feed(
    key="depth_netcdf",
    title="depth grid (NetCDF)",
    recognise=recognise,
    read=read,
    stale_after_s=10 * 365 * 86_400.0,
    isolated=True,
)
