"""The water close about an end of a way, in boxes of 110 m: sounds and harbour channels.

The net's smallest cell is about a mile, so a channel of a few cables through rocks may have no
place of it that leads on. Here a box counts only where no land touches it, so the run between the
middles of two that touch each other is clear without a further test.
"""

from __future__ import annotations

import numpy as np
import shapely

from layers.earth.arrays import Bools, Floats, Ints
from layers.earth.position import Position
from layers.earth.shore.shapes import TILE_DEG
from layers.forward_port.legs.sea_graph import NORTHMOST, SOUTHMOST, SeaGraph

BOX_DEG = 0.001  # of latitude, and as many miles of longitude: 110 m
HALVINGS = 5  # boxes of 32 by 32 are asked about first
ACROSS = 17 * 2**HALVINGS  # boxes: 0.54°, 16 miles to every side of the end
_STEPS = ((0, 1), (1, 0), (1, 1), (1, -1))  # rows and columns to the neighbours, each pair once


class NarrowWaters:
    """The boxes of water about one end.

    ``lat`` and ``lon`` are the middles of the boxes that no land touches, degrees; ``one`` and
    ``other`` number pairs of them that touch each other.
    """

    def __init__(self, graph: SeaGraph, end: Position) -> None:
        self.size_lon = BOX_DEG / max(0.1, float(np.cos(np.radians(end.latitude_deg))))
        self.south = end.latitude_deg - ACROSS / 2 * BOX_DEG
        self.west = end.longitude_deg - ACROSS / 2 * self.size_lon
        wet = self._wet(graph)
        self.number = np.full(wet.shape, -1, dtype=np.int64)
        self.number[wet] = np.arange(int(wet.sum()))
        row, column = np.nonzero(wet)
        self.lat = self.south + (row + 0.5) * BOX_DEG
        self.lon = self.west + (column + 0.5) * self.size_lon
        one, other = [], []
        for up, right in _STEPS:
            r, c = row + up, column + right
            inside = (r < ACROSS) & (c >= 0) & (c < ACROSS)
            there = np.full(len(row), -1, dtype=np.int64)
            there[inside] = self.number[r[inside], c[inside]]
            one.append(np.flatnonzero(there >= 0))
            other.append(there[there >= 0])
        self.one, self.other = np.concatenate(one), np.concatenate(other)

    def holding(self, lat: Floats, lon: Floats) -> Ints:
        """Return the number of the box that holds each place, -1 where there is none of water."""
        east = np.mod(lon - self.west, 360.0)
        row = np.floor((lat - self.south) / BOX_DEG).astype(np.int64)
        column = np.floor(east / self.size_lon).astype(np.int64)
        inside = (row >= 0) & (row < ACROSS) & (column >= 0) & (column < ACROSS)
        found = np.full(len(lat), -1, dtype=np.int64)
        found[inside] = self.number[row[inside], column[inside]]
        return found

    def _wet(self, graph: SeaGraph) -> Bools:
        wet = np.zeros((ACROSS, ACROSS), dtype=bool)
        many = ACROSS >> HALVINGS
        row, column = (grid.ravel() for grid in np.mgrid[0:many, 0:many])
        for halving in range(HALVINGS, -1, -1):
            side = 2**halving
            dry = self._meets(graph, row * side, column * side, side)
            for r, c in zip(row[~dry] * side, column[~dry] * side, strict=True):
                wet[r : r + side, c : c + side] = True
            row, column = (
                np.concatenate([2 * row[dry] + i for i in (0, 1) for _ in (0, 1)]),
                np.concatenate([2 * column[dry] + j for _ in (0, 1) for j in (0, 1)]),
            )
        return wet

    def _meets(self, graph: SeaGraph, row: Ints, column: Ints, side: int) -> Bools:
        """Return which squares of ``side`` boxes touch land, or lie beyond the coastline."""
        west = self.west + column * self.size_lon
        south = self.south + row * BOX_DEG
        east, north = west + side * self.size_lon, south + side * BOX_DEG
        hit: Bools = np.asarray((south < SOUTHMOST) | (north > NORTHMOST))
        first = int(np.floor(self.west / TILE_DEG)) * TILE_DEG
        last = self.west + ACROSS * self.size_lon
        bottom = int(np.floor(self.south / TILE_DEG)) * TILE_DEG
        for x in range(first, int(np.ceil(last)), TILE_DEG):
            for y in range(bottom, int(np.ceil(self.south + ACROSS * BOX_DEG)), TILE_DEG):
                at = np.flatnonzero(
                    ~hit & (east >= x) & (west <= x + TILE_DEG)
                    & (north >= y) & (south <= y + TILE_DEG)
                )  # fmt: skip
                if not len(at) or not SOUTHMOST <= y < NORTHMOST:
                    continue
                tile = (x + 180) % 360 - 180
                turn = tile - x
                boxes = shapely.box(west[at] + turn, south[at], east[at] + turn, north[at])
                hit[at] |= graph.shore((tile, y)).meets(boxes)
        return hit
