"""Sound speed and temperature down the water, and what the shape means."""

from __future__ import annotations

from matplotlib.figure import Figure

from dashboard.panels import figures
from dashboard.panels.text import panel, table, words
from dashboard.panels.transponders.figure import DASHES, LETTERS_PT, dress, figure
from dashboard.view import Seen
from layers.earth.chart.marks import Style
from layers.earth.clock import dtg, relative_words
from layers.transponders.report import SOURCES
from layers.transponders.result import Result
from layers.transponders.sound.water import Shape, Water


def show(seen: Seen) -> None:
    """Show the profile, with every equation beside the chosen one."""
    result: Result | None = seen.picture.result("transponders")
    if result is None:
        return
    if result.water is None or result.shape is None:
        panel(
            words(
                "No profile yet: drop a CTD or probe file on the plot (.edf, CSV, Argo "
                "NetCDF), or type one below."
            )
        )
        return
    said = "Sound speed against depth, with duct, thermocline and channel"
    figures.show(_drawn(seen, result.water, result.shape), said)
    panel(table(_numbers(result, result.water, result.shape)))


def _numbers(result: Result, water: Water, shape: Shape) -> list[tuple[str, str]]:
    spread = "one speed only" if water.spread_m_s is None else f"{water.spread_m_s:.2f} m/s"
    fall = "none"
    if shape.thermocline_m is not None:
        fall = f"{shape.thermocline_m[0]:.0f} to {shape.thermocline_m[1]:.0f} m"
    return [
        (
            "Taken",
            f"{dtg(water.taken_at)}, {relative_words(water.taken_at, result.at)}, {water.source}",
        ),
        ("Mean for travel time (harmonic)", f"{shape.harmonic_mean_m_s:.1f} m/s"),
        ("Surface duct", f"to {shape.duct_m:.0f} m" if shape.duct_m else "none"),
        ("Thermocline", fall),
        ("Channel axis", "none" if shape.axis_m is None else f"{shape.axis_m:.0f} m"),
        ("Spread between the equations", spread),
        ("Equations", "; ".join(f"{name}: {SOURCES[name]}" for name in water.equations)),
    ]


def _drawn(seen: Seen, water: Water, shape: Shape) -> Figure:
    ink = seen.ink
    drawn, axes = figure(ink, 4.6)
    hue = ink.of(Style.EVIDENCE)
    axes.plot(water.speed_m_s, water.depth_m, color=ink.ink, linewidth=2.2, label="used")
    for number, (name, speed) in enumerate(water.equations.items()):
        axes.plot(
            speed,
            water.measured_depth_m,
            color=hue,
            linewidth=1.1,
            linestyle=DASHES[number % len(DASHES)],
            label=name,
        )
    if water.temperature_c is not None:
        warm = axes.twiny()
        dress(warm, ink)
        warm.grid(visible=False)
        warm.plot(
            water.temperature_c, water.measured_depth_m, color=ink.of(Style.DRIFT), linewidth=1.4
        )
        warm.set_xlabel("Temperature (°C), orange")
    for depth, name in ((shape.duct_m or None, "duct to"), (shape.axis_m, "axis")):
        if depth is not None:
            axes.axhline(depth, color=ink.quiet, linestyle="--", linewidth=1)
            axes.annotate(
                f"{name} {depth:.0f} m",
                (0.02, depth),
                color=ink.ink,
                va="bottom",
                xycoords=axes.get_yaxis_transform(),
                xytext=(0, 3),
                textcoords="offset points",
            )
    axes.set_ylim(float(water.depth_m[-1]), 0.0)
    axes.set_xlabel("Sound speed (m/s)")
    axes.set_ylabel("Depth (m)")
    drawn.legend(
        *axes.get_legend_handles_labels(),
        loc="outside lower center",  # on the figure the curves would run through it
        ncols=3,
        facecolor=ink.panel,
        labelcolor=ink.ink,
        edgecolor=ink.line,
        fontsize=LETTERS_PT,
    )
    return drawn
