"""Figures of the seabed page, drawn by matplotlib in the ink of the page; no panel itself."""

from __future__ import annotations

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from layers.scene.ink import Ink

LETTERS_PT = 12.0  # about 14 px where a figure of seven inches stands in half a wide page
# Told apart by dash and by the name at the line's end as well as by hue (Okabe and Ito 2008).
DASHES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1, 1, 1)))


def figure(ink: Ink, height_in: float) -> tuple[Figure, Axes]:
    """Return an empty figure of seven inches' width and its axes, in the ink of the page."""
    with mpl.rc_context({"font.size": LETTERS_PT}):
        drawn = Figure(figsize=(7.0, height_in), dpi=100, layout="constrained")
        axes = drawn.add_subplot()
    drawn.set_facecolor(ink.panel)
    dress(axes, ink)
    return drawn, axes


def dress(axes: Axes, ink: Ink) -> None:
    """Give axes the ink of the page."""
    axes.set_facecolor(ink.panel)
    axes.tick_params(colors=ink.ink, labelsize=LETTERS_PT)
    for spine in axes.spines.values():
        spine.set_color(ink.quiet)
    for label in (axes.xaxis.label, axes.yaxis.label, axes.title):
        label.set_color(ink.ink)
        label.set_fontsize(LETTERS_PT)
    axes.grid(visible=True, color=ink.line, linewidth=0.6)
