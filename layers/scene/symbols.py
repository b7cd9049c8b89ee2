"""Plotting symbols as strokes in a unit square, for every renderer.

Fix a circle, dead reckoning a half circle, estimated position a square (Bowditch, American
Practical Navigator, Pub. 9, on labelling the plot); wind barbs by the station plot of WMO-No. 485
(half barb 5 kn, barb 10 kn, pennant 50 kn). x is to the right, y is ahead (up).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from layers.earth.chart.marks import PointMark, Style, Symbol

Stroke = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Glyph:
    """A symbol: strokes, filled shapes, and her plates, in units of its nominal half size.

    A plate is filled with her own colour inside an outline: by day that colour is never a line.
    """

    strokes: tuple[Stroke, ...] = ()
    filled: tuple[Stroke, ...] = ()
    plates: tuple[Stroke, ...] = ()
    scale: float = 1.0


def _arc(start_deg: float, end_deg: float, steps: int = 24) -> Stroke:
    angles = [math.radians(start_deg + (end_deg - start_deg) * i / steps) for i in range(steps + 1)]
    return tuple((round(math.sin(a), 3), round(math.cos(a), 3)) for a in angles)


_CIRCLE = _arc(0, 360)
_DOT = tuple((0.22 * x, 0.22 * y) for x, y in _arc(0, 360, 12))
_SQUARE: Stroke = ((-0.85, -0.85), (0.85, -0.85), (0.85, 0.85), (-0.85, 0.85), (-0.85, -0.85))
_TRIANGLE: Stroke = ((0, 1), (0.9, -0.6), (-0.9, -0.6), (0, 1))
_DIAMOND: Stroke = ((0, 1), (0.75, 0), (0, -1), (-0.75, 0), (0, 1))
_SHIP: Stroke = ((0, 1.5), (0.55, 0.5), (0.55, -1.1), (-0.55, -1.1), (-0.55, 0.5), (0, 1.5))
_ARROW: tuple[Stroke, ...] = (((0, -1.6), (0, 1.6)), ((-0.55, 0.7), (0, 1.6), (0.55, 0.7)))

_DISC = tuple((0.55 * x, 0.55 * y) for x, y in _CIRCLE)
_PLANE: Stroke = ((0, 1.4), (0.9, -1.1), (0, -0.55), (-0.9, -1.1), (0, 1.4))
_PILL: Stroke = tuple(
    [(0.7 + 0.6 * x, 0.6 * y) for x, y in _arc(0, 180, 8)]
    + [(-0.7 + 0.6 * x, 0.6 * y) for x, y in _arc(180, 360, 8)]
    + [(0.7, 0.6)]
)
_CROSS: tuple[Stroke, ...] = (((0, -0.7), (0, 0.7)), ((-0.7, 0), (0.7, 0)))
HER = "her"  # known: a disc in a ring
PROBABLE = "probable"  # most probable: a square
SECOND_PLACE = 1  # the rank of another place she may be in; below it are parts of her, as seats
HERS: dict[str, Glyph] = {
    HER: Glyph(strokes=(_CIRCLE,), plates=(_DISC,)),
    PROBABLE: Glyph(strokes=(_SQUARE,), filled=(_DOT,)),
}
_FIXED: dict[Symbol, Glyph] = {
    Symbol.FIX: Glyph(strokes=(_CIRCLE,), filled=(_DOT,)),
    Symbol.DEAD_RECKONING: Glyph(strokes=(_arc(-90, 90), ((-1, 0), (1, 0))), filled=(_DOT,)),
    Symbol.ESTIMATED: Glyph(strokes=(_SQUARE,), filled=(_DOT,)),
    Symbol.CROSS: Glyph(strokes=(((-0.9, -0.9), (0.9, 0.9)), ((-0.9, 0.9), (0.9, -0.9)))),
    Symbol.TRIANGLE: Glyph(strokes=(_TRIANGLE,), filled=(_DOT,)),
    Symbol.DIAMOND: Glyph(strokes=(_DIAMOND,), filled=(_DOT,)),
    Symbol.SHIP_OUTLINE: Glyph(strokes=(_SHIP,)),
    Symbol.SUPPORT_SHIP: Glyph(strokes=(_SHIP,), filled=(_SHIP,)),
    Symbol.AIRCRAFT: Glyph(strokes=(_PLANE,)),
    Symbol.VEHICLE: Glyph(strokes=(_PILL,)),
    Symbol.PEOPLE: Glyph(strokes=(_SQUARE,)),
    Symbol.WRECK: Glyph(strokes=(_CIRCLE, *_CROSS)),
    Symbol.ARROW: Glyph(strokes=_ARROW),
    Symbol.SOUNDING: Glyph(),
}


def barb(speed_kn: float) -> Glyph:
    """Return a wind barb whose staff points ahead, the way the wind comes from.

    Parameters
    ----------
    speed_kn : float
        10 m wind; rounded to the nearest 5 kn, below 2.5 kn a calm circle.
    """
    rounded = 5 * round(speed_kn / 5.0)
    if rounded == 0:
        return Glyph(strokes=(_CIRCLE,), filled=(_DOT,))
    pennants, rest = divmod(rounded, 50)
    full, half = divmod(rest, 10)
    length, step = 3.6, 0.5
    strokes: list[Stroke] = [((0.0, 0.0), (0.0, length))]
    filled: list[Stroke] = [_DOT]
    y = length
    for _ in range(pennants):
        filled.append(((0.0, y), (1.3, y - step / 2), (0.0, y - step), (0.0, y)))
        y -= step + 0.12
    for _ in range(full):
        strokes.append(((0.0, y), (1.3, y + 0.45)))
        y -= step
    if half:
        if y == length:  # a lone half barb is set in from the end, or it would read as a full one
            y -= step
        strokes.append(((0.0, y), (0.7, y + 0.24)))
    return Glyph(strokes=tuple(strokes), filled=tuple(filled))


def fixed_glyphs() -> dict[Symbol, Glyph]:
    """Return every symbol that does not depend on a speed."""
    return dict(_FIXED)


def glyph(mark: PointMark) -> Glyph:
    """Return the glyph of a point mark, before it is turned to its heading."""
    if mark.symbol is Symbol.WIND_BARB:
        return barb(mark.speed_kn or 0.0)
    hers = her_glyph(mark)
    return HERS[hers] if hers else _FIXED[mark.symbol]


def her_glyph(mark: PointMark) -> str:
    """Return the name of her own glyph, empty for a mark that is not hers."""
    if mark.style != Style.DISSUB or mark.rank > SECOND_PLACE:
        return ""
    return {Symbol.FIX: HER, Symbol.ESTIMATED: PROBABLE}.get(mark.symbol, "")


def turned(stroke: Stroke, heading_deg: float, size: float) -> list[tuple[float, float]]:
    """Return a stroke turned clockwise by ``heading_deg`` and scaled; y stays up."""
    angle = math.radians(heading_deg)
    cos, sin = math.cos(angle), math.sin(angle)
    return [((x * cos + y * sin) * size, (y * cos - x * sin) * size) for x, y in stroke]
