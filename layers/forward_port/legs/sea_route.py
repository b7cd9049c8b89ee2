"""Sea routes of our own round land, over the coastline that the charts are drawn from.

The shortest way over a grid whose cells on land are shut, then pulled tight wherever the straight
run keeps clear of the coastline itself; a cell at which a run still touches land is shut and the
way looked for anew. What is handed back has been tested against the coastline, or is nothing.

References
----------
Dijkstra, E. W. (1959), A note on two problems in connexion with graphs, Numerische Mathematik 1,
269-271. The neighbours are the sixteen of a knight's and a king's move, which makes a way over the
grid at most 2.8 % too long before it is pulled tight (own geometry, tested).
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layers.earth import geodesy
from layers.earth.arrays import Bools, Floats, Ints
from layers.earth.chart.marks import Path
from layers.earth.position import Position
from layers.earth.shore.land import Land
from layers.earth.units import M_PER_NMI

PIECE_NMI = 1.0  # a rhumb line and a geodesic do not part over so little
SIDE = 320  # cells along the longer side
ROUNDS = 30  # how often a cell is shut and the way looked for anew
PADS = (0.6, 2.0, 5.0)  # how far beyond the two ends it is looked for, of their distance
LEAST_PAD_DEG = 0.7
CLEAR_NMI = 2.0  # about either end: a berth lies inside the coastline of many charts
KEPT = 200
_MOVES = tuple(
    (i, j) for i in range(-2, 3) for j in range(-2, 3)
    if ((i, j) != (0, 0) and max(abs(i), abs(j)) == 1) or {abs(i), abs(j)} == {1, 2}
)  # fmt: skip
_HELD: OrderedDict[tuple[float, ...], tuple[Position, ...] | None] = OrderedDict()


def round_land(land: Land, start: Position, goal: Position) -> tuple[Position, ...] | None:
    """Return a way by sea from one place to another, clear of land; None where none was found.

    Its legs are rhumb lines. Land within two miles of either end is not counted.
    """
    key = (
        start.latitude_deg, start.longitude_deg, goal.latitude_deg, goal.longitude_deg, id(land),
    )  # fmt: skip
    if key not in _HELD:
        _HELD[key] = _found(land, start, goal)
        while len(_HELD) > KEPT:
            _HELD.popitem(last=False)
    else:
        _HELD.move_to_end(key)
    return _HELD[key]


def clear(land: Land, points: Sequence[Position], ends: tuple[Position, Position]) -> bool:
    """Return whether a line of rhumb lines keeps clear of land, near its two ends excepted."""
    return _touched(land, points, ends) is None


def _touched(
    land: Land, points: Sequence[Position], ends: tuple[Position, Position]
) -> Position | None:
    lat, lon = geodesy.densify(
        [p.latitude_deg for p in points], [p.longitude_deg for p in points], Path.RHUMB,
        PIECE_NMI * M_PER_NMI,
    )  # fmt: skip
    open_ = np.ones(len(lat), dtype=bool)
    for end in ends:
        off = geodesy.inverse(end.latitude_deg, end.longitude_deg, lat, lon).distance_m
        open_ &= off > CLEAR_NMI * M_PER_NMI
    kept = np.flatnonzero(open_)
    if len(kept) < 2:
        return None
    found = land.crosses(lat[kept], lon[kept])
    return None if found is None else found.position


def _found(land: Land, start: Position, goal: Position) -> tuple[Position, ...] | None:
    ends = (start, goal)
    if clear(land, ends, ends):
        return ends
    for pad in PADS:
        grid = _Grid.about(start, goal, pad)
        shut = grid.on_land(land)
        for _ in range(ROUNDS):
            cells = grid.way(shut, start, goal)
            if cells is None:
                break
            points = (start, *(grid.position(c) for c in cells), goal)
            touched = [
                place
                for leg in _long_legs(points)
                if (place := _touched(land, leg, ends)) is not None
            ]
            if not touched:
                return _tight(land, points, ends)
            for place in touched:
                shut |= grid.near(place)
    return None


def _long_legs(points: tuple[Position, ...]) -> list[tuple[Position, ...]]:
    """Return the line in runs of some twenty points, so that each tells its own touch of land."""
    return [points[k : k + 21] for k in range(0, len(points) - 1, 20)]


def _tight(
    land: Land, points: tuple[Position, ...], ends: tuple[Position, Position]
) -> tuple[Position, ...]:
    """Return the line with every point left out that the run past it does not need."""
    kept, at = [points[0]], 0
    while at < len(points) - 1:
        low, high = at + 1, len(points) - 1
        if not clear(land, (points[at], points[high]), ends):
            while high - low > 1:  # not monotonic in truth; what is kept is tested all the same
                middle = (low + high) // 2
                if clear(land, (points[at], points[middle]), ends):
                    low = middle
                else:
                    high = middle
            high = low
        kept.append(points[high])
        at = high
    return tuple(kept)


@dataclass(frozen=True, slots=True)
class _Grid:
    """Cells in latitude and longitude; longitudes run on past the date line."""

    south: float
    west: float
    step_lat: float
    step_lon: float
    rows: int
    columns: int

    @classmethod
    def about(cls, start: Position, goal: Position, pad: float) -> _Grid:
        """Return the grid that holds two places with room about them."""
        east = (goal.longitude_deg - start.longitude_deg + 180.0) % 360.0 - 180.0
        south, north = sorted((start.latitude_deg, goal.latitude_deg))
        west, right = sorted((start.longitude_deg, start.longitude_deg + east))
        narrow = max(0.2, float(np.cos(np.radians((south + north) / 2.0))))
        reach = max(LEAST_PAD_DEG, pad * float(np.hypot(north - south, (right - west) * narrow)))
        south, north = max(south - reach, -78.0), min(north + reach, 84.0)
        west, right = west - reach / narrow, right + reach / narrow
        if right - west > 359.0:
            west, right = start.longitude_deg - 179.0, start.longitude_deg + 179.0
        step = max(north - south, (right - west) * narrow) / SIDE
        rows = max(8, int((north - south) / step))
        columns = max(8, int((right - west) * narrow / step))
        return cls(south, west, (north - south) / rows, (right - west) / columns, rows, columns)

    def centres(self) -> tuple[Floats, Floats]:
        """Return latitude and longitude of every cell's middle, shape (rows, columns)."""
        lat = self.south + (np.arange(self.rows) + 0.5) * self.step_lat
        lon = self.west + (np.arange(self.columns) + 0.5) * self.step_lon
        return tuple(np.meshgrid(lat, lon, indexing="ij"))

    def on_land(self, land: Land) -> Bools:
        """Return which cells have land at their middle."""
        lat, lon = self.centres()
        found = land.is_land(lat.ravel(), (lon.ravel() + 180.0) % 360.0 - 180.0)
        return np.asarray(found, dtype=bool).reshape(lat.shape)

    def position(self, cell: int) -> Position:
        """Return the middle of a cell."""
        row, column = divmod(cell, self.columns)
        lon = self.west + (column + 0.5) * self.step_lon
        return Position(self.south + (row + 0.5) * self.step_lat, (lon + 180.0) % 360.0 - 180.0)

    def near(self, place: Position) -> Bools:
        """Return the cells at a place, to be shut."""
        found = np.zeros((self.rows, self.columns), dtype=bool)
        row, column = self._cell(place)
        found[max(row, 0) : row + 1, max(column, 0) : column + 1] = True
        return found

    def _cell(self, place: Position) -> tuple[int, int]:
        lon = self.west + (place.longitude_deg - self.west) % 360.0
        row = int((place.latitude_deg - self.south) / self.step_lat)
        column = int((lon - self.west) / self.step_lon)
        return min(max(row, 0), self.rows - 1), min(max(column, 0), self.columns - 1)

    def way(self, shut: Bools, start: Position, goal: Position) -> list[int] | None:
        """Return the cells of the shortest way between the open cells nearest to two places."""
        from scipy.sparse import csr_matrix
        from scipy.sparse.csgraph import dijkstra

        rows, columns, weights = self._edges(shut)
        count = self.rows * self.columns
        graph = csr_matrix((weights, (rows, columns)), shape=(count, count))
        first, last = self._open(shut, start), self._open(shut, goal)
        if first is None or last is None:
            return None
        far, before = dijkstra(graph, indices=first, return_predecessors=True)
        if not np.isfinite(far[last]):
            return None
        found = [last]
        while found[-1] != first:
            found.append(int(before[found[-1]]))
        return found[::-1]

    def _open(self, shut: Bools, place: Position) -> int | None:
        row, column = self._cell(place)
        from scipy.ndimage import label

        # the open sea, not a lake that happens to lie nearer
        pieces, _ = label(~shut)
        sizes = np.bincount(pieces.ravel())
        sizes[0] = 0
        lat = np.arange(self.rows)[:, None] - row
        lon = (np.arange(self.columns)[None, :] - column) * (self.step_lon / self.step_lat)
        lon = lon * np.cos(np.radians(place.latitude_deg))
        off = np.where(pieces != int(np.argmax(sizes)), np.inf, lat**2 + lon**2)
        best = int(np.argmin(off))
        return best if np.isfinite(off.ravel()[best]) else None

    def _edges(self, shut: Bools) -> tuple[Ints, Ints, Floats]:
        lat, _ = self.centres()
        narrow = np.cos(np.radians(lat))
        number = np.arange(self.rows * self.columns).reshape(self.rows, self.columns)
        parts: list[tuple[Ints, Ints, Floats]] = []
        for i, j in _MOVES:
            here = (_cut(i, self.rows), _cut(j, self.columns))
            there = (_cut(-i, self.rows), _cut(-j, self.columns))
            both = ~shut[here] & ~shut[there]
            if abs(i) + abs(j) == 3:  # a knight's move goes between two cells: both must be open
                between = _between(shut, i, j, here)
                both &= ~between
            length = np.hypot(i * self.step_lat, j * self.step_lon * narrow[here])
            parts.append((number[here][both], number[there][both], length[both]))
        a, b, w = (np.concatenate(column) for column in zip(*parts, strict=True))
        return a, b, w


def _cut(step: int, size: int) -> slice:
    return slice(max(0, -step), min(size, size - step))


def _between(shut: Bools, i: int, j: int, here: tuple[slice, slice]) -> Bools:
    """Return where a knight's move passes a shut cell: the two it runs between."""
    di, dj = int(np.sign(i)), int(np.sign(j))
    steps = ((di, 0), (di, dj)) if abs(i) == 2 else ((0, dj), (di, dj))
    found = np.zeros(shut[here].shape, dtype=bool)
    for a, b in steps:
        rows = slice(here[0].start + a, here[0].stop + a)
        columns = slice(here[1].start + b, here[1].stop + b)
        found |= shut[rows, columns]
    return found


def length_nmi(points: Sequence[Position]) -> float:
    """Return the length of a line of rhumb lines, nautical miles."""
    lat, lon = geodesy.densify(
        [p.latitude_deg for p in points], [p.longitude_deg for p in points], Path.RHUMB, 20_000.0
    )
    step = geodesy.inverse(lat[:-1], lon[:-1], lat[1:], lon[1:]).distance_m
    return float(np.sum(step)) / M_PER_NMI
