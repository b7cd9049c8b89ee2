"""The net in plan, in metres from the working place, shaded by how well it fixes a place there."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from dashboard.panels import figures
from dashboard.panels.text import panel, words
from dashboard.panels.transponders.figure import LETTERS_PT, figure
from dashboard.view import Seen
from layers.earth.chart.marks import Style
from layers.earth.plane import Plane
from layers.earth.said.written import dm_text
from layers.transponders.result import Geometry, Result


def show(seen: Seen) -> None:
    """Show the geometry of the net, and where one more transponder would help most."""
    result: Result | None = seen.picture.result("transponders")
    if result is None:
        return
    if result.geometry is None:
        panel(words("The map of geometry needs two transponders that answer."))
        return
    said = "Geometry of the net over the working area, and where one more would help most"
    figures.show(_drawn(seen, result, result.geometry), said)
    panel(words(_better(result.geometry)))


def _better(shown: Geometry) -> str:
    best = "nowhere" if shown.best is None else dm_text(shown.best)
    return (
        "Shaded: metres of position error for each metre of range error (HDOP), at "
        f"{shown.depth_m:.0f} m with depth known by the object's own gauge. One more transponder "
        f"at {best} would bring the mean within {shown.area_radius_m:.0f} m from "
        f"{shown.mean_before:.2f} to {shown.mean_after:.2f}."
    )


def _drawn(seen: Seen, result: Result, shown: Geometry) -> Figure:
    ink = seen.ink
    drawn, axes = figure(ink, 5.6)
    plane = Plane.about(shown.centre)
    east, north = plane.project(shown.latitudes_deg, shown.longitudes_deg)
    shade = axes.pcolormesh(
        east, north, np.ma.masked_invalid(shown.hdop), cmap="cividis_r", vmin=0.8, vmax=4.0
    )
    bar = drawn.colorbar(shade, ax=axes, shrink=0.8)
    bar.set_label("HDOP (m per m)", color=ink.ink)
    bar.ax.tick_params(colors=ink.ink, labelsize=LETTERS_PT)
    box = {"facecolor": ink.panel, "edgecolor": "none", "alpha": 0.8, "pad": 1.5}
    names = [(one.name, one.position, "D", Style.TRANSPONDER) for one in result.transponders]
    names += [
        (fix.subject, fix.position, "o", Style.DISSUB if fix.is_dissub else Style.SHIP)
        for fix in result.fixes
    ]
    if shown.best is not None:
        names.append(("one more here", shown.best, "^", Style.TRANSPONDER))
    span = float(np.ptp(north))
    placed: list[tuple[float, float, float]] = []
    for name, place, symbol, style in sorted(names, key=lambda one: -one[1].latitude_deg):
        at = plane.project(place.latitude_deg, place.longitude_deg)
        x, y = float(at[0]), float(at[1])
        axes.plot(
            x,
            y,
            symbol,
            markersize=9,
            markerfacecolor="none",
            markeredgewidth=2,
            color=ink.of(style),
            markeredgecolor=ink.panel if name == "one more here" else ink.of(style),
        )
        axes.annotate(
            name,
            (x, y),
            xytext=_clear(name, x + 0.03 * span, y, span, placed),
            va="center",
            color=ink.ink,
            bbox=box,
            arrowprops={"arrowstyle": "-", "color": ink.quiet, "shrinkA": 0, "shrinkB": 6},
        )
    axes.set_aspect("equal")
    axes.set_xlabel("East of the working place (m)")
    axes.set_ylabel("North (m)")
    return drawn


def _clear(
    name: str, x: float, y: float, span: float, placed: list[tuple[float, float, float]]
) -> tuple[float, float]:
    """Return where a label stands clear of those before it: lower, if it must.

    ``placed`` holds left, right and middle height of each label, and gets this one's. All in
    metres; a letter takes about a fiftieth of the span, a line about a sixteenth.
    """
    right = x + len(name) * span / 48.0
    while any(x < r and right > left and abs(y - h) < span / 16.0 for left, r, h in placed):
        y -= span / 64.0
    placed.append((x, right, y))
    return x, y
