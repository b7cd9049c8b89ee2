"""What the searches that saw nothing have proved, by cell, and what is left outside."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from dashboard.panels import figures
from dashboard.panels.text import line, panel, words
from dashboard.tools import need
from dashboard.view import Seen
from layers.datum.result import Searched
from layers.earth.units import M_PER_NMI


def show(seen: Seen) -> None:
    """Show the probability by cell before and after the searches."""
    found = seen.picture.shown("datum")
    if owed := seen.picture.owed("datum"):
        panel(words(owed))
        return
    searched = found.result.searched if found is not None else None
    if searched is None:
        need.said(seen, "No search that saw nothing is recorded yet; add one as it was steered.",
                  "searched", "datum.negative_search")  # fmt: skip
        return
    panel(
        line(
            words(
                f"All searches together would have seen her with {searched.probability_seen:.0%}. "
                f"They saw nothing, so {searched.left_outside:.0%} of the probability now lies "
                "where less than a tenth was searched. A low probability is not zero."
            )
        )
    )
    figures.show(
        _figure(searched, seen),
        "Two maps of the probability by cell, before and after the searches that saw nothing",
    )


def _figure(searched: Searched, seen: Seen) -> Figure:
    ink = seen.ink
    figure = Figure(figsize=(9.0, 3.6), dpi=140, facecolor=ink.panel, layout="constrained")
    grid = searched.before
    scale = (grid.cell_m / M_PER_NMI) ** 2
    x = (grid.x0_m + grid.cell_m * np.arange(grid.held.shape[1] + 1)) / M_PER_NMI
    y = (grid.y0_m + grid.cell_m * np.arange(grid.held.shape[0] + 1)) / M_PER_NMI
    x, y = x - x.mean(), y - y.mean()
    top = max(float(searched.before.held.max()), float(searched.after.held.max())) / scale
    for place, (title, values) in enumerate(
        (("before", searched.before.held), ("after", searched.after.held))
    ):
        axes = figure.add_subplot(1, 2, place + 1, facecolor=ink.sea)
        cells = axes.pcolormesh(x, y, values / scale, cmap="cividis", vmin=0.0, vmax=top)
        axes.set_aspect("equal")
        axes.set_title(f"{title} the searches", color=ink.ink, fontsize=12)
        axes.tick_params(colors=ink.quiet, labelsize=10)
        axes.set_xlabel("nmi east of the middle", color=ink.quiet, fontsize=11)
        axes.set_ylabel("nmi north", color=ink.quiet, fontsize=11)
    bar = figure.colorbar(cells, ax=figure.axes)
    bar.set_label("probability per nmi²", color=ink.quiet, fontsize=11)
    bar.ax.tick_params(colors=ink.quiet, labelsize=10)
    return figure
