"""The last line of a text that ends without a line end: whole, or cut inside its last figure.

A copy that was broken off can end in ``-1.1`` for ``-1.1087``, and such a line looks like any
other. The lines above it show how their last figures are written.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from layers.contract.rows import SEPARATORS

KEPT = 50  # lines above that it is compared with
ENOUGH = 3
_FIGURE = re.compile(r"[+-]?\d*(\.\d*)?$")  # one way to match: no long figure costs its square
CUT = (
    "the file ends inside this line: its last figure is shorter than those above it and has no "
    "line end, so that the line is left out; get the file again, or end the line if it is whole"
)
MAY_BE_CUT = (
    "the file ends without a line end, and nothing above shows whether its last figure is whole; "
    "the line is taken as it stands: compare it with whoever sent it"
)


def judged(last: str, above: Sequence[str]) -> str:
    """Return what there is to say of a last line that has no line end: `CUT`, `MAY_BE_CUT` or "".

    Only a figure that stands alone in the last cell is judged; other text shows by itself what is
    missing (a checksum, a bracket, a unit).
    """
    cells = _cells(last)
    figure = cells[-1]
    if not figure or not _FIGURE.fullmatch(figure):
        return ""
    rows = [_cells(line) for line in above]
    ends = [row[-1] for row in rows if len(row) == len(cells)]
    if not figure[-1].isdigit():  # a point, or a sign: but a dash may stand for "not measured"
        return "" if figure in ends or not ends else CUT
    others = [end for end in ends if end[-1:].isdigit() and _FIGURE.fullmatch(end)]
    if len(others) < ENOUGH:
        return ""
    places = {_decimals(other) for other in others}
    if _decimals(figure) < min(places):
        return CUT
    if len(places) == 1 and places != {0}:
        return ""
    widths = {len(other) for other in others}
    if len(widths) == 1:
        return "" if len(figure) in widths else CUT
    return MAY_BE_CUT


def _cells(line: str) -> list[str]:
    mark = max(SEPARATORS, key=line.count)
    parts = line.split(mark) if mark in line else line.split()
    return [part.strip().strip('"') for part in parts] or [""]


def _decimals(figure: str) -> int:
    return len(figure.partition(".")[2])
