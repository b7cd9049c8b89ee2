"""What the browser is given of a scene: the base once, the marks as GeoJSON in metres.

The scripts beside this file draw it; the plot and the stand-alone map use the same ones.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import contourpy
import numpy as np
import shapely

from layers.earth.chart.frames import ChartFrame, FrameName, utm_zone
from layers.earth.chart.marks import AreaMark, Freshness, LineMark, Style, Symbol
from layers.scene.ink import Ink, tints
from layers.scene.scene import (
    STYLE_WORDS,
    PlacedGrid,
    PlacedPath,
    PlacedPoint,
    Scene,
    label,
    tooltip,
)
from layers.scene.symbols import HERS, barb, fixed_glyphs, her_glyph

SCRIPTS = Path(__file__).parent / "scripts"
WIDTHS = {0: 0.0, 1: 1.2, 2: 2.0, 3: 3.2}
# what stands behind a name in a second, quiet line: a time, an age
SECOND_LINE = re.compile(r"^(\S.*?) (\d{4,6}Z(?:, .+)?(?: \?)?)$")
LONG_RUN, THINNED_TO = 200, 1e-6
NAMED_AT_EDGE = (Symbol.PEOPLE, Symbol.SUPPORT_SHIP)
SIZES = {0: 12.0, 1: 10.0, 2: 8.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartBase:
    """What the browser is told once."""

    frame: ChartFrame
    ink: Ink
    attribution: str
    land_address: str = ""  # a served chart is told it with the marks: it may be cut later
    served: bool = False  # by a server whose link the chart listens to
    widens: bool = False  # the first view may be wider, so that it holds people adrift
    wall: bool = False  # large letters, only the names of first rank, nothing to press
    view_key: str = ""  # while it stays the same the browser keeps what is looked at
    font_address: str = ""  # of the page's own letter family
    whole_font: tuple[str, str] = ("", "")  # address of the rest of it, and what that is
    glyphs_address: str = ""  # where the symbols are fetched from; without it they are told

    def spec(self) -> dict[str, Any]:
        """Return the base as plain JSON for the browser."""
        colours = ("sea", "land", "shore", "panel", "line", "ink", "quiet", "contour", "page")
        return {
            "frame": browser_spec(self.frame),
            "half_width_m": self.frame.half_width_m,
            "land_url": self.land_address,
            "attribution": self.attribution,
            "health": self.served,
            "view_key": self.view_key,
            "wall": self.wall,
            "widens": self.widens,
            "ink": {
                **{name: getattr(self.ink, name) for name in colours},
                "measure": self.ink.of(Style.MEASURE),
            },
            "font_url": self.font_address,
            "whole_font": self.whole_font,
            "glyphs_url": self.glyphs_address,
            "glyphs": {} if self.glyphs_address else glyph_table(),
        }


def browser_spec(frame: ChartFrame) -> dict[str, Any]:
    """Return what ``projections.js`` needs to project as the frame does."""
    latitude, longitude = frame.centre.latitude_deg, frame.centre.longitude_deg
    meridian = longitude
    if frame.name is FrameName.UTM:
        meridian = 6.0 * utm_zone(frame.centre) - 183.0
    return {
        "name": frame.name.value,
        "lat": latitude,
        "lon": longitude,
        "meridian": meridian,
        "lat_ts": latitude,
        "pole": 1 if latitude >= 0 else -1,
    }


MEASURED = "12 4 2 4"  # long and short: nothing that was observed or is planned is drawn so


@cache
def glyph_table() -> dict[str, dict[str, Any]]:
    """Return the strokes and filled shapes of every symbol by its name."""
    glyphs = {symbol.value: found for symbol, found in fixed_glyphs().items()}
    glyphs |= HERS
    glyphs |= {f"barb{speed}": barb(float(speed)) for speed in range(0, 155, 5)}
    return {name: {"s": g.strokes, "f": g.filled, "p": g.plates} for name, g in glyphs.items()}


def feature_collection(scene: Scene, ink: Ink) -> dict[str, Any]:
    """Return the scene as GeoJSON in metres of the frame, the style on each feature.

    Property names are one letter, since every viewer is sent them: t tooltip, l label, r rank,
    n legend, c colour, lc of its label, l2 second line, i number inside, pl plate, w width,
    d dashes, o opacity, f fill, fo fill opacity, y symbol,
    h heading, z size, q hollow, m anchor of the measurement, e named at the edge when beyond it,
    k drawn only where the sheet is at most so many metres across, j its symbol only where it is
    more.
    """
    features: list[dict[str, Any]] = []
    for item in scene.placed:
        if isinstance(item, PlacedPoint):
            features.append(_point(item, ink, scene.numbers))
        elif isinstance(item, PlacedPath):
            features.append(_path(item, ink, scene.numbers))
        else:
            features.extend(_grid(item, ink))
    return {"type": "FeatureCollection", "features": features}


def _shared(item: PlacedPoint | PlacedPath, ink: Ink, numbers: Mapping[str, int]) -> dict[str, Any]:
    mark = item.mark
    shared: dict[str, Any] = {
        "c": ink.of(mark.style),
        "t": tooltip(item, numbers),
        "r": mark.rank,
        "n": STYLE_WORDS[mark.style],
    }
    if mark.near_m is not None:
        shared["k"] = round(mark.near_m)
    if mark.far_m is not None:
        shared["j"] = round(mark.far_m)
    if text := label(item):
        shared["l"] = text
        if split := SECOND_LINE.match(text):
            shared["l"], shared["l2"] = split[1], split[2]
    if mark.freshness is Freshness.EXPECTED:
        shared["d"] = "7 6"
        shared["o"] = 0.75
    if mark.style == Style.SEABED and isinstance(item, PlacedPath):
        # an area has an edge, a track has an arrow or a time: depths are ground, never ink
        shared |= {"c": ink.contour, "lc": ink.quiet, "w": 0.7, "r": 8, "n": "depth, m"}
    return shared


def _point(item: PlacedPoint, ink: Ink, numbers: Mapping[str, int]) -> dict[str, Any]:
    mark = item.mark
    properties = _shared(item, ink, numbers)
    properties["y"] = her_glyph(mark) or mark.symbol.value
    if her_glyph(mark):
        properties["pl"] = ink.plate
    if mark.rank == 0 or mark.symbol in NAMED_AT_EDGE:
        properties["e"] = 1
    if mark.number is not None:
        properties["i"] = str(mark.number)
    if mark.symbol is Symbol.WIND_BARB:
        properties["y"] = f"barb{min(150, 5 * round((mark.speed_kn or 0.0) / 5.0))}"
    if mark.heading_true_deg is not None:
        properties["h"] = round(item.heading_grid_deg, 1)
    properties["z"] = SIZES.get(mark.rank, 7.0)
    properties["w"] = 3.0 if mark.rank == 0 else 2.0
    if mark.freshness is Freshness.STALE:
        properties["q"] = 1
        properties["d"] = "2 3"
    if mark.freshness is Freshness.EXPECTED:
        properties["d"] = "4 3"
    if mark.style is Style.MEASURE and mark.key == "anchor":
        properties["m"] = [mark.position.latitude_deg, mark.position.longitude_deg]
    return _feature("Point", [round(item.x_m, 1), round(item.y_m, 1)], properties)


def _path(item: PlacedPath, ink: Ink, numbers: Mapping[str, int]) -> dict[str, Any]:
    mark = item.mark
    properties = _shared(item, ink, numbers)
    properties.setdefault("w", WIDTHS.get(mark.width, 2.0))
    if mark.style is Style.MEASURE and not mark.dotted:
        properties["d"] = MEASURED
    elif mark.dotted:
        properties["d"] = "1 6"
    elif mark.freshness is Freshness.STALE:
        properties["d"] = "2 4"
    if isinstance(mark, AreaMark):
        properties["f"] = properties["c"]
        properties["fo"] = 0.16 if mark.filled else 0.0
        rings = [[_coordinates(_thinned(part))] for part in item.parts]
        return _feature("MultiPolygon", rings, properties)
    lines = [_coordinates(_thinned(part)) for part in item.parts]
    if isinstance(mark, LineMark) and mark.arrow:
        lines.append(_arrow_head(item.parts[-1]))
    return _feature("MultiLineString", lines, properties)


def _arrow_head(run: Any) -> list[list[float]]:
    tip, before = run[-1], run[-2]
    along = tip - before
    length = float(np.hypot(*along)) or 1.0
    unit = along / length
    size = min(0.06 * float(np.hypot(*(run[-1] - run[0]))), 4_000.0)
    side = np.array([-unit[1], unit[0]])
    wings = [tip - size * (unit + 0.45 * side), tip, tip - size * (unit - 0.45 * side)]
    return _coordinates(np.array(wings))


def _thinned(run: Any) -> Any:
    """Return a long run without the points that a line a millionth of its extent off does not need.

    A flight over an ocean has thousands of points; five metres off the middle of it is nothing.
    """
    if len(run) < LONG_RUN:
        return run
    off = THINNED_TO * float(np.hypot(*np.ptp(run, axis=0)))
    return shapely.get_coordinates(shapely.LineString(run).simplify(off, preserve_topology=False))


def _coordinates(run: Any) -> list[list[float]]:
    return [[float(x), float(y)] for x, y in np.round(run, 1)]


def _feature(kind: str, coordinates: Any, properties: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": {"type": kind, "coordinates": coordinates},
        "properties": properties,
    }


def _grid(item: PlacedGrid, ink: Ink) -> list[dict[str, Any]]:
    """Return a grid as filled bands: the sea's tints, or one ramp, each with its limits."""
    mark = item.mark
    finite = mark.values[np.isfinite(mark.values)]
    if not finite.size or finite.max() <= finite.min():
        return []
    if mark.edges:
        return _depths(item, ink)
    from matplotlib import colormaps  # only what is shaded needs it

    levels = np.linspace(finite.min(), finite.max(), 9)
    levels[0] += (levels[1] - levels[0]) * 0.25  # the lowest band would cover the whole sheet
    values = np.where(np.isfinite(mark.values), mark.values, finite.min())
    bands = []
    for number, (low, high, polygons) in enumerate(_bands(item, values, levels)):
        if polygons:
            red, green, blue, _ = colormaps["cividis"](number / 7.0, bytes=True)
            shared = {"c": f"#{red:02x}{green:02x}{blue:02x}", "fo": 0.55, "w": 0.4, "o": 0.5}
            bands.append(_band(item, polygons, shared, low, high))
    return bands


