"""Sea routes of our own round land, over the coastline that the charts are drawn from.

The shortest way over the net of places at sea (``sea_graph``), then pulled tight wherever the
straight run keeps clear of the coastline itself. What is handed back has been tested against the
coastline leg by leg, or is nothing. Routes and net are kept on disk beside the coastline.

References
----------
Dijkstra, E. W. (1959), A note on two problems in connexion with graphs, Numerische Mathematik 1,
269-271.
"""

from __future__ import annotations

import hashlib
import json
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from layers.earth import geodesy
from layers.earth.arrays import Bools, Floats, Ints
from layers.earth.chart.marks import Path as LinePath
from layers.earth.position import Position
from layers.earth.shore.land import Crossing
from layers.earth.shore.shapes import TILE_DEG, by_tile
from layers.earth.units import M_PER_NMI
from layers.forward_port.legs.narrow_waters import NarrowWaters
from layers.forward_port.legs.sea_graph import (
    FINEST,
    FORMAT,
    NORTHMOST,
    SOUTHMOST,
    Cells,
    Coast,
    SeaGraph,
    Tile,
    find,
)

PARTS = 5  # into which a piece is cut near an end
PIECE_NMI = 1.0  # a rhumb line and a geodesic do not part over so little
ROUNDS = 12  # how often a run that still touches is taken out and the way looked for anew
PADS = (0.35, 1.2, 4.0)  # how far beyond the two ends it is looked for, of their distance
LEAST_PAD_DEG = 1.5
CLEAR_NMI = 2.0  # about either end: a berth lies inside the coastline of many charts
NEAREST, REACH_DEG = 60, 1.5  # places of the net that an end is joined to
KEPT = 200
_HELD: OrderedDict[tuple[object, ...], tuple[Position, ...] | None] = OrderedDict()
_GRAPHS: OrderedDict[int, tuple[object, SeaGraph]] = OrderedDict()


class Shoreline(Coast, Protocol):
    """The coastline as routes ask for it."""

    def crosses(
        self, latitudes_deg: npt.ArrayLike, longitudes_deg: npt.ArrayLike
    ) -> Crossing | None:
        """Return where a line of geodesics first comes on land, None when it keeps clear."""
        ...


def round_land(land: Shoreline, start: Position, goal: Position) -> tuple[Position, ...] | None:
    """Return a way by sea from one place to another, clear of land; None where none was found.

    Its legs are rhumb lines. Land within two miles of either end is not counted.
    """
    key = (
        start.latitude_deg, start.longitude_deg, goal.latitude_deg, goal.longitude_deg, id(land),
    )  # fmt: skip
    if key not in _HELD:
        _HELD[key] = _from_disk(land, start, goal)
        while len(_HELD) > KEPT:
            _HELD.popitem(last=False)
    else:
        _HELD.move_to_end(key)
    return _HELD[key]


def ways_round_land(
    land: Shoreline, start: Position, goals: Sequence[Position]
) -> tuple[tuple[Position, ...] | None, ...]:
    """Return ways as `round_land` to each of many goals, most of them by one run over the net."""
    found: dict[int, tuple[Position, ...]] = {
        n: (start, g) for n, g in enumerate(goals) if clear(land, (start, g), (start, g))
    }
    left = [n for n in range(len(goals)) if n not in found]
    if len(left) > 1:
        ends = (start, *(goals[n] for n in left))
        net = _Net.about(_graph(land), ends, PADS[0])
        net.join(land, ends)
        for n, way in zip(left, net.ways(len(ends)), strict=True):
            if way is not None:
                pair = (start, goals[n])
                tight = _tight(land, (start, *(net.position(k) for k in way), goals[n]), pair)
                if all(clear(land, leg, pair) for leg in pairwise(tight)):
                    found[n] = tight
    return tuple(
        found[n] if n in found else round_land(land, start, goal) for n, goal in enumerate(goals)
    )


def _from_disk(land: Shoreline, start: Position, goal: Position) -> tuple[Position, ...] | None:
    path = _route_file(land.folder, start, goal)
    try:
        if path is not None:
            return tuple(Position(lat, lon) for lat, lon in json.loads(path.read_text()))
    except (OSError, ValueError, TypeError):
        pass  # none, or half written: found anew
    found = _found(land, start, goal)
    if path is not None and found is not None:
        try:
            path.parent.mkdir(exist_ok=True)
            path.write_text(json.dumps([[p.latitude_deg, p.longitude_deg] for p in found]))
        except OSError:
            pass  # a full or read-only disk costs the keeping, not the route
    return found


