"""A decoded grid of depths made into the draft of its record and the blob it names."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from datetime import datetime

import numpy as np
from pyproj import CRS, Transformer

from layers.contract import Origin, Reading
from layers.earth.errors import InputError
from layers.journal.record import Reject
from layers.transponders.seabed.depth_grid import MOST_CELLS, Raster, pack

# what of the solid earth lies under the sea, and over it: the Challenger Deep (GEBCO) and Everest
DEEPEST_M, HIGHEST_M = 10_935.0, 8_849.0
SURELY_MARK_M = 30_000.0  # -32,768, 1,000,000, 3.4e38: no unit makes a depth of them
APART_M = 500.0  # what stands alone that far from all other depths is a mark, not a depth
MARKS = (9_999.0, -9_999.0)  # "no data" as many write it, without saying so in the file
M_PER_DEG = 111_195.0  # mean meridian degree, for the size of a cell only


def refuse_huge(columns: int, rows: int, where: str) -> None:
    """Refuse a grid that is too large or too small to be kept."""
    if columns * rows > MOST_CELLS:
        raise InputError(
            f"{columns} × {rows} cells",
            where=where,
            accepted=f"at most {MOST_CELLS // 1_000_000} million: cut it to the area of work",
        )
    if columns < 2 or rows < 2:
        raise InputError(f"{columns} × {rows} cells", where=where, accepted="2 × 2 or more")


def add_grid(
    reading: Reading,
    raster: Raster,
    origin: Origin,
    *,
    title: str,
    valid_at: datetime,
    vertical_datum: str,
    not_for_navigation: bool,
    notes: list[str],
) -> None:
    """Put a grid into a reading: its blob, and the draft that says what it is."""
    if not np.any(np.isfinite(raster.depth_m)):
        raise InputError("no cell has a depth", where=origin.source)
    raster = _of_this_earth(raster, origin, reading)
    _refuse_flat(raster, origin)
    west, south, east, north = _bounds(raster)
    cell_x, cell_y = _cell_m(raster, 0.5 * (south + north))
    blob = pack(raster)
    digest = hashlib.sha256(blob).hexdigest()
    reading.blobs[digest] = blob
    reading.drafts.append(
        origin.draft(
            "transponders.depth_grid",
            {
                "blob": digest,
                "title": title[:300],
                "crs": raster.crs[:4000],
                "west_deg": west,
                "east_deg": east,
                "south_deg": south,
                "north_deg": north,
                "cell_x_m": cell_x,
                "cell_y_m": cell_y,
                "columns": len(raster.x),
                "rows": len(raster.y),
                "vertical_datum": vertical_datum[:200],
                "has_uncertainty": raster.uncertainty_m is not None,
                "not_for_navigation": not_for_navigation,
                "notes": notes,
            },
            valid_at,
            identity=f"depth grid:{title}:{digest}",
        )
    )


def _of_this_earth(raster: Raster, origin: Origin, reading: Reading) -> Raster:
    """Return the grid without cells that no sea has; refuse one that mostly has such cells."""
    depth = raster.depth_m
    known = np.isfinite(depth)
    marked = known & (np.abs(depth) > SURELY_MARK_M)
    known &= ~marked
    odd = known & ((depth > DEEPEST_M) | (depth < -HIGHEST_M))
    if int(odd.sum()) * 2 > int(known.sum()):
        raise InputError(
            f"{int(odd.sum())} of its {int(known.sum())} cells are "
            f"{float(depth[odd].min()):.0f} to {float(depth[odd].max()):.0f} m deep, which no sea "
            "is",
            where=origin.source,
            accepted="depths in metres; is its unit right?",
        )
    for mark in MARKS:
        rest = depth[known & ~odd & (depth != mark)]
        if rest.size and np.min(np.abs(rest - mark)) > APART_M:
            odd |= known & (depth == mark)
    odd |= marked
    if not odd.any():
        return raster
    said = (
        f"{int(odd.sum())} cells hold {float(depth[odd].min()):.6g} to "
        f"{float(depth[odd].max()):.6g} m: a mark for no data, or a fault; they are left out"
    )
    reading.doubts[said] = reading.doubts.get(said, 0) + 1
    return replace(raster, depth_m=np.where(odd, np.float32(np.nan), depth))


def _refuse_flat(raster: Raster, origin: Origin) -> None:
    """Refuse a grid in which no cell lies below the sea's surface: never filled, or turned over."""
    known = raster.depth_m[np.isfinite(raster.depth_m)]
    if not np.any(known):
        raise InputError(
            f"every one of its {known.size} cells is 0 m deep: a grid that was never filled",
            where=origin.source,
            accepted="a grid with the depths in it",
        )
    if not np.any(known > 0.0):
        raise InputError(
            f"not one of its {known.size} cells lies below the sea's surface",
            where=origin.source,
            accepted="depths that count down, heights that count up; is its sign right?",
        )


def rejected(origin: Origin, reason: str) -> Reject:
    """Return the reject of a whole file."""
    return Reject(source=origin.source, line=None, text="", reason=reason)


def _bounds(raster: Raster) -> tuple[float, float, float, float]:
    """Return west, south, east, north in degrees, -180 to 180."""
    x, y = np.meshgrid(raster.x[[0, -1]], raster.y[[0, -1]])
    if raster.crs != "EPSG:4326":
        onto = Transformer.from_crs(raster.crs, "EPSG:4326", always_xy=True)
        x, y = onto.transform(x, y)
    west, east = (float(v) for v in (np.min(x), np.max(x)))
    if east > 180.0 and west >= 180.0:
        west, east = west - 360.0, east - 360.0
    south, north = float(np.min(y)), float(np.max(y))
    return max(west, -180.0), max(south, -90.0), min(east, 180.0), min(north, 90.0)


def _cell_m(raster: Raster, latitude_deg: float) -> tuple[float, float]:
    step_x = float(abs(raster.x[1] - raster.x[0]))
    step_y = float(abs(raster.y[1] - raster.y[0]))
    crs = CRS.from_user_input(raster.crs)
    # the unit of a system's axis in its own base: radians for degrees, metres for feet
    unit = float(crs.axis_info[0].unit_conversion_factor) if crs.axis_info else 1.0
    if crs.is_geographic:  # whatever its number: WGS 84, NAD83, ETRS89
        step_x, step_y = np.degrees(step_x * unit), np.degrees(step_y * unit)
        shrink = max(0.01, float(np.cos(np.radians(latitude_deg))))
        return float(step_x * M_PER_DEG * shrink), float(step_y * M_PER_DEG)
    return step_x * unit, step_y * unit
