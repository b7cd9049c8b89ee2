"""Grids of depth: kept as one blob of plain arrays, read at any place, finest first."""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import lru_cache
from zipfile import BadZipFile

import numpy as np
import numpy.typing as npt
from pyproj import Transformer

from layers.earth.arrays import Floats
from layers.earth.errors import InputError
from layers.transponders.model import DepthGridRecord

Floats32 = npt.NDArray[np.float32]
MOST_CELLS = 36_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Raster:
    """Depths at cell centres of a regular grid in its own reference system.

    ``x`` and ``y`` ascend; ``depth_m`` is (ny, nx), positive down, NaN where not known;
    ``uncertainty_m`` like it, or None.
    """

    x: Floats
    y: Floats
    depth_m: Floats32
    uncertainty_m: Floats32 | None
    crs: str


def pack(raster: Raster) -> bytes:
    """Return a raster as the bytes of its blob; the same raster gives the same bytes."""
    arrays = {"x": raster.x, "y": raster.y, "depth_m": raster.depth_m}
    if raster.uncertainty_m is not None:
        arrays["uncertainty_m"] = raster.uncertainty_m
    held = io.BytesIO()
    np.savez_compressed(held, crs=np.array(raster.crs), **arrays)  # type: ignore[arg-type]  # stub lacks kwargs of arrays
    return held.getvalue()


def unpack(data: bytes) -> Raster:
    """Return the raster of a blob.

    Raises
    ------
    InputError
        The blob is damaged.
    """
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as held:
            return Raster(
                x=held["x"],
                y=held["y"],
                depth_m=held["depth_m"],
                uncertainty_m=held.get("uncertainty_m", None),
                crs=str(held["crs"]),
            )
    except (OSError, ValueError, KeyError, BadZipFile) as failure:
        raise InputError(f"a stored depth grid is damaged ({failure})") from None


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthAt:
    """Depth at one place with what it rests on."""

    depth_m: float
    spread_m: float  # greatest less least of the four cells round it
    uncertainty_m: float | None
    cell_m: float
    source: str
    not_for_navigation: bool


@dataclass(frozen=True, slots=True)
class Seabed:
    """All loaded grids as one: `layers.earth.values.DepthGrid`; they come to lie finest first."""

    grids: tuple[tuple[DepthGridRecord, Raster], ...]

    def __post_init__(self) -> None:
        """Put the finest first."""
        ordered = tuple(sorted(self.grids, key=lambda pair: _cell(pair[0])))
        object.__setattr__(self, "grids", ordered)

    @property
    def cell_m(self) -> float:
        """The finest cell, nan without a grid."""
        return _cell(self.grids[0][0]) if self.grids else float("nan")

    @property
    def source(self) -> str:
        """The grids by their titles."""
        return "; ".join(record.title for record, _ in self.grids)

    def depth_m(self, latitudes_deg: Floats, longitudes_deg: Floats) -> Floats:
        """Return depth by bilinear interpolation, m, shape (n,); NaN where there is no grid."""
        lat = np.atleast_1d(np.asarray(latitudes_deg, dtype=np.float64))
        lon = np.atleast_1d(np.asarray(longitudes_deg, dtype=np.float64))
        depth, doubt = np.full(lat.shape, np.nan), np.full(lat.shape, np.inf)
        for record, raster in self.grids:
            # what a finer grid has stands, unless both tell their uncertainty, this one less
            want = np.isnan(depth) | np.isfinite(doubt) * (raster.uncertainty_m is not None)
            want &= (lat >= record.south_deg) & (lat <= record.north_deg)
            if not np.any(want):
                continue
            there = interpolate(raster, raster.depth_m, lat[want], lon[want])
            sure = np.full(there.shape, np.inf)
            if raster.uncertainty_m is not None:
                sure = interpolate(raster, raster.uncertainty_m, lat[want], lon[want])
                sure = np.where(np.isfinite(sure), sure, np.inf)
            better = np.isfinite(there) & (np.isnan(depth[want]) | (sure < doubt[want]))
            at = np.flatnonzero(want)[better]
            depth[at], doubt[at] = there[better], sure[better]
        return depth

    def at(self, latitude_deg: float, longitude_deg: float) -> DepthAt | None:
        """Return depth at one place with its cell, spread and source, None off every grid."""
        lat, lon = np.array([latitude_deg]), np.array([longitude_deg])
        best: DepthAt | None = None
        for record, raster in self.grids:
            depth = interpolate(raster, raster.depth_m, lat, lon)
            if np.isnan(depth[0]):
                continue
            four = _corners(raster, lat, lon)
            doubt = None
            if raster.uncertainty_m is not None:
                doubt = float(interpolate(raster, raster.uncertainty_m, lat, lon)[0])
            found = DepthAt(
                depth_m=float(depth[0]),
                spread_m=float(np.ptp(four)),
                uncertainty_m=doubt if doubt is not None and np.isfinite(doubt) else None,
                cell_m=_cell(record),
                source=record.title,
                not_for_navigation=record.not_for_navigation,
            )
            if best is None or (
                best.uncertainty_m is not None
                and found.uncertainty_m is not None
                and found.uncertainty_m < best.uncertainty_m
            ):
                best = found
        return best


def _cell(record: DepthGridRecord) -> float:
    return max(record.cell_x_m, record.cell_y_m)


@lru_cache(maxsize=32)
def _onto(crs: str) -> Transformer:
    return Transformer.from_crs("EPSG:4326", crs, always_xy=True)


def _place(raster: Raster, lat: Floats, lon: Floats) -> tuple[Floats, Floats]:
    """Return the place of points in units of cells from the first centre."""
    if raster.crs == "EPSG:4326":
        x, y = lon, lat
        x = np.where(x < raster.x[0] - 1e-9, x + 360.0, x)  # a grid across the date line
    else:
        x, y = _onto(raster.crs).transform(lon, lat)
    step_x, step_y = raster.x[1] - raster.x[0], raster.y[1] - raster.y[0]
    return (np.asarray(x) - raster.x[0]) / step_x, (np.asarray(y) - raster.y[0]) / step_y


def interpolate(raster: Raster, values: Floats32, lat: Floats, lon: Floats) -> Floats:
    """Return values between the four cell centres round each point; NaN off the grid.

    Within half a cell of the edge the value of the edge cell is taken.
    """
    column, row = _place(raster, lat, lon)
    ny, nx = values.shape
    off = (column < -0.5) | (column > nx - 0.5) | (row < -0.5) | (row > ny - 0.5)
    off |= ~np.isfinite(column + row)
    column = np.clip(np.where(off, 0.0, column), 0.0, nx - 1.0)
    row = np.clip(np.where(off, 0.0, row), 0.0, ny - 1.0)
    i, j = np.minimum(column.astype(int), nx - 2), np.minimum(row.astype(int), ny - 2)
    u, v = column - i, row - j
    low = values[j, i] * (1.0 - u) + values[j, i + 1] * u
    high = values[j + 1, i] * (1.0 - u) + values[j + 1, i + 1] * u
    return np.where(off, np.nan, low * (1.0 - v) + high * v)


def _corners(raster: Raster, lat: Floats, lon: Floats) -> Floats:
    column, row = _place(raster, lat, lon)
    ny, nx = raster.depth_m.shape
    i = int(np.clip(column[0], 0, nx - 2))
    j = int(np.clip(row[0], 0, ny - 2))
    return np.asarray(raster.depth_m[j : j + 2, i : i + 2], dtype=np.float64)
