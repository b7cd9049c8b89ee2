"""The scene on paper: PNG, PDF or SVG with everything a reader outside the room needs.

Title, time, exercise banner, marking, graticule, scale in nautical miles, north with convergence,
legend, ages of what it rests on, caution and attribution. The same scene and stamp give the same
bytes: the only date in the file is the one declared on the sheet.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import Any, Literal

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection, PathCollection, PolyCollection
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.path import Path as MplPath
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from layers.earth.chart.frames import ChartFrame
from layers.earth.chart.graticule import Extent, graticule, north_words, scale_bar
from layers.earth.chart.marks import AreaMark, Freshness, Style, Symbol
from layers.earth.shore.land import Land, detail_for
from layers.scene.browser import centres
from layers.scene.ink import Ink, tints
from layers.scene.land_metres import projected
from layers.scene.release import CAUTION, Stamp
from layers.scene.scene import STYLE_WORDS, PlacedGrid, PlacedPath, PlacedPoint, Scene, label
from layers.scene.symbols import glyph, turned

PaperFormat = Literal["png", "pdf", "svg"]
A4_LANDSCAPE_IN = (11.69, 8.27)
CHART_BOX = (0.045, 0.105, 0.72, 0.82)  # left, bottom, width, height as parts of the sheet
WIDTHS_PT = {0: 0.0, 1: 0.7, 2: 1.1, 3: 1.8}
SYMBOL_PT = {0: 8.0, 1: 7.0, 2: 5.5}
LINE = 0.0147  # of 7 points, as a part of the sheet's height
LOWEST = 0.03  # of the column of words, as a part of the sheet

# type 42 keeps text in PDF as text; a fixed salt makes the SVG's ids repeatable
STYLE: Any = {
    "svg.hashsalt": "musterplot",
    "svg.fonttype": "none",
    "pdf.fonttype": 42,
    "font.family": "DejaVu Sans",
    "font.size": 8.0,
    "path.simplify": True,
    "text.hinting": "none",  # at 150 dpi the shapes hold without it, and it costs a sixth
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What stands on the sheet beside the scene."""

    stamp: Stamp
    notes: tuple[str, ...] = ()  # sentences of the layers
    ages: tuple[str, ...] = ()  # how old each input is


def draw(
    scene: Scene,
    sheet: Sheet,
    ink: Ink,
    land: Land | None,
    form: PaperFormat,
    *,
    size_in: tuple[float, float] = A4_LANDSCAPE_IN,
    dpi: int = 150,
) -> bytes:
    """Return the sheet as the bytes of a PNG, PDF or SVG file.

    Parameters
    ----------
    scene : Scene
        What is drawn; its frame's half width is half the width of the chart.
    sheet : Sheet
        The words.
    ink : Ink
        Night or day.
    land : Land or None
        The coastline, if it has been cut.
    form : str
        ``"png"``, ``"pdf"`` or ``"svg"``.
    size_in : tuple of float
        Width and height of the sheet in inches.
    dpi : int
        For PNG.
    """
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=size_in, dpi=dpi, facecolor=ink.panel)
        axes = figure.add_axes(CHART_BOX)
        extent = _extent(scene.frame, size_in)
        _ground(axes, scene.frame, extent, ink, land)
        _graticule(axes, scene.frame, extent, ink)
        _marks(axes, scene, extent, ink, size_in[0])
        _furniture(axes, scene.frame, extent, ink)
        _words(figure, scene, sheet, extent, ink)
        out = io.BytesIO()
        if form == "png":
            _png(figure, out, sheet)
        else:
            figure.savefig(out, format=form, facecolor=ink.panel, metadata=_metadata(form, sheet))
    return out.getvalue()


def _png(figure: Figure, out: io.BytesIO, sheet: Sheet) -> None:
    """Write the sheet's pixels: without the channel that is full everywhere, packed quickly."""
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    pixels = Image.frombuffer("RGBA", canvas.get_width_height(), canvas.buffer_rgba())
    told = PngInfo()
    for name, text in _metadata("png", sheet).items():
        if isinstance(text, str):
            told.add_itxt(name, text)
    pixels.convert("RGB").save(
        out, "png", pnginfo=told, dpi=(figure.dpi, figure.dpi), compress_level=3
    )


