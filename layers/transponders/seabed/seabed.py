"""What is known of the seabed: the loaded grids and cells, cut to what is drawn and asked for."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from contourpy import contour_generator
from pyproj import Transformer

from layers.earth.arrays import Floats
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.journal.known import Known
from layers.transponders.model import ChartCell, DepthGridRecord
from layers.transponders.seabed import chart_cell, depth_grid
from layers.transponders.seabed.chart_cell import Danger, Trace
from layers.transponders.seabed.depth_grid import Raster, Seabed

LEVELS_M: tuple[float, ...] = (
    0,
    2,
    5,
    10,
    15,
    20,
    30,
    40,
    50,
    60,
    80,
    100,
    110,
    120,
    130,
    140,
    150,
    160,
    180,
    200,
    250,
    300,
    400,
    500,
    750,
    1000,
    1500,
    2000,
    2500,
    3000,
    4000,
    5000,
    6000,
    8000,
)
STEP_M = 10.0  # between tints of the sea
WINDOW_DEG = 0.4  # half of what is drawn round the work: about 24 nmi
MOST_CELLS_DRAWN, MOST_LINES, MOST_SOUNDINGS, MOST_DANGERS = 140, 8, 240, 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Isobath:
    """A line of equal depth from a grid; vertices (n,), NaN between pieces."""

    depth_m: float
    latitudes_deg: Floats
    longitudes_deg: Floats
    record_id: str
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SeabedGround:
    """Depths round the work, to be drawn as tints: corners (ny + 1, nx + 1), depths (ny, nx).

    ``edges_m`` are the depths at which the tint changes, ascending: four, for five tints.
    """

    latitudes_deg: Floats
    longitudes_deg: Floats
    depth_m: Floats
    edges_m: tuple[float, ...]
    record_id: str
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """What is drawn of one chart cell."""

    record_id: str
    cell: ChartCell
    sounding_lat: Floats
    sounding_lon: Floats
    sounding_m: Floats
    dangers: tuple[Danger, ...]
    traces: tuple[Trace, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeabedShown:
    """All that is known of the seabed."""

    grid: Seabed | None
    grid_records: tuple[tuple[str, DepthGridRecord], ...]
    isobaths: tuple[Isobath, ...]
    ground: SeabedGround | None
    charts: tuple[Chart, ...]
    notes: tuple[str, ...]
    records: tuple[str, ...]


_held: OrderedDict[str, Any] = OrderedDict()  # decoded blobs under their digest; content decides


def _decoded(known: Known, digest: str, unpack: Callable[[bytes], Any]) -> Any:
    if digest not in _held:
        _held[digest] = unpack(known.blob(digest))
        while len(_held) > 8:
            _held.popitem(last=False)
    return _held[digest]


def seabed(known: Known, at: datetime, centre: Position | None) -> SeabedShown:
    """Return the grids and cells loaded by ``at``, cut to the surroundings of ``centre``."""
    notes: list[str] = []
    grids = _load(known, "transponders.depth_grid", at, depth_grid.unpack, notes)
    cells = _load(known, "transponders.chart_cell", at, chart_cell.unpack, notes)
    whole = _of_one_datum([(record, raster) for _, record, raster in grids], notes)
    isobaths: list[Isobath] = []
    edges = _edges(whole, centre)
    for record_id, record, raster in grids[:3]:
        isobaths += _isobaths(record_id, record, raster, centre, edges)
    notes += [
        f"{record.title}: {note}" for _, record, _ in (*grids, *cells) for note in record.notes
    ]
    return SeabedShown(
        grid=whole,
        grid_records=tuple((i, record) for i, record, _ in grids),
        isobaths=tuple(isobaths),
        ground=_ground(*grids[0], centre, edges) if grids and edges else None,
        charts=tuple(_chart(i, cell, features, centre) for i, cell, features in cells[:4]),
        notes=tuple(notes),
        records=tuple(i for i, _, _ in (*grids, *cells)),
    )


NOT_STATED = "not stated"


def _of_one_datum(pairs: list[tuple[DepthGridRecord, Raster]], notes: list[str]) -> Seabed | None:
    """Return the grids as one seabed: depths below one datum only.

    Datums differ by metres, and nobody has told by how much: what is not below the datum of the
    finest grid that states one is refused, and said.
    """
    if not pairs:
        return None
    stated = [
        (record, raster) for record, raster in pairs
        if record.vertical_datum.strip().lower() not in ("", NOT_STATED)
    ]  # fmt: skip
    if not stated:
        return Seabed(tuple(pairs))
    datum = Seabed(tuple(stated)).grids[0][0].vertical_datum.strip().lower()
    kept = []
    for record, raster in pairs:
        mine = record.vertical_datum.strip().lower()
        if mine in ("", NOT_STATED):
            notes.append(f"{record.title}: its vertical datum is not stated; metres of difference "
                         f"from {datum} are possible")  # fmt: skip
        elif mine != datum:
            notes.append(f"{record.title}: not used for depths: below {record.vertical_datum}, the "
                         f"others below {datum}, and the difference is not told")  # fmt: skip
            continue
        kept.append((record, raster))
    return Seabed(tuple(kept))


def _load(
    known: Known, kind: str, at: datetime, unpack: Callable[[bytes], Any], notes: list[str]
) -> list[tuple[str, Any, Any]]:
    found = []
    for entry in known.entries(kind):
        if entry.record.valid_at > at or entry.disputed:
            continue
        try:
            found.append((entry.id, entry.value, _decoded(known, entry.value.blob, unpack)))
        except (InputError, KeyError) as reason:
            notes.append(f"{entry.value.title} cannot be shown: {reason}")
    return found


def _edges(grid: Seabed | None, centre: Position | None) -> tuple[float, ...]:
    """Return the depths between five tints, 10 m apart about the depth at the centre."""
    if grid is None or centre is None:
        return ()
    place = np.array([centre.latitude_deg]), np.array([centre.longitude_deg])
    depth = float(grid.depth_m(*place)[0])
    if not np.isfinite(depth) or depth <= 0.0:
        return ()
    middle = STEP_M * round(depth / STEP_M)
    return tuple(e for k in (-1, 0, 1, 2) if (e := middle + k * STEP_M) > 0.0)


def _ground(
    record_id: str,
    record: DepthGridRecord,
    raster: Raster,
    centre: Position | None,
    edges: tuple[float, ...],
) -> SeabedGround | None:
    cut = _cut(raster, record, centre)
    if cut is None:
        return None
    x, y, depth = cut
    corners = np.meshgrid(_corners(x), _corners(y))
    lon, lat = corners
    if raster.crs != "EPSG:4326":
        onto = Transformer.from_crs(raster.crs, "EPSG:4326", always_xy=True)
        lon, lat = onto.transform(*corners)
    return SeabedGround(
        latitudes_deg=lat,
        longitudes_deg=lon,
        depth_m=depth,
        edges_m=edges,
        record_id=record_id,
        title=record.title,
    )


def _corners(middles: Floats) -> Floats:
    """Return the edges of cells from their middles, one more of them."""
    between = (middles[:-1] + middles[1:]) / 2.0
    first, last = 2 * middles[0] - between[0], 2 * middles[-1] - between[-1]
    return np.concatenate(([first], between, [last]))


def _isobaths(
    record_id: str,
    record: DepthGridRecord,
    raster: Raster,
    centre: Position | None,
    edges: tuple[float, ...],
) -> list[Isobath]:
    """Return contours of a grid round the centre: where the tints change, else as on a chart."""
    cut = _cut(raster, record, centre)
    if cut is None:
        return []
    x, y, depth = cut
    low, high = np.nanpercentile(depth, [1.0, 99.0])
    levels = [level for level in LEVELS_M if low < level < high]
    levels = levels[:: max(1, -(-len(levels) // MOST_LINES))]
    levels = [edge for edge in edges if low < edge < high] or levels
    lines = contour_generator(x, y, np.ma.masked_invalid(depth))
    made = []
    for level in levels:
        pieces = [piece for piece in lines.lines(float(level)) if len(piece) >= 4]
        if not pieces:
            continue
        gap = np.full((1, 2), np.nan)
        xy = np.concatenate([part for piece in pieces for part in (piece, gap)])[:-1]
        lon, lat = xy[:, 0], xy[:, 1]
        if raster.crs != "EPSG:4326":
            onto = Transformer.from_crs(raster.crs, "EPSG:4326", always_xy=True)
            good = np.isfinite(lon)
            lon, lat = lon.copy(), lat.copy()
            lon[good], lat[good] = onto.transform(lon[good], lat[good])
        made.append(
            Isobath(
                depth_m=float(level),
                latitudes_deg=lat,
                longitudes_deg=lon,
                record_id=record_id,
                title=record.title,
            )
        )
    return made


def _cut(
    raster: Raster, record: DepthGridRecord, centre: Position | None
) -> tuple[Floats, Floats, Floats] | None:
    """Return the part of a grid round the centre, thinned to what can be drawn."""
    columns, rows = np.arange(len(raster.x)), np.arange(len(raster.y))
    if centre is not None and raster.crs == "EPSG:4326":
        # a grid across the date line goes on past 180: the centre is taken to its own turn
        off = (raster.x - centre.longitude_deg + 180.0) % 360.0 - 180.0
        inside = (
            float(np.min(np.abs(off))) <= abs(raster.x[1] - raster.x[0])
            and record.south_deg <= centre.latitude_deg <= record.north_deg
        )
    else:
        inside, off = False, raster.x
    if inside and centre is not None:
        columns = columns[np.abs(off) <= 1.5 * WINDOW_DEG]
        rows = rows[np.abs(raster.y - centre.latitude_deg) <= WINDOW_DEG]
    if len(columns) < 4 or len(rows) < 4:
        return None
    columns = columns[:: max(1, len(columns) // MOST_CELLS_DRAWN)]
    rows = rows[:: max(1, len(rows) // MOST_CELLS_DRAWN)]
    depth = np.asarray(raster.depth_m[np.ix_(rows, columns)], dtype=np.float64)
    return (raster.x[columns], raster.y[rows], depth) if np.any(np.isfinite(depth)) else None


def _chart(
    record_id: str, cell: ChartCell, features: chart_cell.Features, centre: Position | None
) -> Chart:
    box = _window(cell, centre)
    keep = _thin(features, box)

    def near(lat: float, lon: float) -> bool:
        return box[0] <= lat <= box[1] and box[2] <= lon <= box[3]

    traces = [
        trace
        for trace in features.traces
        if np.any(
            (trace.latitudes_deg >= box[0])
            & (trace.latitudes_deg <= box[1])
            & (trace.longitudes_deg >= box[2])
            & (trace.longitudes_deg <= box[3])
        )
    ]
    dangers = [d for d in features.dangers if near(d.latitude_deg, d.longitude_deg)]
    return Chart(
        record_id=record_id,
        cell=cell,
        sounding_lat=features.sounding_lat[keep],
        sounding_lon=features.sounding_lon[keep],
        sounding_m=features.sounding_m[keep],
        dangers=tuple(dangers[:MOST_DANGERS]),
        traces=_merged(traces, max(box[1] - box[0], 1e-3) / 1500.0),
    )


def _merged(traces: list[Trace], tolerance_deg: float) -> tuple[Trace, ...]:
    """Return one trace per sort and depth, broken by NaN, without vertices that do not show."""
    together: dict[tuple[str, float | None], list[Floats]] = {}
    for trace in traces:
        xy = np.column_stack((trace.longitudes_deg, trace.latitudes_deg))
        if len(xy) < 2:
            continue
        plain = shapely.simplify(shapely.linestrings(xy), tolerance_deg)
        pieces = together.setdefault((trace.sort, trace.depth_m), [])
        pieces += [shapely.get_coordinates(plain), np.full((1, 2), np.nan)]
    made = []
    for (sort, depth), pieces in sorted(together.items(), key=lambda one: str(one[0])):
        xy = np.concatenate(pieces[:-1])
        made.append(
            Trace(sort=sort, latitudes_deg=xy[:, 1], longitudes_deg=xy[:, 0], depth_m=depth)
        )
    return tuple(made)


def _window(cell: ChartCell, centre: Position | None) -> tuple[float, float, float, float]:
    """Return south, north, west, east of what is drawn: round the centre, else the whole cell."""
    south, north, west, east = cell.south_deg, cell.north_deg, cell.west_deg, cell.east_deg
    if centre is not None and (
        south <= centre.latitude_deg <= north and west <= centre.longitude_deg <= east
    ):
        return (
            max(south, centre.latitude_deg - WINDOW_DEG),
            min(north, centre.latitude_deg + WINDOW_DEG),
            max(west, centre.longitude_deg - 1.5 * WINDOW_DEG),
            min(east, centre.longitude_deg + 1.5 * WINDOW_DEG),
        )
    return south, north, west, east


def _thin(
    features: chart_cell.Features, box: tuple[float, float, float, float]
) -> npt.NDArray[np.intp]:
    """Return the shoalest sounding of each field of a coarse net, so that no shoal is lost."""
    lat, lon = features.sounding_lat, features.sounding_lon
    inside = (lat >= box[0]) & (lat <= box[1]) & (lon >= box[2]) & (lon <= box[3])
    rows = np.flatnonzero(inside)
    if len(rows) <= MOST_SOUNDINGS:
        return rows
    side = int(np.sqrt(MOST_SOUNDINGS))
    net_row = ((lat[rows] - box[0]) / max(box[1] - box[0], 1e-9) * (side - 1e-6)).astype(int)
    net_column = ((lon[rows] - box[2]) / max(box[3] - box[2], 1e-9) * (side - 1e-6)).astype(int)
    order = np.argsort(features.sounding_m[rows], kind="stable")
    _, first = np.unique((net_row * side + net_column)[order], return_index=True)
    return np.sort(rows[order[first]])
