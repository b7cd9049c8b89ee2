"""The sea as a net of places joined by straight runs that are clear of the coastline.

Each square of five degrees is cut into ever smaller cells where there is coast, down to about a
mile; a cell of open sea has its place in the middle, a cell on the coast where it has most water
about it. Neighbouring places are joined where the run between them does not touch land, tested on
the full coastline. A square is cut once and kept on disk beside the coastline.

References
----------
Samet, H. (1984), The quadtree and related hierarchical data structures, ACM Computing Surveys
16(2): cells and the finding of neighbours.
"""

from __future__ import annotations

import os
import tempfile
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol
from zipfile import BadZipFile

import numpy as np
import numpy.typing as npt
import shapely

from layers.earth.arrays import Bools, Floats, Ints
from layers.earth.shore.shapes import TILE_DEG, pairs

FORMAT = 2
COARSEST, FINEST = 2, 8  # halvings of five degrees: 1.25° in open water, 0.02° on the coast
SAMPLES = 5  # places tried along each side of a coastal cell
ISLET = 60  # corners: polygons with no more are asked all at once
KEPT = 400
SOUTHMOST, NORTHMOST = -80, 85
Tile = tuple[int, int]
_SIDES = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (1, -1), (-1, 1), (-1, -1))


class Coast(Protocol):
    """The coastline as the net asks for it."""

    @property
    def folder(self) -> Path | None:
        """Where the coastline is kept, and the net beside it; None keeps nothing."""
        ...

    def tile(self, west: int, south: int) -> tuple[npt.NDArray[Any], shapely.STRtree]:
        """Return the polygons of land in a square of five degrees, prepared, and their tree."""
        ...