def _route_file(folder: Path | None, start: Position, goal: Position) -> Path | None:
    if folder is None:
        return None
    ends = (start.latitude_deg, start.longitude_deg, goal.latitude_deg, goal.longitude_deg)
    name = hashlib.blake2b(repr(ends).encode(), digest_size=12).hexdigest()
    return folder / f"sea_net_{FORMAT}" / f"route_{name}.json"


def clear(land: Shoreline, points: Sequence[Position], ends: tuple[Position, Position]) -> bool:
    """Return whether a line of rhumb lines keeps clear of land, near its two ends excepted."""
    lat, lon = geodesy.densify(
        [p.latitude_deg for p in points], [p.longitude_deg for p in points], LinePath.RHUMB,
        PIECE_NMI * M_PER_NMI,
    )  # fmt: skip
    if len(lat) < 2:
        return True
    off = np.min(
        [geodesy.inverse(e.latitude_deg, e.longitude_deg, lat, lon).distance_m for e in ends],
        axis=0,
    )
    lat, lon = _finer(lat, lon, off < (CLEAR_NMI + 2.0 * PIECE_NMI) * M_PER_NMI)
    open_ = np.ones(len(lat), dtype=bool)
    for end in ends:
        away = geodesy.inverse(end.latitude_deg, end.longitude_deg, lat, lon).distance_m
        open_ &= away > (CLEAR_NMI - PIECE_NMI / PARTS) * M_PER_NMI
    # a run of places that leaves and comes back within two miles is tested in its parts
    edges = np.flatnonzero(np.diff(np.concatenate(([False], open_, [False])).astype(np.int8)))
    for begin, stop in zip(edges[::2], edges[1::2], strict=True):
        if stop - begin > 1 and land.crosses(lat[begin:stop], lon[begin:stop]) is not None:
            return False
    return True


def _finer(lat: Floats, lon: Floats, near: Bools) -> tuple[Floats, Floats]:
    """Return a line with more points where it is near an end: no piece hides in the two miles."""
    steps = np.where(near[:-1] | near[1:], PARTS, 1)
    place = np.concatenate(([0.0], np.cumsum(np.repeat(1.0 / steps, steps))))
    at = np.arange(len(lat))
    turned = np.interp(place, at, np.unwrap(lon, period=360.0))
    return np.interp(place, at, lat), (turned + 180.0) % 360.0 - 180.0


def _found(land: Shoreline, start: Position, goal: Position) -> tuple[Position, ...] | None:
    ends = (start, goal)
    if clear(land, ends, ends):
        return ends
    graph = _graph(land)
    narrow: list[NarrowWaters] = []
    for pad in PADS:
        net = _Net.about(graph, ends, pad)
        net.join(land, ends)
        net.thread(narrow, ends)
        for _ in range(ROUNDS):
            way = net.ways(2)[0]
            if way is None and not narrow:
                narrow = [NarrowWaters(graph, end) for end in ends]
                net.thread(narrow, ends)
                way = net.ways(2)[0]
            if way is None:
                if net.shut_in():
                    return None
                break
            points = (start, *(net.position(n) for n in way), goal)
            tight = _tight(land, points, ends)
            bad = [pair for pair in pairwise(tight) if not clear(land, pair, ends)]
            if not bad:
                return tight
            at = {id(point): n for n, point in enumerate(points)}
            net.without([(at[id(a)] - 1, at[id(b)] - 1) for a, b in bad], way)
    return None


def _graph(land: Shoreline) -> SeaGraph:
    if id(land) not in _GRAPHS:
        _GRAPHS[id(land)] = (land, SeaGraph(land))  # the land is kept, so that its id stays its own
        while len(_GRAPHS) > 4:
            _GRAPHS.popitem(last=False)
    return _GRAPHS[id(land)][1]