def _metadata(form: PaperFormat, sheet: Sheet) -> dict[str, object]:
    title = " ".join((sheet.stamp.banner, sheet.stamp.title, sheet.stamp.time_words)).strip()
    if form == "png":
        return {"Title": title, "Software": None}
    if form == "pdf":
        return {"Title": title, "CreationDate": None, "ModDate": None, "Producer": None}
    return {"Title": title, "Date": None}


def _extent(frame: ChartFrame, size_in: tuple[float, float]) -> Extent:
    aspect = (CHART_BOX[3] * size_in[1]) / (CHART_BOX[2] * size_in[0])
    half = frame.half_width_m
    return Extent(x_min=-half, y_min=-half * aspect, x_max=half, y_max=half * aspect)


def _ground(axes: Axes, frame: ChartFrame, extent: Extent, ink: Ink, land: Land | None) -> None:
    axes.set_xlim(extent.x_min, extent.x_max)
    axes.set_ylim(extent.y_min, extent.y_max)
    axes.set_facecolor(ink.sea)
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_color(ink.quiet)
    if land is None or not land.ready():
        return
    latitudes, longitudes = _box(frame, extent)
    box = (longitudes[0], latitudes[0], longitudes[1], latitudes[1])
    detail = detail_for(extent.x_max - extent.x_min)
    fill = projected(frame, land.rings(*box, detail))
    if not fill:
        return
    axes.add_collection(
        PolyCollection([f for f in fill if len(f) > 2], facecolors=ink.land, edgecolors="none")
    )
    shore = projected(frame, land.coast(*box, detail))
    axes.add_collection(LineCollection(shore, colors=ink.shore, linewidths=0.6))


