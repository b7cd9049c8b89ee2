"""Polygons of land cut, turned and sorted into squares, without a search by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from layers.earth.arrays import Floats

TILE_DEG = 5
ON_EDGE_DEG = 5e-7


def wrapped(longitude_deg: Any) -> Any:
    """Return longitudes as -180 <= longitude < 180."""
    return (np.asarray(longitude_deg) + 180.0) % 360.0 - 180.0


def turns(west: float, east: float) -> list[tuple[float, float, float]]:
    """Return (offset, west, east) for each turn of the earth that a rectangle reaches into."""
    if east < west:
        east += 360.0
    if east - west >= 360.0:
        return [(0.0, -180.0, 180.0)]
    found = []
    for offset in (-360.0, 0.0, 360.0):
        w, e = max(west - offset, -180.0), min(east - offset, 180.0)
        if w < e:
            found.append((offset, w, e))
    return found


def slit(polygon: Any) -> Any:
    """Return one ring for a polygon with lakes: each joined to the shore there and back."""
    ring = shapely.get_coordinates(polygon.exterior)
    for lake in polygon.interiors:
        loop = shapely.get_coordinates(lake)
        nearest = int(np.argmin(np.hypot(*(ring - loop[0]).T)))
        ring = np.concatenate((ring[: nearest + 1], loop, ring[nearest:]))
    return shapely.linestrings(ring)


def without_cuts(xy: Floats, west: float, south: float, east: float, north: float) -> list[Floats]:
    """Split a ring where it runs along the rectangle that cut it, or the edge of the data."""
    along = np.zeros(len(xy) - 1, dtype=bool)
    for axis, edges in ((0, (west, east, -180.0, 180.0)), (1, (south, north, -90.0))):
        for edge in edges:
            on = np.abs(xy[:, axis] - edge) < ON_EDGE_DEG
            along |= on[:-1] & on[1:]
    if not along.any():
        return [xy]
    breaks = np.flatnonzero(along)
    starts = np.concatenate(([0], breaks + 1))
    ends = np.concatenate((breaks, [len(xy) - 1]))
    return [xy[s : e + 1] for s, e in zip(starts, ends, strict=True) if e > s]


def by_tile(lat: Floats, lon: Floats) -> list[tuple[tuple[int, int], npt.NDArray[np.int64]]]:
    """Return the places grouped by tile; places not known belong to none."""
    known = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon))
    tiles = np.stack((_corner(lon[known]), _corner(np.minimum(lat[known], 89.99))), axis=1)
    unique, which = np.unique(tiles, axis=0, return_inverse=True)
    return [
        ((int(west), int(south)), known[which.reshape(-1) == number])
        for number, (west, south) in enumerate(unique)
    ]


def tiles_of(starts: Floats, ends: Floats) -> list[tuple[int, int]]:
    """Return the tiles that short steps may touch, in order along the line."""
    tiles: dict[tuple[int, int], None] = {}
    for w, s, e, n in zip(
        _corner(np.minimum(starts[:, 0], ends[:, 0])),
        _corner(np.minimum(starts[:, 1], ends[:, 1])),
        _corner(np.maximum(starts[:, 0], ends[:, 0])),
        _corner(np.maximum(starts[:, 1], ends[:, 1])),
        strict=True,
    ):
        for west in range(int(w), int(e) + 1, TILE_DEG):
            for south in range(int(s), int(n) + 1, TILE_DEG):
                if -180 <= west < 180 and -90 <= south < 90:
                    tiles[west, south] = None
    return list(tiles)


def pairs(tree: shapely.STRtree, shapes: Any) -> list[tuple[int, npt.NDArray[np.int64]]]:
    """Return, per polygon of the tree, the shapes whose rectangle meets its own, in order."""
    shape, polygon = tree.query(shapes)
    order = np.lexsort((shape, polygon))
    shape, polygon = shape[order], polygon[order]
    starts = np.flatnonzero(np.diff(polygon, prepend=-1))
    return [
        (int(polygon[start]), run)
        for start, run in zip(starts, np.split(shape, starts[1:]), strict=False)
    ]


def _corner(degrees: Floats) -> npt.NDArray[np.int64]:
    return (np.floor(degrees / TILE_DEG) * TILE_DEG).astype(np.int64)
