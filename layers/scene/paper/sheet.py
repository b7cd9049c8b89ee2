"""The scene on paper: PNG, PDF or SVG with everything a reader outside the room needs.

Title, time, exercise banner, marking, the watch's four answers with their ages, graticule, scale
in nautical miles, north with convergence, legend, ages of what it rests on, caution and
attribution. The same scene and stamp give the same bytes: the only date in the file is the one
declared on the sheet.
"""

from __future__ import annotations

import io
from typing import Any, Literal

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from layers.earth.chart.frames import ChartFrame
from layers.earth.chart.graticule import Extent, ScaleBar, graticule, north_words, scale_bar
from layers.earth.shore.land import Land, detail_for
from layers.earth.units import M_PER_NMI
from layers.scene.ink import Ink
from layers.scene.land_metres import projected
from layers.scene.paper.marks import behind, draw_marks
from layers.scene.paper.room import Box, laid_out
from layers.scene.paper.words import Sheet, draw_words
from layers.scene.scene import Scene
from layers.scene.symbols import turned

PaperFormat = Literal["png", "pdf", "svg"]
A4_LANDSCAPE_IN, A4_DPI = (11.69, 8.27), 150
# left, bottom, width, height as parts of the sheet
CHART, CHART_ALONE = (0.045, 0.105, 0.72, 0.735), (0.04, 0.07, 0.7, 0.92)
WIDE_NMI = 150.0  # half a chart's width from which its scale is another at its edge

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


def draw(
    scene: Scene,
    sheet: Sheet,
    ink: Ink,
    land: Land | None,
    form: PaperFormat,
    *,
    size_in: tuple[float, float] = A4_LANDSCAPE_IN,
    dpi: int = A4_DPI,
    alone: bool = False,
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
    alone : bool
        The chart and its legend alone, for a slide that has the other words itself.
    """
    chart = CHART_ALONE if alone else CHART
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=size_in, dpi=dpi, facecolor=ink.panel)
        axes = figure.add_axes(chart)
        extent = _extent(scene.frame, size_in, chart)
        metres_a_point = (extent.x_max - extent.x_min) / (chart[2] * size_in[0] * 72.0)
        room = laid_out(scene, extent, metres_a_point, _taken(scene.frame, extent, metres_a_point))
        _ground(axes, scene.frame, extent, ink, land)
        _graticule(axes, scene.frame, extent, ink)
        draw_marks(axes, scene, room, metres_a_point, ink)
        _furniture(axes, scene.frame, extent, ink)
        draw_words(figure, scene, sheet, extent, ink, gave_way=room.gave_way, alone=alone)
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


def _extent(
    frame: ChartFrame, size_in: tuple[float, float], chart: tuple[float, float, float, float]
) -> Extent:
    aspect = (chart[3] * size_in[1]) / (chart[2] * size_in[0])
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
    lines = graticule(frame, extent)
    axes.add_collection(
        LineCollection(
            [np.column_stack([line.x_m, line.y_m]) for line in lines],
            colors=ink.line,
            linewidths=0.5,
            zorder=1.5,
        )
    )
    for line in lines:
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


def _bar(frame: ChartFrame, extent: Extent) -> tuple[ScaleBar, str, Extent]:
    """Return the scale bar, its words, and the box it stands in, metres of the frame.

    Where the scale changes over the sheet it is true in the middle only, and says so.
    """
    width, height = extent.x_max - extent.x_min, extent.y_max - extent.y_min
    bar = scale_bar(width, frame.scale_factor(frame.centre))
    latitude = frame.centre.latitude_deg
    wide = frame.half_width_m > WIDE_NMI * M_PER_NMI
    at = f"  at {abs(latitude):.0f}°{'S' if latitude < 0 else 'N'}" if wide else ""
    left, low = extent.x_min + 0.013 * width, extent.y_min + 0.012 * height
    box = Extent(x_min=left, y_min=low, x_max=left + bar.chart_m + 0.024 * width,
                 y_max=low + 0.075 * height)  # fmt: skip
    return bar, bar.label + at, box


def _taken(frame: ChartFrame, extent: Extent, metres_a_point: float) -> list[Box]:
    """Return what the scale bar and the north arrow cover, in points from the chart's middle."""
    _, _, bar = _bar(frame, extent)
    width, height = extent.x_max - extent.x_min, extent.y_max - extent.y_min
    words = 4.5 * len(north_words(frame, frame.centre)) * metres_a_point
    north = (extent.x_min, extent.y_max - 0.16 * height,
             extent.x_min + 0.075 * width + words, extent.y_max)  # fmt: skip
    boxes = ((bar.x_min, bar.y_min, bar.x_max, bar.y_max), north)
    return [(a / metres_a_point, b / metres_a_point, c / metres_a_point, d / metres_a_point)
            for a, b, c, d in boxes]  # fmt: skip


def _furniture(axes: Axes, frame: ChartFrame, extent: Extent, ink: Ink) -> None:
    width, height = extent.x_max - extent.x_min, extent.y_max - extent.y_min
    bar, words, box = _bar(frame, extent)
    x0, y0 = box.x_min + 0.012 * width, box.y_min + 0.018 * height
    axes.add_patch(
        Rectangle(
            (box.x_min, box.y_min), box.x_max - box.x_min, box.y_max - box.y_min,
            facecolor=ink.panel, edgecolor=ink.line, linewidth=0.5, zorder=6,
        )
    )  # fmt: skip
    axes.plot(
        [x0, x0, x0 + bar.chart_m, x0 + bar.chart_m],
        [y0 + 0.012 * height, y0, y0, y0 + 0.012 * height],
        color=ink.ink, linewidth=1.2, zorder=7,
    )  # fmt: skip
    axes.text(x0, y0 + 0.02 * height, words, fontsize=7, color=ink.ink, zorder=7)
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
        va="center", zorder=7, bbox=behind(ink),
    )  # fmt: skip
