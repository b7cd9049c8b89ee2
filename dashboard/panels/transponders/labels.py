"""Names in the drawing of the seabed put apart, so that none lies on another as one first looks.

The drawing's own letters know nothing of each other. Their places are projected as the orbit view
does it, and a name that would lie on one before it is moved up or down by whole lines.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

WIDE, TALL = 0.56, 1.25  # of a letter's size: its mean width, and a line's height
MOST_LINES = 14
Box = tuple[float, float, float, float]  # left, top, right, bottom; pixels, down positive


def apart(
    texts: Sequence[dict[str, Any]], tilt_deg: float, turn_deg: float, px_per_m: float
) -> list[dict[str, Any]]:
    """Return the names with a pixel offset each, in their order: the first stands where it is.

    Parameters
    ----------
    texts : sequence of dict
        ``at`` (east, north, up; metres), ``text``, ``size`` (px), ``anchor``.
    tilt_deg, turn_deg : float
        How the view is tilted from the level and turned about the up.
    px_per_m : float
        Scale of the view.
    """
    held: list[Box] = []
    found = []
    for text in texts:
        x, y = _on_screen(text["at"], tilt_deg, turn_deg, px_per_m)
        line = TALL * float(text["size"])
        steps = sorted(range(-MOST_LINES, MOST_LINES + 1), key=lambda n: (abs(n), n))
        boxes = ((n, _box(text, x, y + n * line)) for n in steps)
        step, box = next(
            ((n, b) for n, b in boxes if not any(_meet(b, other) for other in held)),
            (0, _box(text, x, y)),
        )
        held.append(box)
        found.append({**text, "offset": [0.0, step * line]})
    return found


def _on_screen(
    at: Sequence[float], tilt_deg: float, turn_deg: float, px_per_m: float
) -> tuple[float, float]:
    """Return where a place stands: right and down from the middle, pixels."""
    turn, tilt = math.radians(turn_deg), math.radians(tilt_deg)
    east, north, up = (float(value) for value in at)
    right = east * math.cos(turn) - north * math.sin(turn)
    away = east * math.sin(turn) + north * math.cos(turn)
    return px_per_m * right, -px_per_m * (away * math.sin(tilt) + up * math.cos(tilt))


def _box(text: dict[str, Any], x: float, y: float) -> Box:
    wide = WIDE * float(text["size"]) * max(len(line) for line in str(text["text"]).split("\n"))
    left = {"start": x, "middle": x - wide / 2.0, "end": x - wide}[str(text["anchor"])]
    tall = TALL * float(text["size"])
    return left, y - tall / 2.0, left + wide, y + tall / 2.0


def _meet(one: Box, other: Box) -> bool:
    return (
        one[0] < other[2] and other[0] < one[2]
        and one[1] < other[3] - 0.5 and other[1] < one[3] - 0.5
    )  # fmt: skip