def _box(frame: ChartFrame, extent: Extent) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return (south, north), (west, east) in degrees that hold the extent."""
    x, y = np.meshgrid(
        np.linspace(extent.x_min, extent.x_max, 25), np.linspace(extent.y_min, extent.y_max, 25)
    )
    latitudes, longitudes = frame.unproject(x, y)
    off = (longitudes - frame.centre.longitude_deg + 180.0) % 360.0 - 180.0
    south, north = float(np.nanmin(latitudes)), float(np.nanmax(latitudes))
    west, east = float(np.nanmin(off)), float(np.nanmax(off))
    pole = np.isfinite(frame.project([90.0, -90.0], [0.0, 0.0])[0])
    if east - west > 300.0 and pole.any():
        west, east = -180.0, 180.0
        south, north = (south, 90.0) if frame.centre.latitude_deg > 0 else (-90.0, north)
    centre = frame.centre.longitude_deg
    return (south, north), (centre + west, centre + east)


def _graticule(axes: Axes, frame: ChartFrame, extent: Extent, ink: Ink) -> None:
    grid = graticule(frame, extent)
    axes.add_collection(
        LineCollection(
            [np.column_stack([line.x_m, line.y_m]) for line in grid.lines],
            colors=ink.line,
            linewidths=0.5,
            zorder=1.5,
        )
    )
    for line in grid.lines:
        if line.label_x_m is None or line.label_y_m is None:
            continue
        low = line.kind == "meridian"
        axes.annotate(
            line.label,
            (line.label_x_m, line.label_y_m),
            xytext=(0, -3) if low else (-3, 0),
            textcoords="offset points",
            ha="center" if low else "right",
            va="top" if low else "center",
            rotation=0 if low else 90,
            color=ink.quiet,
            fontsize=6.5,
            annotation_clip=False,
        )


def _marks(axes: Axes, scene: Scene, extent: Extent, ink: Ink, width_in: float) -> None:
    taken: list[tuple[float, float, float, float]] = []
    for item in scene.placed:
        if isinstance(item, PlacedGrid) and item.mark.edges:
            axes.contourf(
                centres(item.x_m), centres(item.y_m), np.ma.masked_invalid(item.mark.values),
                levels=(-1e9, *item.mark.edges, 1e9), colors=tints(ink, item.mark.edges),
                zorder=0.5,
            )  # fmt: skip
        elif isinstance(item, PlacedGrid):
            axes.pcolormesh(
                item.x_m, item.y_m, np.ma.masked_invalid(item.mark.values),
                cmap="cividis", alpha=0.6, shading="flat", zorder=1.8, rasterized=True,
            )  # fmt: skip
        elif isinstance(item, PlacedPath):
            _path(axes, item, ink)
    named = [item for item in scene.placed if not isinstance(item, PlacedGrid)]
    strokes = _Strokes((extent.x_max - extent.x_min) / (CHART_BOX[2] * width_in * 72.0))
    for item in sorted(named, key=lambda placed: placed.mark.rank):
        if isinstance(item, PlacedPoint) and _inside(item.x_m, item.y_m, extent):
            _symbol(strokes, item, ink)
        _label(axes, item, extent, ink, taken, width_in)
    strokes.put_on(axes)


class _Strokes:
    """The strokes of all symbols, in metres of the sheet: one collection, which is fast.

    Parameters
    ----------
    metres_a_point : float
        Metres of the chart that a point of paper covers.
    """

    def __init__(self, metres_a_point: float) -> None:
        self.metres_a_point = metres_a_point
        self.paths: list[MplPath] = []
        self.edges: list[str] = []
        self.faces: list[str] = []

    def add(
        self, item: PlacedPoint, points: Sequence[tuple[float, float]], colour: str, *, fill: bool
    ) -> None:
        """Add a stroke in points of paper about a place in metres."""
        place = np.array([item.x_m, item.y_m])
        self.paths.append(MplPath(place + self.metres_a_point * np.asarray(points, dtype=float)))
        self.edges.append(colour)
        self.faces.append(colour if fill else "none")

    def put_on(self, axes: Axes) -> None:
        """Draw them."""
        axes.add_collection(
            PathCollection(
                self.paths, facecolors=self.faces, edgecolors=self.edges, linewidths=1.0, zorder=4
            )
        )


def _dashes(item: PlacedPath) -> str | tuple[int, tuple[int, ...]]:
    if item.mark.dotted:
        return ":"
    if item.mark.freshness is Freshness.EXPECTED:
        return (0, (6, 3))
    return (0, (2, 2)) if item.mark.freshness is Freshness.STALE else "-"


def _path(axes: Axes, item: PlacedPath, ink: Ink) -> None:
    colour = ink.of(item.mark.style)
    if isinstance(item.mark, AreaMark) and item.mark.filled:
        axes.add_collection(
            PolyCollection(item.parts, facecolors=colour, alpha=0.16, edgecolors="none", zorder=2)
        )
    axes.add_collection(
        LineCollection(
            item.parts,
            colors=colour,
            linewidths=WIDTHS_PT.get(item.mark.width, 1.1),
            linestyles=[_dashes(item)],
            zorder=3,
        )
    )


def _symbol(strokes: _Strokes, item: PlacedPoint, ink: Ink) -> None:
    mark = item.mark
    colour = ink.of(mark.style)
    size = SYMBOL_PT.get(mark.rank, 5.0)
    turn = item.heading_grid_deg if mark.heading_true_deg is not None else 0.0
    found = glyph(mark)
    hollow = mark.freshness is Freshness.STALE
    for stroke in found.strokes:
        strokes.add(item, turned(stroke, turn, size), colour, fill=False)
    for shape in (*found.plates, *found.filled):
        strokes.add(item, turned(shape, turn, size), colour, fill=not hollow)


def _inside(x: float, y: float, extent: Extent) -> bool:
    return extent.x_min <= x <= extent.x_max and extent.y_min <= y <= extent.y_max


def _anchor(item: PlacedPoint | PlacedPath) -> tuple[float, float]:
    if isinstance(item, PlacedPoint):
        return item.x_m, item.y_m
    run = item.parts[0]
    place = run[np.argmax(run[:, 1])] if item.closed else run[(len(run) - 1) // 2]
    return float(place[0]), float(place[1])


def _label(
    axes: Axes,
    item: PlacedPoint | PlacedPath,
    extent: Extent,
    ink: Ink,
    taken: list[tuple[float, float, float, float]],
    width_in: float,
) -> None:
    """Put the label beside the mark unless a higher one is already there."""
    text = label(item)
    x, y = _anchor(item)
    if not text or not _inside(x, y, extent):
        return
    if isinstance(item, PlacedPoint) and item.mark.symbol is Symbol.SOUNDING:
        text = item.mark.label
    size = {0: 10.0, 1: 8.5}.get(item.mark.rank, 7.0)
    metres_a_point = (extent.x_max - extent.x_min) / (CHART_BOX[2] * width_in * 72.0)
    left = x + 9.0 * metres_a_point
    width = 0.62 * size * len(text) * metres_a_point
    height = 1.25 * size * metres_a_point
    box = (left, y - height / 2, left + width, y + height / 2)
    if any(box[0] < b[2] and box[2] > b[0] and box[1] < b[3] and box[3] > b[1] for b in taken):
        return
    taken.append(box)
    axes.annotate(
        text, (x, y), xytext=(9, 0), textcoords="offset points", va="center", ha="left",
        fontsize=size, fontweight="bold" if item.mark.rank == 0 else "normal",
        color=ink.of(item.mark.style), zorder=5, clip_on=True, annotation_clip=True,
        bbox=_behind(ink), parse_math=False,
    )  # fmt: skip


def _behind(ink: Ink) -> dict[str, Any]:
    """Return the ground behind a word on the chart: lines under it do not cross its letters."""
    return {"facecolor": ink.sea, "alpha": 0.75, "edgecolor": "none", "pad": 0.8}


def _furniture(axes: Axes, frame: ChartFrame, extent: Extent, ink: Ink) -> None:
    width = extent.x_max - extent.x_min
    height = extent.y_max - extent.y_min
    bar = scale_bar(width, frame.scale_factor(frame.centre))
    x0, y0 = extent.x_min + 0.025 * width, extent.y_min + 0.03 * height
    axes.add_patch(
        Rectangle(
            (x0 - 0.012 * width, y0 - 0.018 * height),
            bar.chart_m + 0.024 * width,
            0.075 * height,
            facecolor=ink.panel,
            edgecolor=ink.line,
            linewidth=0.5,
            zorder=6,
        )
    )
    axes.plot(
        [x0, x0, x0 + bar.chart_m, x0 + bar.chart_m],
        [y0 + 0.012 * height, y0, y0, y0 + 0.012 * height],
        color=ink.ink, linewidth=1.2, zorder=7,
    )  # fmt: skip
    axes.text(x0, y0 + 0.02 * height, bar.label, fontsize=7, color=ink.ink, zorder=7)
    _north(axes, frame, extent, ink)


def _north(axes: Axes, frame: ChartFrame, extent: Extent, ink: Ink) -> None:
    width = extent.x_max - extent.x_min
    height = extent.y_max - extent.y_min
    x, y = extent.x_min + 0.04 * width, extent.y_max - 0.10 * height
    turn = -frame.convergence_deg(frame.centre)
    arrow = turned(((0, 1.3), (0.6, -1.0), (0, -0.5), (-0.6, -1.0), (0, 1.3)), turn, 0.03 * width)
    axes.fill([x + a for a, _ in arrow], [y + b for _, b in arrow], color=ink.ink, zorder=7)
    axes.text(
        x + 0.03 * width, y, north_words(frame, frame.centre), fontsize=7, color=ink.ink,
        va="center", zorder=7, bbox=_behind(ink),
    )  # fmt: skip


def _words(figure: Figure, scene: Scene, sheet: Sheet, extent: Extent, ink: Ink) -> None:
    stamp = sheet.stamp
    banner = "   ".join(part for part in (stamp.banner, stamp.title, stamp.time_words) if part)
    _text(figure, 0.045, 0.955, banner, ink.ink, 13, "bold")
    if stamp.marking:
        _text(figure, 0.405, 0.983, stamp.marking, ink.ink, 9, "bold", "center")
        _text(figure, 0.405, 0.012, stamp.marking, ink.ink, 9, "bold", "center")
    below = (
        f"{scene.frame.title}, centred on {scene.frame.centre}, WGS 84.  {CAUTION}  "
        f"For: {stamp.releasable_to}.  "
        f"{stamp.origin_words}."
    )
    lines = [*wrap(below, 150), stamp.attribution]
    for number, line in enumerate(lines):
        _text(figure, 0.045, 0.064 - 0.0165 * number, line, ink.quiet, 7)
    _column(figure, scene, sheet, extent, ink)


def _styles_on(scene: Scene, extent: Extent) -> list[str]:
    """Return the styles of what is on the sheet, in the legend's order."""
    held = {item.mark.style for item in scene.placed if _touches(item, extent)}
    return [style for style in scene.styles() if style in held]


