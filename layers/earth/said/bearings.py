"""Bearings with their sense, and ranges with their unit, as people write them.

``065T`` is true, ``068M`` magnetic, ``070G`` grid, ``R045`` relative (clockwise from the ship's
head). ``red 45`` and ``green 45`` are relative to port and starboard. A bearing that does not
say its sense is refused, and so is ``G045``, which could be grid or green. Figures are read as
everywhere (`quantity`, `direction`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from layers.earth.errors import InputError
from layers.earth.said.direction import ACCEPTED, told_direction
from layers.earth.said.quantity import LENGTH, parse, readings
from layers.earth.units import bearing_0_360

ACCEPTED_BEARINGS = (
    "065T true, 068M magnetic, 070G grid, or R045 relative with the observer's heading"
)
ACCEPTED_RANGES = "a number with its unit: 12nmi, 3.5km, 800m, 4 cables, 900yd, 300ft"
FARTHEST_M = 20_003_931.5  # half the meridian ellipse, WGS 84: no place lies farther


class Sense(StrEnum):
    """What a bearing is measured from."""

    TRUE = "true"
    MAGNETIC = "magnetic"
    GRID = "grid"
    RELATIVE = "relative"


@dataclass(frozen=True, slots=True)
class SaidBearing:
    """A direction as it was given: 0 <= value_deg < 360, measured clockwise from its sense."""

    value_deg: float
    sense: Sense

    def __str__(self) -> str:
        whole = f"{self.value_deg:05.1f}".removesuffix(".0")
        if self.sense is Sense.RELATIVE:
            return f"R{whole}"
        return f"{whole}{self.sense.value[0].upper()}"


def parse_bearing(text: str, where: str = "bearing") -> SaidBearing:
    """Return the bearing that a text gives, with its sense.

    Raises
    ------
    InputError
        Not a bearing, outside 0 to 360, or its sense is not stated.
    """
    plain = text.strip()[:60]
    grid = re.fullmatch(r"(\d{1,3}(?:[.,]\d+)?)\s*°?\s*G", plain, re.IGNORECASE)
    try:
        # a letter behind the figures is of the grid here: a chart's own; green stands before them
        degrees, sense = told_direction(f"{grid[1]} grid" if grid else plain, where)
    except InputError as reason:
        if reason.accepted != ACCEPTED:
            raise
        doubt = re.match(r"G\s*\d", plain, re.IGNORECASE)
        what = "may be grid or green" if doubt else "is not a bearing"
        accepted = "070G for grid, green 70 for the starboard bow" if doubt else ACCEPTED_BEARINGS
        raise InputError(f"{plain!r} {what}", where=where, accepted=accepted) from None
    if not sense:
        raise InputError(f"{plain!r} does not say true, magnetic, grid or relative", where=where,
                         accepted=ACCEPTED_BEARINGS)  # fmt: skip
    return SaidBearing(degrees, Sense(sense))


def true_bearing_deg(
    bearing: SaidBearing,
    *,
    variation_deg: float | None = None,
    convergence_deg: float | None = None,
    heading_true_deg: float | None = None,
    where: str = "bearing",
) -> float:
    """Return a bearing as degrees true.

    Parameters
    ----------
    bearing : SaidBearing
        As given.
    variation_deg : float, optional
        At the observer, east positive; needed for a magnetic bearing.
    convergence_deg : float, optional
        Grid north's bearing from true north at the observer; needed for a grid bearing.
    heading_true_deg : float, optional
        Of the observer; needed for a relative bearing.

    Raises
    ------
    InputError
        What is needed was not given.
    """
    needed = {
        Sense.TRUE: (0.0, ""),
        Sense.MAGNETIC: (variation_deg, "the magnetic variation"),
        Sense.GRID: (convergence_deg, "the grid convergence of a chart frame"),
        Sense.RELATIVE: (heading_true_deg, "the observer's heading"),
    }
    turn, name = needed[bearing.sense]
    if turn is None:
        raise InputError(
            f"{bearing} is {bearing.sense} and needs {name}", where=where, accepted=name
        )
    return bearing_0_360(bearing.value_deg + turn)


def parse_range_m(text: str, where: str = "range") -> float:
    """Return metres for a range with its unit.

    Raises
    ------
    InputError
        No unit, negative, or farther than any place.
    TwoReadings
        ``12M``: metres or miles; ``1,852 m``: 1852 or 1.852.
    """
    plain = text.strip()[:60]
    if readings(plain):
        raise InputError(f"{plain!r} has no unit", where=where, accepted=ACCEPTED_RANGES)
    range_m = parse(plain, LENGTH, "m", where, least=0.0, most=FARTHEST_M)
    if not 0.0 <= range_m <= FARTHEST_M:
        raise InputError(f"{plain!r} is not a range on the earth", where=where,
                         accepted="0 to 10801 nmi")  # fmt: skip
    return range_m
