"""Land: the coastline at the detail that a chart needs, and whether a place or a line is on it.

The coastline is cut once by `land_cut` beside it, in a process of its own, into a folder that
the caller names. Until then there is no land, and `Land.reason` says why.
"""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import shapely

from layers.earth.arrays import Floats
from layers.earth.chart.marks import Path as LinePath
from layers.earth.errors import InputError
from layers.earth.geodesy import densify, inverse
from layers.earth.position import Position
from layers.earth.shore.land_cut import READY, UNIT_DEG, VERSION
from layers.earth.shore.shapes import (
    TILE_DEG,
    by_tile,
    pairs,
    slit,
    tiles_of,
    turns,
    without_cuts,
    wrapped,
)

Ring = tuple[Floats, Floats]
Detail = Literal["overview", "medium", "full"]
_Tile = tuple[npt.NDArray[Any], shapely.STRtree]

ATTRIBUTION = "Coastline © OpenStreetMap contributors, ODbL 1.0"
TILES_KEPT = 24
BOXES_KEPT = 16
LONGEST_EDGE_DEG = 0.5  # straight in latitude and longitude: cut before a projection bends it


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where a line first comes on land, and how far along it that is."""

    position: Position
    distance_m: float


def detail_for(width_m: float) -> Detail:
    """Return the detail that a chart so many metres across needs."""
    if width_m > 1_000_000.0:
        return "overview"
    return "medium" if width_m > 250_000.0 else "full"


@dataclass(frozen=True)
class _Ragged:
    """Polygons as flat arrays; only those asked for are made into geometries."""

    xy: npt.NDArray[np.int32]
    rings: npt.NDArray[np.int64]
    parts: npt.NDArray[np.int64]
    bounds: npt.NDArray[np.float32]

    def within(self, west: float, south: float, east: float, north: float) -> npt.NDArray[Any]:
        """Return the polygons that meet a rectangle, clipped to it."""
        b = self.bounds
        hit = (b[:, 0] <= east) & (b[:, 2] >= west) & (b[:, 1] <= north) & (b[:, 3] >= south)
        found = [self._polygon(int(number)) for number in np.flatnonzero(hit)]
        if not found:
            return np.array([], dtype=object)
        whole = np.array(found, dtype=object)
        cut = shapely.clip_by_rect(whole, west, south, east, north)
        parts = shapely.get_parts(shapely.get_parts(cut))
        return np.asarray(parts[(shapely.get_type_id(parts) == 3) & ~shapely.is_empty(parts)])

    def _polygon(self, number: int) -> Any:
        first, last = self.parts[number], self.parts[number + 1]
        loops = [
            shapely.linearrings(self.xy[self.rings[i] : self.rings[i + 1]] * UNIT_DEG)
            for i in range(first, last)
        ]
        return shapely.polygons(loops[0], loops[1:] if len(loops) > 1 else None)


class Land:
    """The coastline in one folder.

    Parameters
    ----------
    folder : Path
        Where the cut coastline is kept; made when it is first cut.

    Notes
    -----
    Safe to share between threads.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._ready = False
        self._tiles: OrderedDict[tuple[int, int], _Tile] = OrderedDict()
        self._lately: dict[tuple[float, float, float, float, str], npt.NDArray[Any]] = {}
        self._lock = threading.RLock()

    def ready(self) -> bool:
        """Return whether the whole coastline has been cut."""
        if not self._ready:  # asked at every page; what is cut stays cut
            try:
                found = json.loads((self.folder / READY).read_text())
            except (OSError, ValueError):
                return False
            self._ready = bool(found.get("version") == VERSION)
        return self._ready

    def reason(self) -> str:
        """Return why there is no land to draw, empty when there is."""
        if self.ready():
            return ""
        return "The coastline has not been cut yet; the chart shows it as soon as it is ready."

    def build(self, progress: Callable[[float, str], None] | None = None) -> None:
        """Cut the coastline in a process of its own; it does nothing when that is done.

        Parameters
        ----------
        progress : callable, optional
            Told the fraction done, 0 to 1, and what is being done.

        Raises
        ------
        InputError
            The folder cannot be written, or the coastline cannot be loaded.
        """
        if self.ready():
            return
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as failure:
            raise InputError(
                f"the coastline cannot be kept in {self.folder}: {failure.strerror}",
                accepted="a folder that can be written",
            ) from None
        child = subprocess.Popen(
            [sys.executable, "-m", "layers.earth.shore.land_cut", str(self.folder)],
            cwd=Path(__file__).resolve().parents[3],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert child.stdout is not None
        for line in child.stdout:
            fraction, _, text = line.strip().partition(" ")
            if progress is not None:
                progress(float(fraction), text)
        _, complaint = child.communicate()
        if child.returncode != 0 or not self.ready():
            last = complaint.strip().splitlines()[-1:] or ["it ended without a word"]
            raise InputError(
                f"the coastline could not be cut: {last[0]}",
                accepted="about 700 MB of free memory and 100 MB of disk",
            )

    def rings(
        self, west: float, south: float, east: float, north: float, detail: Detail
    ) -> list[Ring]:
        """Return the land in a rectangle as closed rings of (latitudes_deg, longitudes_deg).

        Parameters
        ----------
        west, south, east, north : float
            Degrees. West may lie east of east, or either beyond ±180, across the date line.
        detail : str
            ``"overview"``, ``"medium"`` or ``"full"``; see `detail_for`. While the coastline is
            being cut, whatever is there already.

        Notes
        -----
        Rings are cut at the rectangle, so their outline is not all coast: fill them, and draw
        `coast`. A lake is let in by a slit from the shore, which fills rightly.
        """
        found: list[Ring] = []
        for offset, w, e in turns(west, east):
            # all at once: a box of islands has thousands
            polygons = self._polygons(w, south, e, north, detail)
            outlines = shapely.get_exterior_ring(polygons)
            for at in np.flatnonzero(shapely.get_num_interior_rings(polygons)):
                outlines[at] = slit(polygons[at])
            cut = shapely.segmentize(outlines, LONGEST_EDGE_DEG)
            xy, ring = shapely.get_coordinates(cut, return_index=True)
            for run in np.split(xy, np.flatnonzero(np.diff(ring)) + 1) if len(xy) else ():
                found.append((run[:, 1], run[:, 0] + offset))
        return found

    def coast(
        self, west: float, south: float, east: float, north: float, detail: Detail
    ) -> list[Ring]:
        """Return the coast in a rectangle as open lines of (latitudes_deg, longitudes_deg).

        The arguments are those of `rings`.
        """
        found: list[Ring] = []
        for offset, w, e in turns(west, east):
            for polygon in self._polygons(w, south, e, north, detail):
                for loop in (polygon.exterior, *polygon.interiors):
                    xy = shapely.get_coordinates(loop)
                    for run in without_cuts(xy, w, south, e, north):
                        found.append((run[:, 1], run[:, 0] + offset))
        return found

    def is_land(self, latitudes_deg: npt.ArrayLike, longitudes_deg: npt.ArrayLike) -> Any:
        """Return whether each place is on land, a bool array; all False before it is cut."""
        lat = np.atleast_1d(np.asarray(latitudes_deg, dtype=np.float64))
        lon = wrapped(np.atleast_1d(np.asarray(longitudes_deg, dtype=np.float64)))
        on_land = np.zeros(lat.shape, dtype=bool)
        if not self.ready():
            return on_land
        for tile, members in by_tile(lat, lon):
            polygons, tree = self.tile(*tile)
            for number, near in pairs(tree, shapely.points(lon[members], lat[members])):
                at = members[near]
                on_land[at] |= shapely.intersects_xy(polygons[number], lon[at], lat[at])
        return on_land

    def crosses(
        self, latitudes_deg: npt.ArrayLike, longitudes_deg: npt.ArrayLike
    ) -> Crossing | None:
        """Return where a line of geodesics first comes on land, None when it keeps clear.

        Parameters
        ----------
        latitudes_deg, longitudes_deg : array_like, shape (n,)
            Two vertices or more. None also before the coastline is cut: ask `ready`.
        """
        if not self.ready():
            return None
        lat, lon = densify(latitudes_deg, longitudes_deg, LinePath.GEODESIC, 10_000.0)
        lon = wrapped(lon)
        run = np.concatenate(
            ([0.0], np.cumsum(inverse(lat[:-1], lon[:-1], lat[1:], lon[1:]).distance_m))
        )
        starts, ends = np.column_stack((lon[:-1], lat[:-1])), np.column_stack((lon[1:], lat[1:]))
        # a step over the date line is carried on past ±180 and tried on both sides of it
        ends[:, 0] = starts[:, 0] + (180.0 - (180.0 - (ends[:, 0] - starts[:, 0])) % 360.0)
        best: Crossing | None = None
        for turn in (0.0, 360.0, -360.0):
            shift = np.array([turn, 0.0])
            lines = shapely.linestrings(np.stack((starts + shift, ends + shift), axis=1))
            for tile in tiles_of(starts + shift, ends + shift):
                best = self._first_on(tile, lines, run, best)
        return best

    def _first_on(
        self, tile: tuple[int, int], lines: Any, run: Floats, best: Crossing | None
    ) -> Crossing | None:
        polygons, tree = self.tile(*tile)
        for number, near in pairs(tree, lines):
            polygon = polygons[number]
            for step in near[shapely.intersects(polygon, lines[near])]:
                if best is not None and run[step] > best.distance_m:
                    break
                line = lines[step]
                shared = shapely.get_coordinates(shapely.intersection(polygon, line))
                start = shapely.get_coordinates(line)[0]
                lon, lat = shared[np.argmin(np.hypot(*(shared - start).T))]
                on = float(run[step] + inverse(start[1], start[0], lat, lon).distance_m)
                if best is None or on < best.distance_m:
                    best = Crossing(Position(float(lat), float(wrapped(lon))), on)
        return best

    def _polygons(
        self, west: float, south: float, east: float, north: float, detail: Detail
    ) -> npt.NDArray[Any]:
        store, box = self._store(detail), (west, south, east, north, detail)
        if store is None:
            return np.array([], dtype=object)
        if not self.ready():
            return store.within(west, south, east, north)
        with self._lock:
            found = self._lately.pop(box, None)
        if found is None:
            found = store.within(west, south, east, north)
        with self._lock:  # sheets of one frame ask for one box again and again
            self._lately[box] = found
            while len(self._lately) > BOXES_KEPT:
                del self._lately[next(iter(self._lately))]
        return found

    def _store(self, detail: Detail) -> _Ragged | None:
        if self.ready():
            return {"overview": self._overview, "medium": self._medium, "full": self._full}[detail]
        return self._overview if (self.folder / "overview.npz").exists() else None

    @cached_property
    def _overview(self) -> _Ragged:
        return _load(self.folder / "overview.npz")

    @cached_property
    def _medium(self) -> _Ragged:
        return _load(self.folder / "medium.npz")

    @cached_property
    def _full(self) -> _Ragged:
        with np.load(self.folder / "full.npz") as found:
            return _Ragged(
                xy=np.load(self.folder / "full.npy", mmap_mode="r"),
                rings=found["rings"],
                parts=found["parts"],
                bounds=found["bounds"],
            )

    def tile(self, west: int, south: int) -> _Tile:
        """Return the full-detail polygons of one tile, prepared for questions, and their tree."""
        with self._lock:
            if (west, south) not in self._tiles:
                cut = self._full.within(west, south, west + TILE_DEG, south + TILE_DEG)
                shapely.prepare(cut)
                self._tiles[west, south] = (cut, shapely.STRtree(cut))
                while len(self._tiles) > TILES_KEPT:
                    self._tiles.popitem(last=False)
            self._tiles.move_to_end((west, south))
            return self._tiles[west, south]


def _load(path: Path) -> _Ragged:
    with np.load(path) as found:
        return _Ragged(
            xy=found["xy"], rings=found["rings"], parts=found["parts"], bounds=found["bounds"]
        )