def _touches(item: PlacedGrid | PlacedPath | PlacedPoint, extent: Extent) -> bool:
    """Whether the box around a mark and the sheet share anything."""
    if isinstance(item, PlacedPoint):
        return _inside(item.x_m, item.y_m, extent)
    parts: Sequence[Any] = (
        item.parts
        if isinstance(item, PlacedPath)
        else (np.column_stack([item.x_m.ravel(), item.y_m.ravel()]),)
    )
    low, high = (extent.x_min, extent.y_min), (extent.x_max, extent.y_max)
    return any(
        bool((np.nanmax(part, axis=0) >= low).all() and (np.nanmin(part, axis=0) <= high).all())
        for part in parts
    )


def _column(figure: Figure, scene: Scene, sheet: Sheet, extent: Extent, ink: Ink) -> None:
    x, y = 0.785, 0.915
    y = _block(figure, x, y, "Legend", (), ink)
    for style in _styles_on(scene, extent):
        colour = ink.of(style)
        if style == Style.PROBABILITY:
            colour = "#7c7b78"  # the middle of the ramp
        figure.add_artist(_swatch(x, y, colour))
        _text(figure, x + 0.03, y, STYLE_WORDS[style], ink.ink, 7.5)
        y -= 0.021
    for words in ("dashed: expected", "dotted or hollow: stale", "?: disputed"):
        _text(figure, x, y, words, ink.quiet, 7)
        y -= 0.018
    y = _block(figure, x, y - 0.01, "How old it is", sheet.ages, ink)
    _block(figure, x, y - 0.01, "What is known", sheet.notes, ink)