def _tight(
    land: Shoreline, points: tuple[Position, ...], ends: tuple[Position, Position]
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


@dataclass(slots=True)
class _Net:
    """Squares of the net about some ends, as one graph; the ends are its last places."""

    lat: Floats
    lon: Floats
    one: Ints
    other: Ints
    length: Floats
    places: dict[Tile, tuple[int, Cells]]

    @classmethod
    def about(cls, graph: SeaGraph, ends: Sequence[Position], pad: float) -> _Net:
        """Return the squares that hold some places with room about them."""
        tiles = _tiles(ends, pad)
        cells = [graph.cells(tile) for tile in tiles]
        first = np.concatenate(([0], np.cumsum([len(c.level) for c in cells])))
        number = {tile: n for n, tile in enumerate(tiles)}
        one, other = [], []
        for n, tile in enumerate(tiles):
            runs = graph.runs(tile)
            for east in (-1, 0, 1):
                for north in (-1, 0, 1):
                    these = runs[(runs[:, 1] == east) & (runs[:, 2] == north)]
                    beside = (
                        (tile[0] + east * TILE_DEG + 180) % 360 - 180, tile[1] + north * TILE_DEG
                    )  # fmt: skip
                    if len(these) and beside in number:
                        one.append(first[n] + these[:, 0])
                        other.append(first[number[beside]] + these[:, 3])
        lat = np.concatenate([c.lat for c in cells])
        lon = np.concatenate([c.lon for c in cells])
        places = {tile: (int(first[n]), cells[n]) for n, tile in enumerate(tiles)}
        a = np.concatenate(one) if one else np.empty(0, dtype=np.int64)
        b = np.concatenate(other) if other else np.empty(0, dtype=np.int64)
        return cls(lat, lon, a, b, _apart(lat[a], lon[a], lat[b], lon[b]), places)

    def join(self, land: Shoreline, ends: Sequence[Position]) -> None:
        """Put the ends in, each joined to the nearest places that a clear run leads to."""
        for n, end in enumerate(ends):
            off = _apart(self.lat, self.lon, end.latitude_deg, end.longitude_deg)
            near = np.argsort(off)[:NEAREST]
            near = near[off[near] <= REACH_DEG * 60.0]
            pair = (ends[0], end if n else ends[1])
            good = [
                int(k) for k in near
                if clear(land, (end, Position(float(self.lat[k]), float(self.lon[k]))), pair)
            ]  # fmt: skip
            self.one = np.append(self.one, np.full(len(good), -1 - n, dtype=np.int64))
            self.other = np.append(self.other, np.array(good, dtype=np.int64))
            self.length = np.append(self.length, off[good])

    def thread(self, narrow: Sequence[NarrowWaters], ends: tuple[Position, Position]) -> None:
        """Put the water close about the ends in, box by box, and join it to net and ends."""
        for n, (waters, end) in enumerate(zip(narrow, ends, strict=False)):
            first, box = len(self.lat), waters.holding(self.lat, self.lon)
            held = np.flatnonzero(box >= 0)
            off = _apart(waters.lat, waters.lon, end.latitude_deg, end.longitude_deg)
            near = np.flatnonzero(off < CLEAR_NMI - PIECE_NMI / PARTS)
            wide, within = self._wide(waters)
            self.lat = np.concatenate((self.lat, waters.lat))
            self.lon = np.concatenate((self.lon, waters.lon))
            at_end = np.full(len(near), -1 - n, dtype=np.int64)
            one = np.concatenate((waters.one + first, held, wide))
            other = np.concatenate((waters.other, box[held], within)) + first
            length = _apart(self.lat[one], self.lon[one], self.lat[other], self.lon[other])
            self.one = np.concatenate((self.one, one, at_end))
            self.other = np.concatenate((self.other, other, near + first))
            self.length = np.concatenate((self.length, length, off[near]))

    def _wide(self, waters: NarrowWaters) -> tuple[Ints, Ints]:
        """Return cells of open sea and boxes that lie in them: all of such a cell is water."""
        cells, boxes = [np.empty(0, np.int64)], [np.empty(0, np.int64)]
        for (west, south), at in by_tile(waters.lat, (waters.lon + 180.0) % 360.0 - 180.0):
            if (west, south) not in self.places:
                continue
            first, held = self.places[west, south]
            x = np.mod(waters.lon[at] - west, 360.0)
            index = find(held, x, waters.lat[at] - south)
            open_ = (index >= 0) & (held.level[index] < FINEST)
            cells.append(index[open_] + first)
            boxes.append(at[open_])
        return np.concatenate(cells), np.concatenate(boxes)

    def ways(self, ends: int) -> list[list[int] | None]:
        """Return the places of the shortest way from the first end to each other; None for none.

        No way leads through another end: about it land is not counted.
        """
        from scipy.sparse.csgraph import dijkstra

        n = len(self.lat)
        far, before = dijkstra(self._matrix(1), directed=False, indices=n, return_predecessors=True)
        found: list[list[int] | None] = []
        for end in range(1, ends):
            joined = np.flatnonzero(self.one == -1 - end)
            whole = far[self.other[joined]] + self.length[joined]
            if not len(whole) or not np.isfinite(whole.min()):
                found.append(None)
                continue
            way = [int(self.other[joined[whole.argmin()]])]
            while before[way[-1]] != n:
                way.append(int(before[way[-1]]))
            found.append(way[::-1])
        return found

    def _matrix(self, ends: int) -> Any:
        """Return the net with the first so many of its ends, as a matrix of lengths."""
        from scipy.sparse import csr_matrix

        some, n = self.one >= -ends, len(self.lat)
        one = np.where(self.one < 0, n - 1 - self.one, self.one)[some]
        return csr_matrix((self.length[some], (one, self.other[some])), shape=(n + ends, n + ends))

    def shut_in(self) -> bool:
        """Return whether one of the ends reaches no edge of the net: no larger one would help."""
        from scipy.sparse.csgraph import connected_components

        n = len(self.lat)
        if n == 0:
            return False
        _, part = connected_components(self._matrix(2), directed=False)
        edge = (self.lat < self.lat.min() + 1.5) | (self.lat > self.lat.max() - 1.5)
        turned = np.mod(self.lon - self.lon[0] + 180.0, 360.0)
        edge |= (turned < turned.min() + 1.5) | (turned > turned.max() - 1.5)
        return any(not edge[part[:n] == part[end]].any() for end in (n, n + 1))

    def without(self, spans: list[tuple[int, int]], way: list[int]) -> None:
        """Take out the runs of a way between places of it (-1 and past the end are the ends)."""
        whole = [-1, *way, -2]
        for first, last in spans:
            for a, b in zip(whole[first + 1 : last + 1], whole[first + 2 : last + 2], strict=False):
                gone = ((self.one == a) & (self.other == b)) | ((self.one == b) & (self.other == a))
                self.one, self.other = self.one[~gone], self.other[~gone]
                self.length = self.length[~gone]

    def position(self, place: int) -> Position:
        """Return a place of the net."""
        return Position(float(self.lat[place]), float((self.lon[place] + 180.0) % 360.0 - 180.0))


def _tiles(ends: Sequence[Position], pad: float) -> list[Tile]:
    start, *others = ends
    lat = np.array([end.latitude_deg for end in ends])
    lon = start.longitude_deg + np.array(
        [0.0, *((o.longitude_deg - start.longitude_deg + 180.0) % 360.0 - 180.0 for o in others)]
    )
    south, north, west, right = (float(v) for v in (lat.min(), lat.max(), lon.min(), lon.max()))
    narrow = max(0.2, float(np.cos(np.radians((south + north) / 2.0))))
    off = np.hypot(lat - lat[0], (lon - lon[0]) * narrow)
    reach = max(LEAST_PAD_DEG, pad * float(off.max()))
    low, high = max(south - reach, SOUTHMOST), min(north + reach, NORTHMOST - 1e-6)
    west, right = west - reach / narrow, right + reach / narrow
    columns = np.arange(np.floor(west / TILE_DEG), np.floor(right / TILE_DEG) + 1) * TILE_DEG
    columns = columns[: 360 // TILE_DEG]
    rows = np.arange(np.floor(low / TILE_DEG), np.floor(high / TILE_DEG) + 1) * TILE_DEG
    return [(int((w + 180) % 360 - 180), int(s)) for s in rows for w in columns]


def _apart(lat: Floats, lon: Floats, lat_b: Floats | float, lon_b: Floats | float) -> Floats:
    """Return distances in minutes of arc, on a sphere."""
    a, b = np.radians(lat), np.radians(lat_b)
    turn = np.radians(np.asarray(lon_b) - lon)
    half = np.sin((b - a) / 2.0) ** 2 + np.cos(a) * np.cos(b) * np.sin(turn / 2.0) ** 2
    return np.asarray(np.degrees(2.0 * np.arcsin(np.sqrt(np.minimum(half, 1.0)))) * 60.0)


def length_nmi(points: Sequence[Position]) -> float:
    """Return the length of a line of rhumb lines, nautical miles."""
    lat, lon = geodesy.densify(
        [p.latitude_deg for p in points], [p.longitude_deg for p in points], LinePath.RHUMB,
        20_000.0,
    )  # fmt: skip
    step = geodesy.inverse(lat[:-1], lon[:-1], lat[1:], lon[1:]).distance_m
    return float(np.sum(step)) / M_PER_NMI
