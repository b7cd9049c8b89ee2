"""The two clocks on one time axis: how long they can last, and when the last will be out.

For each refuge a bar for how long they can last if nobody leaves, the lifts under it, and a
dimension line between *hatch shut behind the last* and *the level that binds*, with the hours
written on it. Small beside the plot, whole on the lift page (with sea, sortie and chambers),
large on the wall: one function, one list of bars.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from dashboard.cache.lately import Itself, Lately
from dashboard.panels.survivors.axis_strokes import Pen, SeaLine
from layers.scene.ink import INKS, Ink
from layers.survivors.lifts.axis import Axis, RefugeLine, axis_of
from layers.survivors.lifts.margin_model import Outlook

STEPS_H = (1, 2, 3, 6, 12, 24, 48)


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """Width, left part for names, letters (names, rest) and most ticks, in pixels."""

    width: int
    left: int
    letter: int
    quiet: int
    ticks: int
    rows: bool  # sea, whole sortie and chambers too
    longest_h: float = 96.0
    edge: int = 0  # free at both sides


SIZES = {
    "small": Size(width=380, left=0, letter=15, quiet=13, ticks=5, rows=False, longest_h=72.0),
    "full": Size(width=1000, left=132, letter=15, quiet=13, ticks=13, rows=True),
    "wall": Size(
        width=960, left=0, letter=36, quiet=31, ticks=4, rows=False, longest_h=72.0, edge=26
    ),
}


def two_clocks(result: object, ink: Ink, size: str = "full", sea: SeaLine | None = None) -> str:
    """Return the two clocks as inline SVG to put on a page.

    Parameters
    ----------
    result : Outlook or a result that has one as ``outlook``
        What the survivors layer computed.
    ink : Ink
        The page's colours.
    size : str
        ``"small"`` for the plot, ``"full"`` for the lift page, ``"wall"``.
    sea : SeaLine, optional
        What the sea lets through, for the lift page.

    Returns
    -------
    str
        One line of SVG, or an empty text when nobody waits in a refuge.
    """
    outlook = _outlook(result)
    if outlook is None:
        return ""
    key = (Itself(outlook), ink.name, size, _levels(result), sea)
    return _DRAWN(key)


_Key = tuple[Itself[Outlook], str, str, tuple[tuple[tuple[str, str], str], ...], SeaLine | None]


def _draw(key: _Key) -> str:
    outlook, ink, size, levels, sea = key
    axis = axis_of(outlook.it, dict(levels), SIZES[size].longest_h)
    return "" if axis is None else clocks_svg(axis, INKS[ink], size, sea)


_DRAWN = Lately(_draw, 40)


def _outlook(result: object) -> Outlook | None:
    found = result if isinstance(result, Outlook) else getattr(result, "outlook", None)
    return found if isinstance(found, Outlook) and found.refuges else None


def _levels(result: object) -> tuple[tuple[tuple[str, str], str], ...]:
    """Return each level of each refuge in words, where the air is beside the lifts."""
    air = getattr(result, "air", None)
    return tuple(
        (
            (one.refuge, level.name),
            f"{_named(level.name, level.limit.split(' (')[0])}"
            + (", by trend" if level.how == "trend" else ""),
        )
        for one in getattr(air, "refuges", ())
        for level in one.levels
    )


def clocks_svg(axis: Axis, ink: Ink, size: str, sea: SeaLine | None = None) -> str:
    """Return the axis as one line of SVG."""
    s = SIZES[size]
    pen = Pen(ink, s.width, s.left, axis, name=size, edge=s.edge)
    top = 0.0
    if s.rows and sea is not None:
        top = pen.sea(sea, top, s.letter, s.quiet)
    for line in axis.refuges:
        top = _lane(pen, line, s, top)
    if s.rows:
        for chamber in axis.chambers:
            top = pen.chamber(chamber, top, s.letter, s.quiet)
        top = pen.legend(top, s.quiet)
    _axis(pen, s, top)
    said = "; ".join(f"{line.name} refuge: {line.margin}, {line.level}" for line in axis.refuges)
    return pen.svg(round(top + s.quiet * 2.0), said)


def _lane(pen: Pen, line: RefugeLine, s: Size, top: float) -> float:
    """Draw one refuge and return where the next begins."""
    unit = s.letter
    head = 0.0 if s.left else unit * 1.5
    name = f"{line.name.capitalize()} refuge"
    count = f"{line.persons} persons"
    if s.left:
        pen.text(0, top + unit * 1.2, name, size=s.letter, bold=True)
        pen.text(0, top + unit * 2.3, count, size=s.quiet, quiet=True)
    else:
        pen.text(0, top + unit * 1.1, name, size=s.letter, bold=True, halo=True)
        pen.text(s.width, top + unit * 1.1, count, size=s.quiet, quiet=True, anchor="end")
    bar = top + head + unit * 0.45
    pen.lasting(line, bar, unit * 0.75)
    under = bar + unit * 0.75
    pen.level(line, under + s.quiet * 1.15, s.quiet)
    lifts = under + s.quiet * 1.6
    pen.lifts(line, lifts, unit * 1.2, s.quiet, labels=bool(s.left))
    beside = line.beside if s.left else ""
    return pen.dimension(line, lifts + unit * 1.2, s.letter, beside, s.quiet) + unit * (
        0.7 if s.rows or s.edge else 0.3
    )


def _axis(pen: Pen, s: Size, top: float) -> None:
    pen.grid(tick_times(pen.axis.start, pen.axis.end, s.ticks), top, s.quiet)


def tick_times(start: datetime, end: datetime, most: int) -> Iterable[datetime]:
    """Return round times for an axis, at most so many."""
    span_h = (end - start).total_seconds() / 3600.0
    step = next((step for step in STEPS_H if span_h / step <= most), STEPS_H[-1])
    day = start.replace(hour=0, minute=0, second=0, microsecond=0)
    at = day
    while at <= end:
        if at > start:
            yield at
        at += timedelta(hours=step)


def _named(name: str, limit: str) -> str:
    """Return a level with its limit, once: a name may hold it already."""
    return name if limit in name else f"{name} {limit}"
