"""Strokes of the small drawings on the panels: lines, figures, letters, as SVG text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

import shapely

Point = tuple[float, float]
SHORT, OFF_PX = 8, 0.15


def points(xs: Sequence[float], ys: Iterable[float]) -> list[Point]:
    """Return points of two rows of numbers."""
    return [(x, float(y)) for x, y in zip(xs, ys, strict=True)]


def stairs(xs: Sequence[float], ys: Iterable[float]) -> list[Point]:
    """Return a line that steps: people leave together, not one by one through the hours."""
    found: list[Point] = []
    for x, y in points(xs, ys):
        if found and found[-1][1] != y:
            found.append((x, found[-1][1]))
        if not found or found[-1] != (x, y):
            found.append((x, y))
    return found


def _said(along: Sequence[Point]) -> str:
    """Return points as text, without those that a line a fraction of a pixel off can spare."""
    kept: Iterable[Sequence[float]] = along
    if len(along) > SHORT:
        kept = shapely.get_coordinates(
            shapely.LineString(along).simplify(OFF_PX, preserve_topology=False)
        )
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in kept)


def path(along: Sequence[Point], colour: str, width: float, more: str = "") -> str:
    """Return an open line."""
    line = _said(along)
    return (
        f'<polyline points="{line}" fill="none" stroke="{colour}" stroke-width="{width:g}"{more}/>'
    )


def shape(round_it: Sequence[Point], colour: str, opacity: float) -> str:
    """Return a filled figure."""
    line = _said(round_it)
    return f'<polygon points="{line}" fill="{colour}" fill-opacity="{opacity:g}"/>'


def text(
    x: float, y: float, said: str, colour: str, *, anchor: str = "start", weight: str = "normal"
) -> str:
    """Return letters, escaped."""
    return (
        f'<text x="{x:.0f}" y="{y:.0f}" fill="{colour}" text-anchor="{anchor}" '
        f'font-weight="{weight}">{escape(said)}</text>'
    )


def width_of(said: str, letter: int) -> float:
    """Return about how wide a text will stand, pixels: six tenths of a letter each."""
    return 0.6 * letter * len(said)


def svg(width: int, height: int, letter: int, said: str, inner: str) -> str:
    """Return a whole drawing as SVG text."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'style="width:100%;height:auto;display:block" font-size="{letter}" font-family="inherit" '
        f'role="img" aria-label="{escape(said)}"><title>{escape(said)}</title>{inner}</svg>'
    )