def _depths(item: PlacedGrid, ink: Ink) -> list[dict[str, Any]]:
    """Return depths as tints that lie under everything and touch without an edge."""
    values = np.ma.masked_invalid(item.mark.values)
    levels = np.array([0.0, *item.mark.edges, 12_000.0])
    bands = []
    for (low, high, polygons), tint in zip(
        _bands(item, values, levels), tints(ink, item.mark.edges), strict=True
    ):
        if polygons:
            shared = {"c": tint, "fo": 1.0, "w": 0.7, "o": 1.0, "under": 1}
            bands.append(_band(item, polygons, shared, low, high))
    return bands


def _bands(item: PlacedGrid, values: Any, levels: Any) -> Iterator[tuple[float, float, list[Any]]]:
    generator = contourpy.contour_generator(
        centres(item.x_m), centres(item.y_m), values, fill_type="OuterOffset"
    )
    for low, high in pairwise(levels):
        # a hair above the top so that the highest cell is inside its band
        filled: Any = generator.filled(low, high * (1 + 1e-9) + 1e-300)
        yield (
            low,
            high,
            [
                [_coordinates(ring[a:b]) for a, b in pairwise(offset)]
                for ring, offset in zip(*filled, strict=True)
            ],
        )


def _band(
    item: PlacedGrid, polygons: list[Any], shared: dict[str, Any], low: float, high: float
) -> dict[str, Any]:
    mark = item.mark
    properties = shared | {"f": shared["c"], "r": mark.rank, "grid": 1}
    properties["n"] = "depth, m" if mark.edges else STYLE_WORDS[mark.style]
    if not mark.edges:
        properties["t"] = f"{mark.tooltip}\n{low:.3g} to {high:.3g} {mark.unit}"
    return _feature("MultiPolygon", polygons, properties)


def centres(corners: Any) -> Any:
    """Return the middles of cells from their corners, shape (ny + 1, nx + 1) to (ny, nx)."""
    return (corners[:-1, :-1] + corners[1:, :-1] + corners[:-1, 1:] + corners[1:, 1:]) / 4.0
