"""Marks on a sheet of paper: lines in few strokes, symbols, labels that stay on the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PathCollection, PolyCollection
from matplotlib.path import Path as MplPath

from layers.earth.chart.graticule import Extent
from layers.earth.chart.marks import AreaMark, Freshness, PointMark, Style
from layers.scene.browser import centres
from layers.scene.ink import Ink, tints
from layers.scene.paper.room import Room, half_size
from layers.scene.scene import Placed, PlacedGrid, PlacedPath, PlacedPoint, Scene
from layers.scene.symbols import Stroke, glyph, turned

WIDTHS_PT = {0: 0.0, 1: 0.7, 2: 1.1, 3: 1.8}
NUMBER_PT = 7.0  # of the persons in the square of people adrift
HEAD: Stroke = ((0.0, 1.2), (0.8, -0.8), (0.0, -0.3), (-0.8, -0.8), (0.0, 1.2))


def draw_marks(axes: Axes, scene: Scene, room: Room, metres_a_point: float, ink: Ink) -> None:
    """Draw a scene's marks, those symbols and names that have room."""
    for item in scene.placed:
        if item.mark.near_m is not None and np.ptp(axes.get_xlim()) > item.mark.near_m:
            continue
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
    strokes = Strokes(metres_a_point)
    for symbol in room.symbols:
        turn = symbol.heading_grid_deg if symbol.mark.heading_true_deg is not None else 0.0
        at = (symbol.x_m, symbol.y_m)
        add_glyph(strokes, symbol.mark, at, turn, half_size(symbol), ink)
        if symbol.mark.number is not None:
            axes.text(
                *at, str(symbol.mark.number), color=ink.of(symbol.mark.style), fontsize=NUMBER_PT,
                fontweight="bold", ha="center", va="center_baseline", zorder=5, parse_math=False,
            )  # fmt: skip
    for edge in room.beyond:
        at = (edge.x * metres_a_point, edge.y * metres_a_point)
        strokes.add(at, turned(HEAD, edge.turn_deg, 6.0), ink.of(edge.item.mark.style), fill=True)
    strokes.put_on(axes)
    for name in room.names:
        style = name.item.mark.style
        axes.text(
            name.x * metres_a_point, name.y * metres_a_point, name.text, va="center", ha="left",
            fontsize=name.letters, fontweight="bold" if name.item.mark.rank == 0 else "normal",
            color=ink.quiet if style == Style.SEABED else ink.of(style), zorder=5, clip_on=True,
            bbox=behind(ink), parse_math=False,
        )  # fmt: skip


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
        fill: bool = False,
        face: str = "none",
    ) -> None:
        """Add a stroke in points of paper about a place in metres."""
        place = np.array(at)
        self.paths.append(MplPath(place + self.metres_a_point * np.asarray(points, dtype=float)))
        self.edges.append(colour)
        self.faces.append(colour if fill else face)

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
    for shape in found.plates:  # her own colour, in an outline
        face = "none" if hollow else ink.plate
        strokes.add(at, turned(shape, turn_deg, size), colour, face=face)
    for shape in found.filled:
        strokes.add(at, turned(shape, turn_deg, size), colour, fill=not hollow)


def inside(x: float, y: float, extent: Extent) -> bool:
    """Return whether a point, in metres of the frame, lies on the sheet."""
    return extent.x_min <= x <= extent.x_max and extent.y_min <= y <= extent.y_max


def behind(ink: Ink) -> dict[str, Any]:
    """Return the ground behind a word on the chart: lines under it do not cross its letters."""
    return {"facecolor": ink.sea, "alpha": 0.75, "edgecolor": "none", "pad": 0.8}