def _swatch(x: float, y: float, colour: str) -> Rectangle:
    return Rectangle((x, y - 0.002), 0.022, 0.004, color=colour)


def _block(figure: Figure, x: float, y: float, head: str, lines: Sequence[str], ink: Ink) -> float:
    """Write a head and its sentences; what the sheet has no room for is said to be left out."""
    if y < LOWEST + 0.03:
        return y
    _text(figure, x, y, head, ink.ink, 9, "bold")
    y -= 0.024
    for number, paragraph in enumerate(lines):
        parts = wrap(paragraph, 44)
        if y - LINE * len(parts) < LOWEST:
            _text(figure, x, y, f"and {len(lines) - number} more in the program", ink.quiet, 7)
            return LOWEST
        _lines(figure, x, y, parts, ink.ink)
        y -= LINE * len(parts) + 0.008
    return y


def _lines(figure: Figure, x: float, y: float, parts: Sequence[str], colour: str) -> None:
    """Write lines of 7 points as one text, which is faster than a text a line."""
    figure.text(
        x, y + 0.0083, "\n".join(parts), color=colour, fontsize=7, ha="left", va="top",
        linespacing=1.24, parse_math=False,
    )  # fmt: skip


def _text(
    figure: Figure, x: float, y: float, words: str, colour: str, size: float,
    weight: str = "normal", align: str = "left",
) -> None:  # fmt: skip
    figure.text(
        x, y, words, color=colour, fontsize=size, fontweight=weight, ha=align, va="center",
        parse_math=False,
    )  # fmt: skip
