"""Chambers against time: persons in each, attendants included, and the oxygen that is left."""

from __future__ import annotations

from dashboard.panels.strokes import path, points, shape, stairs, svg, text
from dashboard.panels.survivors.clocks import tick_times
from layers.earth.chart.marks import Style
from layers.earth.clock import dtg, from_us
from layers.scene.ink import Ink
from layers.survivors.chambers.chamber import ChamberLoad, Occupancy

# as wide as the panel stands on the narrowest screen: drawn smaller the letters would be too
WIDTH, LANE, LETTER, LEFT = 730, 64, 15, 134
TICKS = 5


def occupancy_drawing(held: Occupancy, ink: Ink) -> str:
    """Return the chambers' load against time as inline SVG; P10 to P90 shaded, P50 a line."""
    at = held.at_us.astype(float)
    xs = [LEFT + float(x) for x in (at - at[0]) / (at[-1] - at[0]) * (WIDTH - LEFT - 6)]
    parts = [_chamber(load, xs, ink, LANE * n) for n, load in enumerate(held.chambers)]
    lanes = len(held.chambers)
    if held.oxygen_m3 is not None:
        parts.append(_oxygen(held, xs, ink, LANE * lanes))
        lanes += 1
    parts.append(_axis(held, ink, LANE * lanes))
    said = "; ".join(
        f"{load.name}: at most {int(load.persons[2].max())} of {load.places} places"
        for load in held.chambers
    )
    return svg(WIDTH, LANE * lanes + 30, LETTER, said, "".join(parts))


def _chamber(load: ChamberLoad, xs: list[float], ink: Ink, top: int) -> str:
    base, scale = top + LANE - 8, (LANE - 22) / load.places
    low, middle, high = (base - band * scale for band in load.persons)
    full = base - load.places * scale
    most = int(load.persons[2].max())
    return "".join(
        (
            text(4, top + 24, load.name, ink.ink, weight="bold"),
            text(4, top + 44, f"most {most} of {load.places}", ink.ink),
            path([(xs[0], full), (xs[-1], full)], ink.quiet, 1.5, ' stroke-dasharray="6 4"'),
            shape([*stairs(xs, high), *reversed(stairs(xs, low))], ink.of(Style.PEOPLE), 0.45),
            path(stairs(xs, middle), ink.of(Style.PEOPLE), 2.5),
            path([(xs[0], base), (xs[-1], base)], ink.quiet, 1),
        )
    )


def _oxygen(held: Occupancy, xs: list[float], ink: Ink, top: int) -> str:
    assert held.oxygen_m3 is not None
    full = max(float(held.oxygen_m3.max()), 1.0)
    base, scale = top + LANE - 8, (LANE - 22) / full
    low, middle, high = (base - band.clip(0.0) * scale for band in held.oxygen_m3)
    left = float(held.oxygen_m3[1, -1])
    return "".join(
        (
            text(4, top + 24, "oxygen aboard", ink.ink, weight="bold"),
            text(4, top + 44, f"{full:.0f} to {left:.0f} m³", ink.ink),
            shape([*points(xs, high), *reversed(points(xs, low))], ink.of(Style.WAVE), 0.45),
            path(points(xs, middle), ink.of(Style.WAVE), 2.5),
            path([(xs[0], base), (xs[-1], base)], ink.quiet, 1),
        )
    )


def _axis(held: Occupancy, ink: Ink, top: int) -> str:
    start, end = from_us(int(held.at_us[0])), from_us(int(held.at_us[-1]))
    found = []
    for at in tick_times(start, end, TICKS):
        x = LEFT + (at - start) / (end - start) * (WIDTH - LEFT - 6)
        found.append(path([(x, 0), (x, top)], ink.line, 1))
        if x < WIDTH - 50:
            found.append(text(x, top + 20, dtg(at)[:7], ink.ink, anchor="middle"))
    return "".join(found)
