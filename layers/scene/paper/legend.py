"""The legend on paper: each thing's name behind its symbols and lines, drawn as on the chart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from layers.earth.chart.graticule import Extent
from layers.earth.chart.marks import AreaMark, Style
from layers.scene.ink import Ink
from layers.scene.paper.marks import Strokes, add_glyph, colour_of, dashes, inside, width_pt
from layers.scene.scene import STYLE_WORDS, Placed, PlacedGrid, PlacedPath, PlacedPoint, Scene
from layers.scene.symbols import glyph, her_glyph

MOST = 4  # pictures before a name
ROOM_PT = 15.0  # of a picture
GLYPH_PT = 5.5  # from the middle of a symbol to its end
ROW_IN = 0.174
UNDER = 5  # rows that are kept for what stands under it
RAMP = "#7c7b78"  # the middle of the colours of a probability


def draw_legend(
    figure: Figure, x: float, y: float, scene: Scene, extent: Extent, ink: Ink
) -> float:
    """Draw a row for each style that is on the sheet; return where the next words may stand.

    Parameters
    ----------
    x, y : float
        Left edge and first row, as parts of the sheet.
    """
    width_in, height_in = figure.get_size_inches()
    row = ROW_IN / height_in
    found = _rows(scene, extent)
    rows = found[: max(int(y / row) - UNDER, 1)]
    if not rows:
        return y
    pictures = max(len(drawn) for _, drawn in rows)
    box = (x, y - row * (len(rows) - 0.5), pictures * ROOM_PT / 72.0 / width_in, row * len(rows))
    axes = figure.add_axes(box)
    axes.set_axis_off()
    high = box[3] * height_in * 72.0
    axes.set_xlim(0.0, pictures * ROOM_PT)
    axes.set_ylim(0.0, high)
    strokes = Strokes(1.0)
    for number, (style, drawn) in enumerate(rows):
        across = high * (1.0 - (number + 0.5) / len(rows))
        for place, item in enumerate(drawn):
            _picture(axes, strokes, item, ((place + 0.5) * ROOM_PT, across), ink)
        figure.text(
            x + box[2] + 0.006, y - row * number, STYLE_WORDS[style], color=ink.ink, fontsize=7.5,
            ha="left", va="center", parse_math=False,
        )  # fmt: skip
    strokes.put_on(axes)
    y -= row * len(rows)
    if left := len(found) - len(rows):
        figure.text(x, y, f"and {left} more", color=ink.quiet, fontsize=7, va="center")
        y -= row
    return y


def _rows(scene: Scene, extent: Extent) -> list[tuple[str, list[Placed]]]:
    """Return the styles of what is on the sheet in order, each with its different pictures."""
    across = extent.x_max - extent.x_min
    held: dict[str, dict[object, Placed]] = {}
    for item in scene.placed:
        near, far = item.mark.near_m, item.mark.far_m
        if (near is not None and across > near) or (far is not None and across <= far):
            continue
        if _touches(item, extent):
            held.setdefault(item.mark.style, {}).setdefault(_sort(item), item)
    first = {style: sorted(seen.values(), key=_order)[:MOST] for style, seen in held.items()}
    return [(style, first[style]) for style in scene.styles() if style in first]


def _order(item: Placed) -> int:
    """Symbols stand before lines and areas, the highest in rank first."""
    return item.mark.rank if isinstance(item, PlacedPoint) else 99


def _sort(item: Placed) -> object:
    if isinstance(item, PlacedPoint):
        return her_glyph(item.mark) or item.mark.symbol.value.rstrip("0123456789")
    if isinstance(item, PlacedGrid) or (isinstance(item.mark, AreaMark) and item.mark.filled):
        return "area"
    return item.closed, str(dashes(item))


def _picture(axes: Axes, strokes: Strokes, item: Placed, at: tuple[float, float], ink: Ink) -> None:
    x, y = at
    colour = colour_of(item, ink)
    half = ROOM_PT / 2.0 - 1.5
    if isinstance(item, PlacedPoint):
        found = glyph(item.mark)
        reach = max(abs(v) for part in (*found.strokes, *found.plates, *found.filled)
                    for point in part for v in point)  # fmt: skip
        add_glyph(strokes, item.mark, at, 0.0, GLYPH_PT / max(reach, 1.0), ink)
    elif isinstance(item, PlacedPath) and not (
        isinstance(item.mark, AreaMark) and item.mark.filled
    ):
        if item.closed:  # what is drawn around something stands as a ring, a way as a line
            turn = np.linspace(0.0, 2.0 * np.pi, 25)
            path = x + 0.8 * half * np.cos(turn), y + 0.8 * half * np.sin(turn)
        else:
            path = np.array([x - half, x + half]), np.array([y, y])
        axes.plot(
            *path, color=colour, linewidth=width_pt(item) or 0.7, linestyle=dashes(item)
        )  # fmt: skip
    else:
        face = RAMP if item.mark.style == Style.PROBABILITY else colour
        axes.add_patch(
            Rectangle(
                (x - half, y - 3.0),
                2.0 * half,
                6.0,
                facecolor=face,
                alpha=0.5,
                edgecolor=colour,
                linewidth=0.6,
            )
        )


def _touches(item: Placed, extent: Extent) -> bool:
    """Whether the box around a mark and the sheet share anything."""
    if isinstance(item, PlacedPoint):
        return inside(item.x_m, item.y_m, extent)
    parts: Sequence[Any] = (
        (np.column_stack([item.x_m.ravel(), item.y_m.ravel()]),)
        if isinstance(item, PlacedGrid)
        else item.parts
    )
    low, high = (extent.x_min, extent.y_min), (extent.x_max, extent.y_max)
    return any(
        bool((np.nanmax(part, axis=0) >= low).all() and (np.nanmin(part, axis=0) <= high).all())
        for part in parts
    )
