"""The two clocks: how long they can last above the line, who is out below it, one time axis.

Lives are the other axis, the same for every refuge. Above: persons times the chance that no
level is reached yet, so that the slope is the band P10 to P90. Below: persons out, the band P10
to P90 and the median. The bar on the line between the two medians is the margin, in words too.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from dashboard.lately import Itself, Lately
from dashboard.panels.strokes import path, picture, points, shape, stairs, svg, text, width_of
from layers.earth.chart.marks import Style
from layers.earth.clock import dtg, from_us
from layers.scene.ink import INKS, Ink
from layers.survivors.lifts.margin import NO_TIME
from layers.survivors.lifts.margin_model import Clocks, Outlook, RefugeOutlook
from layers.survivors.lifts.spread import said_chance

STEPS_H = (1, 2, 3, 6, 12, 24, 48, 72, 120)


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """Width, height of each half of a lane, letters and most ticks, in pixels."""

    width: int
    half: int
    letter: int
    ticks: int


SIZES = {
    "small": Size(width=400, half=34, letter=14, ticks=3),
    "full": Size(width=730, half=56, letter=15, ticks=5),
    "wall": Size(width=1020, half=38, letter=33, ticks=4),
}


def two_clocks(result: object, ink: Ink, size: str = "full") -> str:
    """Return the two clocks as a picture to put on a page.

    Parameters
    ----------
    result : Outlook or a result that has one as ``outlook``
        What the survivors layer computed.
    ink : Ink
        The page's colours.
    size : str
        ``"small"`` for the plot, ``"full"`` for the lift page, ``"wall"``.

    Returns
    -------
    str
        An ``<img>`` element that holds `clocks_svg`, or an empty text when there is no margin.
    """
    outlook = _outlook(result)
    return "" if outlook is None else _DRAWN((Itself(outlook), ink.name, size))


def _draw(key: tuple[Itself[Outlook], str, str]) -> str:
    outlook, ink, size = key
    drawing = clocks_svg(outlook.it, INKS[ink], size)
    return picture(drawing, "; ".join(one.words for one in outlook.it.refuges))


_DRAWN = Lately(_draw, 40)


def _outlook(result: object) -> Outlook | None:
    found = result if isinstance(result, Outlook) else getattr(result, "outlook", None)
    return found if isinstance(found, Outlook) and found.clocks is not None else None


def clocks_svg(result: object, ink: Ink, size: str = "full") -> str:
    """Return the two clocks as SVG text; parameters as for `two_clocks`."""
    outlook = _outlook(result)
    if outlook is None or outlook.clocks is None:
        return ""
    s = SIZES[size]
    lane = round(s.letter * 1.75) + 2 * s.half + 8
    height = lane * len(outlook.clocks.refuges) + round(s.letter * 2.2)
    parts = [_lane(outlook, row, ink, s, lane * row) for row in range(len(outlook.clocks.refuges))]
    parts.append(_axis(outlook.clocks, ink, s, lane * len(outlook.clocks.refuges), height))
    said = "; ".join(one.words for one in outlook.refuges)
    return svg(s.width, height, s.letter, said, "".join(parts))


def _lane(outlook: Outlook, row: int, ink: Ink, s: Size, top: int) -> str:
    clocks = outlook.clocks
    assert clocks is not None
    one = outlook.of(clocks.refuges[row])
    assert one is not None
    base = top + round(s.letter * 1.75) + s.half
    scale = s.half / max(*clocks.persons, 1)
    xs = _xs(clocks, s)
    above = base - clocks.lasting[row] * clocks.persons[row] * scale
    low, middle, high = (base + band * scale for band in clocks.out[row])
    return "".join(
        (
            _title(one, ink, s, top),
            shape([*points(xs, above), (xs[-1], base), (xs[0], base)], ink.of(Style.WAVE), 0.45),
            shape([*stairs(xs, high), *reversed(stairs(xs, low))], ink.of(Style.PEOPLE), 0.45),
            path(stairs(xs, middle), ink.of(Style.PEOPLE), 2.5),
            path([(xs[0], base), (xs[-1], base)], ink.quiet, 1),
            _ticks(outlook, one, ink, s, base),
            _margin(outlook, one, ink, s, base),
            _names(one, ink, s, base),
        )
    )


def _title(one: RefugeOutlook, ink: Ink, s: Size, top: int) -> str:
    colour = ink.late if one.short else ink.ink
    y = top + round(s.letter * 1.3)
    tail = f"all out in time in {said_chance(one.chance)}"
    tails = (f"{one.persons} persons · {tail}", f"{one.persons} persons", "")
    room = s.width - width_of(one.words, s.letter)
    fits = next(tail for tail in tails if not tail or width_of(tail, s.letter) < room)
    said = text(4, y, one.words, colour, weight="bold")
    return said + text(s.width - 4, y, fits, ink.quiet, anchor="end")


def _ticks(outlook: Outlook, one: RefugeOutlook, ink: Ink, s: Size, base: int) -> str:
    """Return the P10, P50 and P90 of both clocks as strokes, the median the longest."""
    found = []
    for spread, sign, hue in (
        (one.alone_h or NO_TIME, -1, Style.WAVE),
        (one.last_left_h or NO_TIME, 1, Style.PEOPLE),
    ):
        for hours, share in ((spread.p10, 0.45), (spread.p50, 0.9), (spread.p90, 0.45)):
            x = _x_of(outlook, hours, s)
            if x is not None:
                end = base + sign * s.half * share
                found.append(path([(x, base), (x, end)], ink.of(hue), 2.5))
    return "".join(found)


def _margin(outlook: Outlook, one: RefugeOutlook, ink: Ink, s: Size, base: int) -> str:
    """Return the bar between the two medians: whole when it is to spare, broken when short."""
    if one.alone_h is None or one.last_left_h is None:
        return ""
    last, level = _x_of(outlook, one.last_left_h.p50, s), _x_of(outlook, one.alone_h.p50, s)
    if last is None and level is None:
        return ""
    first = s.width - 4.0 if last is None else last
    second = s.width - 4.0 if level is None else level
    colour = ink.late if one.short else ink.good
    dash = ' stroke-dasharray="9 6"' if one.short else ""
    return path([(first, base), (second, base)], colour, max(s.letter / 3, 5), dash)


def _names(one: RefugeOutlook, ink: Ink, s: Size, base: int) -> str:
    if s.width < 600:
        return ""
    can = "can last" + ("" if one.binding == "" else f" ({one.binding})")
    return text(8, base - 8, can, ink.ink) + text(8, base + s.letter + 4, "out", ink.ink)


def _axis(clocks: Clocks, ink: Ink, s: Size, top: int, height: int) -> str:
    start, end = from_us(int(clocks.at_us[0])), from_us(int(clocks.at_us[-1]))
    found = [path([(0, top), (s.width, top)], ink.quiet, 1)]
    y = height - round(s.letter * 0.6)
    found.append(text(2, y, dtg(start)[:7], ink.ink))
    clear = s.letter * 6.0
    for at in tick_times(start, end, s.ticks):
        share = (at - start) / (end - start)
        x = share * s.width
        found.append(path([(x, 0), (x, top + 5)], ink.line, 1))
        if clear < x < s.width - clear / 2:
            found.append(text(x, y, dtg(at)[:7], ink.ink, anchor="middle"))
    return "".join(found)


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


def _xs(clocks: Clocks, s: Size) -> list[float]:
    at = clocks.at_us.astype(np.float64)
    return [float(x) for x in (at - at[0]) / max(at[-1] - at[0], 1.0) * s.width]


def _x_of(outlook: Outlook, hours: float, s: Size) -> float | None:
    """Return where so many hours after the moment lie, None beyond the right edge."""
    assert outlook.clocks is not None
    span_h = (int(outlook.clocks.at_us[-1]) - int(outlook.clocks.at_us[0])) / 3.6e9
    if not math.isfinite(hours) or hours > span_h:
        return None
    return max(hours, 0.0) / span_h * s.width
