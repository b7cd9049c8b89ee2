"""Marks on a sheet of paper: lines in few strokes, symbols, labels that stay on the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PathCollection, PolyCollection
from matplotlib.path import Path as MplPath

from layers.earth.chart.graticule import Extent
from layers.earth.chart.marks import AreaMark, Freshness, PointMark, Style, Symbol
from layers.scene.browser import centres
from layers.scene.ink import Ink, tints
from layers.scene.scene import Placed, PlacedGrid, PlacedPath, PlacedPoint, Scene, label
from layers.scene.symbols import glyph, turned

CHART_BOX = (0.045, 0.105, 0.72, 0.82)  # left, bottom, width, height as parts of the sheet
WIDTHS_PT = {0: 0.0, 1: 0.7, 2: 1.1, 3: 1.8}
SYMBOL_PT = {0: 8.0, 1: 7.0, 2: 5.5}


def draw_marks(axes: Axes, scene: Scene, extent: Extent, ink: Ink, width_in: float) -> None:
    """Draw a scene's marks, each label where it hides no other."""
    taken: list[tuple[float, float, float, float]] = []
    across = extent.x_max - extent.x_min
    drawn = [
        item for item in scene.placed if item.mark.near_m is None or across <= item.mark.near_m
    ]
    for item in drawn:
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
    named = [item for item in drawn if not isinstance(item, PlacedGrid)]
    strokes = Strokes((extent.x_max - extent.x_min) / (CHART_BOX[2] * width_in * 72.0))
    for item in sorted(named, key=lambda placed: placed.mark.rank):
        stands = item.mark.far_m is None or across > item.mark.far_m
        if stands and isinstance(item, PlacedPoint) and inside(item.x_m, item.y_m, extent):
            _symbol(strokes, item, ink)
        _label(axes, item, extent, ink, taken, width_in)
    strokes.put_on(axes)


class Strokes:
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
        self,
        at: tuple[float, float],
        points: Sequence[tuple[float, float]],
        colour: str,
        *,
        fill: bool,
    ) -> None:
        """Add a stroke in points of paper about a place in metres."""
        place = np.array(at)
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


def colour_of(item: Placed, ink: Ink) -> str:
    """Return what a mark is drawn in: depths are ground, never ink."""
    if item.mark.style == Style.SEABED and not isinstance(item, PlacedPoint):
        return ink.contour
    return ink.of(item.mark.style)


def width_pt(item: PlacedPath) -> float:
    """Return how wide a line is drawn, in points."""
    if item.mark.style == Style.SEABED:
        return 0.45
    return WIDTHS_PT.get(item.mark.width, 1.1)


def dashes(item: PlacedPath) -> str | tuple[int, tuple[int, ...]]:
    """Return the strokes that a line is broken into."""
    if item.mark.dotted:
        return ":"
    if item.mark.freshness is Freshness.EXPECTED:
        return (0, (6, 3))
    return (0, (2, 2)) if item.mark.freshness is Freshness.STALE else "-"


def _path(axes: Axes, item: PlacedPath, ink: Ink) -> None:
    colour = colour_of(item, ink)
    if isinstance(item.mark, AreaMark) and item.mark.filled:
        axes.add_collection(
            PolyCollection(item.parts, facecolors=colour, alpha=0.16, edgecolors="none", zorder=2)
        )
    axes.add_collection(
        LineCollection(
            item.parts,
            colors=colour,
            linewidths=width_pt(item),
            linestyles=[dashes(item)],
            zorder=1.7 if item.mark.style == Style.SEABED else 3,
        )
    )


def _symbol(strokes: Strokes, item: PlacedPoint, ink: Ink) -> None:
    turn = item.heading_grid_deg if item.mark.heading_true_deg is not None else 0.0
    size = SYMBOL_PT.get(item.mark.rank, 5.0)
    add_glyph(strokes, item.mark, (item.x_m, item.y_m), turn, size, ink)


def add_glyph(
    strokes: Strokes,
    mark: PointMark,
    at: tuple[float, float],
    turn_deg: float,
    size: float,
    ink: Ink,
) -> None:
    """Add the strokes of a mark's symbol at a place; ``size`` is half of it, in points."""
    colour = ink.of(mark.style)
    found = glyph(mark)
    hollow = mark.freshness is Freshness.STALE
    for stroke in found.strokes:
        strokes.add(at, turned(stroke, turn_deg, size), colour, fill=False)
    for shape in (*found.plates, *found.filled):
        strokes.add(at, turned(shape, turn_deg, size), colour, fill=not hollow)


def inside(x: float, y: float, extent: Extent) -> bool:
    """Return whether a point, in metres of the frame, lies on the sheet."""
    return extent.x_min <= x <= extent.x_max and extent.y_min <= y <= extent.y_max


def _anchor(item: PlacedPoint | PlacedPath, extent: Extent) -> tuple[float, float]:
    """Return where a mark's name stands: of a line, the middle of what is on the sheet."""
    if isinstance(item, PlacedPoint):
        return item.x_m, item.y_m
    run = item.parts[0]
    if item.closed:
        place = run[np.argmax(run[:, 1])]
    else:
        on = [part for part in run if inside(part[0], part[1], extent)]
        place = on[(len(on) - 1) // 2] if on else run[(len(run) - 1) // 2]
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
    x, y = _anchor(item, extent)
    if not text or not inside(x, y, extent):
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
        color=ink.quiet if item.mark.style == Style.SEABED else ink.of(item.mark.style),
        zorder=5, clip_on=True, annotation_clip=True,
        bbox=behind(ink), parse_math=False,
    )  # fmt: skip


def behind(ink: Ink) -> dict[str, Any]:
    """Return the ground behind a word on the chart: lines under it do not cross its letters."""
    return {"facecolor": ink.sea, "alpha": 0.75, "edgecolor": "none", "pad": 0.8}
