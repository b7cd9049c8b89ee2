"""Rays of sound from the DISSUB against range and depth, and the shadow they leave."""

from __future__ import annotations

import numpy as np
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure

from dashboard.panels import figures
from dashboard.panels.text import panel, words
from dashboard.panels.transponders.figure import figure
from dashboard.view import Seen
from layers.earth.chart.marks import Style
from layers.transponders.result import Result
from layers.transponders.sound.raying import RayPicture, direct_to, shadow_share


def show(seen: Seen) -> None:
    """Show the ray diagram, the shadow shaded, and how far direct sound comes."""
    result: Result | None = seen.picture.result("transponders")
    if result is None:
        return
    if result.heard.rays is None:
        panel(words("The ray diagram needs a sound-speed profile."))
        return
    rays = result.heard.rays
    said = "Rays from the source against range and depth, with the shadow zone"
    figures.show(_drawn(seen, rays), said)
    listener = result.heard.rows[0].listener
    panel(words(_words(rays, listener.depth_m)))


def _words(rays: RayPicture, depth_m: float) -> str:
    reach = direct_to(rays, depth_m)
    how_far = "as far as the diagram goes" if reach is None else f"as far as {reach:.0f} m"
    return (
        f"From {rays.source_depth_m:.0f} m, direct sound comes to a listener at {depth_m:.0f} m "
        f"{how_far}. Shaded: {100.0 * shadow_share(rays):.0f} % of the diagram has no direct "
        "sound, only sound by way of the seabed. Rays are drawn to where they first meet the "
        "seabed: arcs through layers of constant gradient, surface and seabed flat mirrors."
    )


def _drawn(seen: Seen, rays: RayPicture) -> Figure:
    ink = seen.ink
    drawn, axes = figure(ink, 3.9)
    shade = ListedColormap([ink.panel, ink.quiet])
    axes.pcolormesh(
        rays.range_edges_m / 1852.0,
        rays.depth_edges_m,
        ~rays.direct,
        cmap=shade,
        alpha=0.45,
        vmin=0,
        vmax=1,
    )
    hue = ink.of(Style.HEARING)
    for row in rays.depth_m:
        axes.plot(rays.range_m / 1852.0, row, color=hue, linewidth=0.8)
    axes.plot(
        0.0, rays.source_depth_m, "o", color=ink.of(Style.DISSUB), markersize=9, clip_on=False
    )
    axes.set_ylim(float(rays.depth_edges_m[-1]), 0.0)
    axes.set_xlim(0.0, float(np.max(rays.range_m)) / 1852.0)
    axes.set_xlabel("Range (nmi)")
    axes.set_ylabel("Depth (m)")
    return drawn
