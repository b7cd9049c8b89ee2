"""Depth grids in GeoTIFF and BAG, with their uncertainty where they bring it."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from layers.contract import Feed, Origin, Reading
from layers.earth.errors import InputError
from layers.earth.units import M_PER_FT
from layers.transponders.seabed.depth_draft import add_grid, refuse_huge, rejected
from layers.transponders.seabed.depth_grid import Raster

# What GDAL and others call a band's unit -> its length in metres; none said is metres.
_UNITS = {
    1.0: ("", "m", "metre", "metres", "meter", "meters"),
    M_PER_FT: ("ft", "foot", "feet", "us survey foot", "ftus", "us-ft"),
    6 * M_PER_FT: ("fathom", "fathoms", "fm"),
}
# Bands that go with a depth grid and are none: how steep, how sure, how loud, how warm it is.
_NO_DEPTH = ("slope", "aspect", "uncertainty", "backscatter", "hillshade", "temperature",
             "rugosity", "curvature", "error", "density", "count")  # fmt: skip
_TIFF = (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")


def recognise(head: bytes, name: str) -> float:
    """Return how surely this is a GeoTIFF or a BAG."""
    if head.startswith(_TIFF):
        return 0.8
    if head.startswith(b"\x89HDF") and (b"BAG_root" in head or name.lower().endswith(".bag")):
        return 0.95
    return 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return the depth grid of a GeoTIFF or BAG, or the reason why there is none."""
    import rasterio  # imported here: this reader runs in a process of its own
    from rasterio.io import MemoryFile

    reading = Reading()
    suffix = ".bag" if data.startswith(b"\x89HDF") else ".tif"
    try:
        with MemoryFile(data, ext=suffix) as held, held.open() as file:
            _read(file, origin, reading)
    except InputError as reason:
        reading.rejects.append(rejected(origin, str(reason)))
    except (rasterio.errors.RasterioError, ValueError, OSError):
        what = "BAG" if suffix == ".bag" else "GeoTIFF"
        said = f"a depth grid ({what}) that is damaged or cut short: get the file again"
        reading.rejects.append(rejected(origin, said))
    return reading


def _read(file: Any, origin: Origin, reading: Reading) -> None:
    refuse_huge(file.width, file.height, origin.source)
    if file.crs is None:
        raise InputError("it does not say what its coordinates are (no reference system)",
                         where=origin.source,
                         accepted="the same grid with its CRS written in it")  # fmt: skip
    grid = file.transform
    if grid.b or grid.d:
        raise InputError("the grid is turned against its axes", where=origin.source,
                         accepted="rows along x, columns along y")  # fmt: skip
    notes: list[str] = []
    depth = _band(file, 1) * _metres(file, origin)
    if _is_up(file, depth, origin, notes):
        depth = -depth
    doubt = _uncertainty(file, origin)
    x = grid.c + grid.a * (np.arange(file.width) + 0.5)
    y = grid.f + grid.e * (np.arange(file.height) + 0.5)
    if y[0] > y[-1]:
        y, depth = y[::-1], depth[::-1]
        doubt = None if doubt is None else doubt[::-1]
    tags = file.tags()
    words = " ".join(str(text) for text in tags.values())
    crs, vertical = _systems(file)
    add_grid(
        reading,
        Raster(
            x=x,
            y=y.copy(),
            depth_m=np.ascontiguousarray(depth),
            uncertainty_m=None if doubt is None else np.ascontiguousarray(doubt),
            crs=crs,
        ),
        origin,
        title=f"{file.descriptions[0] or file.driver} ({origin.source})",
        valid_at=_made(tags, origin),
        vertical_datum=vertical,
        not_for_navigation=True,
        notes=[*notes, *(["the file itself says: not for navigation"]
                         if "not for navigation" in words.lower() else [])],
    )  # fmt: skip


def _band(file: Any, number: int) -> npt.NDArray[np.float32]:
    """Return a band's values, by the scale and the offset that it states."""
    values = np.ma.filled(file.read(number, masked=True).astype(np.float32), np.nan)
    scale, offset = file.scales[number - 1], file.offsets[number - 1]
    return values if (scale, offset) == (1.0, 0.0) else (values * scale + offset).astype(np.float32)


def _metres(file: Any, origin: Origin, number: int = 1) -> np.float32:
    """Return the metres of one unit of a band: by the band, else by the vertical system."""
    from pyproj import CRS

    said = str(file.units[number - 1] or "").strip().lower()
    if not said:
        parts = CRS.from_wkt(file.crs.to_wkt()).sub_crs_list
        height = next((part for part in parts if part.is_vertical), None)
        if height is not None and height.axis_info:
            return np.float32(height.axis_info[0].unit_conversion_factor)
    for length, names in _UNITS.items():
        if said in names:
            return np.float32(length)
    raise InputError(f"its unit is {said[:40]!r}", where=origin.source, accepted="metres or feet")


def _uncertainty(file: Any, origin: Origin) -> npt.NDArray[np.float32] | None:
    for place, said in enumerate(file.descriptions, start=1):
        if said and "uncertainty" in said.lower():
            return _band(file, place) * _metres(file, origin, place)
    return None


def _is_up(file: Any, values: npt.NDArray[np.float32], origin: Origin, notes: list[str]) -> bool:
    """Return whether values count upwards, from what the file says or plainly shows."""
    called = (file.descriptions[0] or "").lower()
    if any(word in called for word in _NO_DEPTH):
        raise InputError(f"its first band is {called[:60]!r}", where=origin.source,
                         accepted="a band described as elevation or depth")  # fmt: skip
    said = f"{called} {file.tags(1)} {file.driver}".lower()
    if "elevation" in said or "height" in said or file.driver == "BAG":
        return True
    if "depth" in said:
        return False
    if np.nanmean(values < 0.0) > 0.5:
        notes.append("the band does not say which way it counts; mostly below zero, so taken as up")
        return True
    raise InputError(
        "the band does not say whether it counts up or down, and is mostly positive",
        where=origin.source,
        accepted="a band described as elevation or depth",
    )


def _systems(file: Any) -> tuple[str, str]:
    """Return the horizontal reference system as text for pyproj, and the vertical one's name."""
    from pyproj import CRS

    whole = CRS.from_wkt(file.crs.to_wkt())
    vertical = "not stated"
    level = whole
    if whole.is_compound:
        level = whole.sub_crs_list[0]
        vertical = whole.sub_crs_list[1].name
    code = level.to_epsg()
    return (f"EPSG:{code}" if code else level.to_wkt()), vertical


def _made(tags: dict[str, str], origin: Origin) -> datetime:
    try:
        text = tags.get("TIFFTAG_DATETIME", "")
        return datetime.strptime(text, "%Y:%m:%d %H:%M:%S").replace(tzinfo=UTC)
    except ValueError:
        return origin.received_at


FEED = Feed(
    key="depth_raster",
    title="depth grid (GeoTIFF, BAG)",
    recognise=recognise,
    read=read,
    stale_after_s=10 * 365 * 86_400.0,
    isolated=True,
)
