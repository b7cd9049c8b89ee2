"""Where the values of a GRIB field lie: rows put in order, projected grids brought to north.

Grids after WMO-No. 306 vol. I.2, template 3.n, and its flag tables 3.3 (which way vectors point)
and 3.4 (in which order the points stand).
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from layers.earth.arrays import Array
from layers.earth.errors import InputError

STRAIGHT = ("regular_ll", "regular_gg", "mercator")
CURVED = ("rotated_ll", "lambert", "polar_stereographic", "lambert_azimuthal_equal_area")
# The decoder works out where their points lie from the first one on, row by row to north and east,
# whatever the message says of their order (found with eccodes 2.42; the tests hold it).
FROM_SOUTHWEST = ("mercator", "lambert", "polar_stereographic")
ALONG_GRID = 8  # bit 5 of flag table 3.3, and of table 7 of edition 1
VECTORS = (("wind_east_m_s", "wind_north_m_s"), ("current_east_m_s", "current_north_m_s"))


@dataclass(frozen=True, slots=True)
class _Order:
    """In which order the points of a grid stand in their message."""

    rows: int
    columns: int
    by_columns: bool  # a column after the other, not a row
    there_and_back: bool  # each second line runs against the first
    westward: bool  # x falls along a row

    def laid_out(self, points: Array) -> Array:
        """Return points as (rows, columns); the array given is turned in place."""
        if points.size != self.rows * self.columns:
            raise InputError(f"{points.size} values on a grid of {self.rows} by {self.columns}")
        lines = (self.columns, self.rows) if self.by_columns else (self.rows, self.columns)
        laid = points.reshape(lines)
        if self.there_and_back:
            laid[1::2] = laid[1::2, ::-1]
        return laid.T if self.by_columns else laid


@dataclass(frozen=True, eq=False)
class GribGrid:
    """One grid: latitude and longitude of its points, and the order in which they are sent.

    Of a curved grid they have the shape (rows, columns), of a straight one (rows, 1) and
    (1, columns). ``every`` says which of its points are used where a curved grid has more than
    can be brought over; ``mark`` is the same for grids of the same points with vectors the same
    way.
    """

    latitudes_deg: Array
    longitudes_deg: Array
    order: _Order
    curved: bool
    along_grid: bool  # its vectors point along its own lines, not east and north
    every: int
    mark: str

    def laid_out(self, values: Array) -> Array:
        """Return values as the points are."""
        return self.order.laid_out(values)[:: self.every, :: self.every]

    @property
    def notes(self) -> list[str]:
        """Return what is to be said of what was done to the values."""
        if not self.curved:
            return []
        said = "a projected grid, brought onto parallels and meridians by straight interpolation"
        few = f"one of {self.every} of its rows and columns used"
        return [said, few] if self.every > 1 else [said]

    def to_north(self, found: dict[str, Array]) -> dict[str, Array]:
        """Return the variables with vectors along the grid's own lines turned to east and north."""
        if not self.along_grid or not self.curved:
            return found
        turned = dict(found)
        for east, north in VECTORS:
            if east in found and north in found:
                cos, sin = np.cos(self._bearing), np.sin(self._bearing)
                turned[east] = found[east] * cos - found[north] * sin
                turned[north] = found[east] * sin + found[north] * cos
        return turned

    @cached_property
    def _bearing(self) -> Array:
        """Return how far north of east a row runs towards growing x, radians, at each point."""
        lat, lon = np.radians(self.latitudes_deg), np.radians(self.longitudes_deg)
        zero = np.zeros_like(lat)
        place = np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])
        east = np.stack([-np.sin(lon), np.cos(lon), zero])
        north = np.stack([-np.sin(lat) * np.cos(lon), -np.sin(lat) * np.sin(lon), np.cos(lat)])
        along = np.gradient(place, axis=2, edge_order=2 if lat.shape[1] > 2 else 1)
        along = -along if self.order.westward else along
        bearing: Array = np.arctan2((along * north).sum(axis=0), (along * east).sum(axis=0))
        return bearing

    def straight(self, variables: dict[str, Array]) -> tuple[Array, Array, dict[str, Array]]:
        """Return latitudes, longitudes and the variables on straight parallels and meridians."""
        if not self.curved:
            return self.latitudes_deg[:, 0], self.longitudes_deg[0], variables
        from layers.weather.forecast.curved import straightened

        made = straightened(self.latitudes_deg, self.longitudes_deg)
        brought = {name: made.apply(values) for name, values in variables.items()}
        return made.latitudes_deg, made.longitudes_deg, brought


def grid_of(eccodes: Any, message: int, known: dict[str, GribGrid]) -> GribGrid:
    """Return the grid of a message; ``known`` holds those of the messages before.

    Raises
    ------
    InputError
        A grid that is not read, or whose parallels or meridians are not straight.
    """
    section = str(eccodes.codes_get(message, "md5GridSection", ktype=str))
    if section not in known:
        made = _made(eccodes, message)
        known[section] = known.setdefault(made.mark, made)
    return known[section]


def _made(eccodes: Any, message: int) -> GribGrid:
    def number(key: str) -> int:
        return int(eccodes.codes_get(message, key, ktype=int))

    sort = str(eccodes.codes_get(message, "gridType", ktype=str))
    if sort not in (*STRAIGHT, *CURVED):
        raise InputError(
            f"its grid is {sort}",
            accepted=f"one of rows and columns ({', '.join((*STRAIGHT, *CURVED))})",
        )
    curved = sort in CURVED
    order = _Order(
        rows=number("Nj"),
        columns=number("Ni"),
        by_columns=bool(number("jPointsAreConsecutive")),
        there_and_back=bool(number("alternativeRowScanning")),
        westward=bool(number("iScansNegatively")),
    )
    if sort in FROM_SOUTHWEST and (order.westward or not number("jScansPositively")):
        raise InputError(
            f"the points of its grid ({sort}) run from the north or from the east",
            accepted="from the south-west, or parallels and meridians in any order",
        )
    # the decoder's coordinates run each line the same way, whatever the values do
    made = replace(order, there_and_back=False,
                   by_columns=order.by_columns and sort not in FROM_SOUTHWEST)  # fmt: skip
    latitudes, longitudes = (
        made.laid_out(eccodes.codes_get_array(message, key)) for key in ("latitudes", "longitudes")
    )
    along = curved and bool(number("resolutionAndComponentFlags") & ALONG_GRID)
    every = 1
    if curved:
        from layers.weather.forecast.curved import MOST_POINTS

        every = max(1, int(np.ceil(np.sqrt(latitudes.size / MOST_POINTS))))
        latitudes, longitudes = latitudes[::every, ::every], longitudes[::every, ::every]
    elif np.ptp(latitudes, axis=1).max() > 1e-6 or np.ptp(longitudes, axis=0).max() > 1e-6:
        raise InputError("its parallels or meridians are not straight")
    else:
        latitudes, longitudes = latitudes[:, :1].copy(), longitudes[:1].copy()
    mark = hashlib.sha256(latitudes.tobytes() + longitudes.tobytes() + bytes([along]))
    return GribGrid(latitudes, longitudes, order, curved, along, every, mark.hexdigest())