@dataclass(frozen=True, slots=True)
class Shore:
    """The land of one square: large polygons one by one, thousands of islets all at once."""

    large: npt.NDArray[Any]
    large_tree: shapely.STRtree
    islets: shapely.STRtree

    @classmethod
    def of(cls, polygons: npt.NDArray[Any]) -> Shore:
        """Return the land of a square, parted by size."""
        big = shapely.get_num_coordinates(polygons) > ISLET if len(polygons) else np.zeros(0, bool)
        large = polygons[big]
        return cls(large, shapely.STRtree(large), shapely.STRtree(polygons[~big]))

    def meets(self, shapes: Any) -> Bools:
        """Return which shapes touch land."""
        hit = np.zeros(len(shapes), dtype=bool)
        hit[self.islets.query(shapes, predicate="intersects")[0]] = True
        for number, near in pairs(self.large_tree, shapes):
            left = near[~hit[near]]
            hit[left] |= shapely.intersects(self.large[number], shapes[left])
        return hit

    def holds(self, boxes: Any, some: Bools) -> Bools:
        """Return which of the boxes that touch land are land all over (of large polygons)."""
        whole = np.zeros(len(boxes), dtype=bool)
        for number, near in pairs(self.large_tree, boxes):
            left = near[some[near] & ~whole[near]]
            whole[left] |= shapely.contains_properly(self.large[number], boxes[left])
        return whole


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells of one square that have water: level, column and row at it, and their place."""

    level: Ints
    column: Ints
    row: Ints
    lon: Floats
    lat: Floats


class SeaGraph:
    """Squares of the net, cut when they are first asked for."""

    def __init__(self, coast: Coast) -> None:
        self.coast = coast
        self._cells: OrderedDict[Tile, Cells] = OrderedDict()
        self._runs: OrderedDict[Tile, Ints] = OrderedDict()
        self._shores: OrderedDict[Tile, Shore] = OrderedDict()
        self._plain: Ints | None = None

    def shore(self, tile: Tile) -> Shore:
        """Return the land of a square."""
        if tile not in self._shores:
            _keep(self._shores, tile, Shore.of(self.coast.tile(*tile)[0]))
        return self._shores[tile]

    def cells(self, tile: Tile) -> Cells:
        """Return the cells of a square."""
        if tile not in self._cells:
            held = self._load(tile, "cells")
            if held is None:
                found = _cut(self.shore(tile), tile)
                self._save(tile, "cells", np.stack([found.level, found.column, found.row,
                                                    found.lon, found.lat]))  # fmt: skip
            else:
                whole = held[:3].astype(np.int64)
                found = Cells(*whole, *held[3:].astype(np.float64))
            _keep(self._cells, tile, found)
        return self._cells[tile]

    def runs(self, tile: Tile) -> Ints:
        """Return the runs from a square's cells, (n, 4).

        A row is the cell, the steps to the square of the other end (east, north), the cell there.
        """
        if tile not in self._runs:
            held = self._load(tile, "runs")
            if held is not None:
                found = held.astype(np.int64)
            elif self._open(tile):
                found = self._open_runs(tile)
            else:
                found = self._joined(tile)
                self._save(tile, "runs", found.astype(np.int32))
            _keep(self._runs, tile, found)
        return self._runs[tile]

    def _open(self, tile: Tile) -> bool:
        """Return whether a square and all about it are open sea."""
        about = [_beside(tile, east, north) for east in (-1, 0, 1) for north in (-1, 0, 1)]
        whole = 4**COARSEST
        return all(
            each is not None
            and len(cells := self.cells(each).level) == whole
            and bool((cells == COARSEST).all())
            for each in about
        )

    def _open_runs(self, tile: Tile) -> Ints:
        """Return the runs of a square of open sea among others: the same everywhere."""
        if self._plain is None:
            self._plain = self._joined(tile)
        return self._plain

    def _joined(self, tile: Tile) -> Ints:
        mine = self.cells(tile)
        if not len(mine.level):
            return np.empty((0, 4), dtype=np.int64)
        size = TILE_DEG / 2.0**mine.level
        west = mine.column * size
        south = mine.row * size
        tiny = TILE_DEG / 2.0 ** (FINEST + 3)
        found = []
        for east, north in _SIDES:
            # a point just outside the middle of each side, and outside each corner
            x = west + size / 2 + east * (size / 2 + tiny)
            y = south + size / 2 + north * (size / 2 + tiny)
            found += self._at(tile, np.arange(len(size)), x, y)
        joined = np.unique(np.concatenate(found), axis=0) if found else np.empty((0, 4), np.int64)
        return self._clear(tile, joined)

    def _at(self, tile: Tile, cell: Ints, x: Floats, y: Floats) -> list[Ints]:
        """Return runs from cells to those that hold points given in degrees from the corner."""
        out = []
        for east in (-1, 0, 1):
            for north in (-1, 0, 1):
                inside = (np.floor(x / TILE_DEG) == east) & (np.floor(y / TILE_DEG) == north)
                other = _beside(tile, east, north)
                if not inside.any() or other is None:
                    continue
                here = np.flatnonzero(inside)
                index = find(
                    self.cells(other), x[here] - east * TILE_DEG, y[here] - north * TILE_DEG
                )
                good = index >= 0
                n = int(good.sum())
                out.append(
                    np.stack(
                        [cell[here][good], np.full(n, east), np.full(n, north), index[good]], axis=1
                    )
                )
        return out

    def _clear(self, tile: Tile, runs: Ints) -> Ints:
        """Return the runs that touch no land."""
        if not len(runs):
            return runs
        mine = self.cells(tile)
        starts = np.stack([mine.lon[runs[:, 0]], mine.lat[runs[:, 0]]], axis=1)
        ends = np.empty_like(starts)
        bad = np.zeros(len(runs), dtype=bool)
        for east in (-1, 0, 1):
            for north in (-1, 0, 1):
                these = (runs[:, 1] == east) & (runs[:, 2] == north)
                other = _beside(tile, east, north)
                if these.any() and other is not None:
                    there, at = self.cells(other), runs[these, 3]
                    lon = there.lon[at] - other[0] + tile[0] + east * TILE_DEG
                    ends[these] = np.stack([lon, there.lat[at]], axis=1)
        for east in (-1, 0, 1):
            for north in (-1, 0, 1):
                other = _beside(tile, east, north)
                if other is None:
                    continue
                turn = np.array([other[0] - tile[0] - east * TILE_DEG, 0.0])
                low, high = np.minimum(starts, ends), np.maximum(starts, ends)
                corner = np.array([tile[0] + east * TILE_DEG, tile[1] + north * TILE_DEG])
                near = ~bad & np.all((high >= corner) & (low <= corner + TILE_DEG), axis=1)
                at = np.flatnonzero(near)
                if len(at):
                    lines = np.stack([starts[at] + turn, ends[at] + turn], axis=1)
                    bad[at] |= self.shore(other).meets(shapely.linestrings(lines))
        return runs[~bad]

    def _path(self, tile: Tile, what: str) -> Path | None:
        if self.coast.folder is None:
            return None
        name = f"{what}_{tile[0]}_{tile[1]}.npz"
        return self.coast.folder / f"sea_net_{FORMAT}" / name

    def _load(self, tile: Tile, what: str) -> npt.NDArray[Any] | None:
        path = self._path(tile, what)
        if path is None or not path.exists():
            return None
        try:
            with np.load(path, allow_pickle=False) as held:
                return np.asarray(held["held"])
        except (OSError, ValueError, KeyError, BadZipFile):
            return None  # half written by a process that was stopped: cut again

    def _save(self, tile: Tile, what: str, values: npt.NDArray[Any]) -> None:
        path = self._path(tile, what)
        if path is None:
            return
        try:
            path.parent.mkdir(exist_ok=True)
            handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
            with os.fdopen(handle, "wb") as file:
                np.savez_compressed(file, held=values)
            Path(name).replace(path)
        except OSError:
            return  # a full or read-only disk costs the keeping, not the route


def _keep(held: OrderedDict[Tile, Any], tile: Tile, value: Any) -> None:
    held[tile] = value
    while len(held) > KEPT:
        held.popitem(last=False)


def _beside(tile: Tile, east: int, north: int) -> Tile | None:
    south = tile[1] + north * TILE_DEG
    if not SOUTHMOST <= south < NORTHMOST:
        return None
    return (tile[0] + east * TILE_DEG + 180) % 360 - 180, south


def _cut(shore: Shore, tile: Tile) -> Cells:
    """Return the cells of a square: open water large, coast small, land none."""
    side = 2**COARSEST
    row, column = (grid.ravel() for grid in np.mgrid[0:side, 0:side])
    parts: list[tuple[Ints, Ints, Ints, Floats, Floats]] = []
    for level in range(COARSEST, FINEST + 1):
        size = TILE_DEG / 2**level
        west, south = tile[0] + column * size, tile[1] + row * size
        boxes = shapely.box(west, south, west + size, south + size)
        some = shore.meets(boxes)
        whole = shore.holds(boxes, some)
        open_ = ~some
        n = int(open_.sum())
        parts.append((np.full(n, level), column[open_], row[open_],
                      west[open_] + size / 2, south[open_] + size / 2))  # fmt: skip
        coast = some & ~whole
        if level == FINEST:
            lon, lat, wet = _wettest(shore, west[coast], south[coast], size)
            n = int(wet.sum())
            parts.append((np.full(n, level), column[coast][wet], row[coast][wet],
                          lon[wet], lat[wet]))  # fmt: skip
            break
        column = np.concatenate([2 * column[coast] + i for i in (0, 1) for _ in (0, 1)])
        row = np.concatenate([2 * row[coast] + j for _ in (0, 1) for j in (0, 1)])
        if not len(column):
            break
    levels, columns, rows, lons, lats = (np.concatenate(p) for p in zip(*parts, strict=True))
    return Cells(levels.astype(np.int64), columns, rows, lons, lats)


def _wettest(
    shore: Shore, west: Floats, south: Floats, size: float
) -> tuple[Floats, Floats, Bools]:
    """Return, per coastal cell, the place with most water about it, and whether it has any."""
    if not len(west):
        return west, south, np.zeros(0, dtype=bool)
    step = (np.arange(SAMPLES) + 0.5) / SAMPLES * size
    lon = (west[:, None, None] + step[None, None, :]) + np.zeros((1, SAMPLES, 1))
    lat = (south[:, None, None] + step[None, :, None]) + np.zeros((1, 1, SAMPLES))
    wet = ~shore.meets(shapely.points(lon.ravel(), lat.ravel())).reshape(lon.shape)
    about = np.pad(wet, ((0, 0), (1, 1), (1, 1)), mode="edge").astype(np.int64)
    count = sum(about[:, i : i + SAMPLES, j : j + SAMPLES] for i in range(3) for j in range(3))
    middle = np.abs(np.arange(SAMPLES) - SAMPLES // 2)  # of places as good, the one in the middle
    score = np.where(wet, 20 * count - (middle[:, None] + middle[None, :]), -1_000)
    score = score.reshape(len(west), -1)
    best = score.argmax(axis=1)
    cell = np.arange(len(west))
    return (
        lon.reshape(len(west), -1)[cell, best],
        lat.reshape(len(west), -1)[cell, best],
        np.asarray(wet.reshape(len(west), -1).any(axis=1)),
    )


def find(cells: Cells, x: Floats, y: Floats) -> Ints:
    """Return which cell holds each point, degrees from the square's corner; -1 for land."""
    found = np.full(len(x), -1, dtype=np.int64)
    key = _key(cells.level, cells.column, cells.row)
    order = np.argsort(key)
    sorted_key = key[order]
    for level in range(COARSEST, FINEST + 1):
        size = TILE_DEG / 2**level
        wanted = _key(
            np.full(len(x), level), np.floor(x / size).astype(np.int64),
            np.floor(y / size).astype(np.int64),
        )  # fmt: skip
        place = np.minimum(np.searchsorted(sorted_key, wanted), len(key) - 1)
        hit = (found < 0) & (sorted_key[place] == wanted) if len(key) else np.zeros(len(x), bool)
        found[hit] = order[place[hit]]
    return found


def _key(level: Ints, column: Ints, row: Ints) -> Ints:
    return np.asarray((level << 40) | (column << 20) | row)
