"""Bearings with their sense, and ranges with their unit, as people write them.

``065T`` is true, ``068M`` magnetic, ``070G`` grid, ``R045`` relative (clockwise from the ship's
head). ``red 45`` and ``green 45`` are relative to port and starboard. A bearing that does not
say its sense is refused, and so is ``G045``, which could be grid or green.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum

from layers.earth.errors import InputError
from layers.earth.units import M_PER_FT, M_PER_KM, M_PER_NMI, bearing_0_360

ACCEPTED_BEARINGS = (
    "065T true, 068M magnetic, 070G grid, or R045 relative with the observer's heading"
)
ACCEPTED_RANGES = "a number with its unit: 12nmi, 3.5km, 800m, 4 cables, 900yd, 300ft"
METRES = {
    "nmi": M_PER_NMI, "nm": M_PER_NMI, "km": M_PER_KM, "m": 1.0, "ft": M_PER_FT,
    "yd": 3 * M_PER_FT, "kyd": 3000 * M_PER_FT,
    "cable": M_PER_NMI / 10.0, "cables": M_PER_NMI / 10.0,
}  # fmt: skip
FARTHEST_M = 20_003_931.5  # half the meridian ellipse, WGS 84: no place lies farther
_RANGE = re.compile(r"^([+-]?\d+(?:\.\d+)?)\s*([A-Za-z]*)$")
_BEHIND = re.compile(r"^(-?\d+(?:\.\d+)?)\s*°?\s*(T|TRUE|M|MAG|MAGNETIC|G|GRID|R|REL|RELATIVE)$")
_BEFORE = re.compile(r"^(R|REL|RELATIVE|RED|GREEN)\s*(-?\d+(?:\.\d+)?)\s*°?$")
_BARE = re.compile(r"^-?\d+(?:\.\d+)?\s*°?$")


class Sense(StrEnum):
    """What a bearing is measured from."""

    TRUE = "true"
    MAGNETIC = "magnetic"
    GRID = "grid"
    RELATIVE = "relative"


@dataclass(frozen=True, slots=True)
class Bearing:
    """A direction as it was given: 0 <= value_deg < 360, measured clockwise from its sense."""

    value_deg: float
    sense: Sense

    def __str__(self) -> str:
        whole = f"{self.value_deg:05.1f}".removesuffix(".0")
        if self.sense is Sense.RELATIVE:
            return f"R{whole}"
        return f"{whole}{self.sense.value[0].upper()}"


def parse_bearing(text: str, where: str = "bearing") -> Bearing:
    """Return the bearing that a text gives, with its sense.

    Raises
    ------
    InputError
        Not a bearing, outside 0 to 360, or its sense is not stated.
    """
    trimmed = text.strip()[:60]
    upper = trimmed.upper().replace("º", "°")
    if _BARE.match(upper):
        raise InputError(
            f"{trimmed!r} does not say true, magnetic, grid or relative",
            where=where,
            accepted=ACCEPTED_BEARINGS,
        )
    behind, before = _BEHIND.match(upper), _BEFORE.match(upper)
    if behind:
        senses = {"T": Sense.TRUE, "M": Sense.MAGNETIC, "G": Sense.GRID, "R": Sense.RELATIVE}
        return Bearing(_turn(float(behind[1]), trimmed, where), senses[behind[2][0]])
    if before:
        value = float(before[2])
        if before[1] in ("RED", "GREEN"):
            if not 0.0 <= value <= 180.0:
                raise InputError(
                    f"{trimmed!r} is off the bow", where=where, accepted="red or green 0 to 180"
                )
            value = (360.0 - value if before[1] == "RED" else value) % 360.0
        return Bearing(_turn(value, trimmed, where), Sense.RELATIVE)
    if re.match(r"^G\s*\d", upper):
        raise InputError(
            f"{trimmed!r} may be grid or green",
            where=where,
            accepted="070G for grid, green 70 for the starboard bow",
        )
    raise InputError(f"{trimmed!r} is not a bearing", where=where, accepted=ACCEPTED_BEARINGS)


def _turn(value_deg: float, text: str, where: str) -> float:
    if not 0.0 <= value_deg <= 360.0:
        raise InputError(f"{text!r} is not a bearing", where=where, accepted="0 to 360 degrees")
    return bearing_0_360(value_deg)


def true_bearing_deg(
    bearing: Bearing,
    *,
    variation_deg: float | None = None,
    convergence_deg: float | None = None,
    heading_true_deg: float | None = None,
    where: str = "bearing",
) -> float:
    """Return a bearing as degrees true.

    Parameters
    ----------
    bearing : Bearing
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
        No unit, a unit that can mean two things, negative, or farther than any place.
    """
    trimmed = text.strip()[:60]
    found = _RANGE.match(trimmed)
    if not found:
        raise InputError(f"{trimmed!r} is not a range", where=where, accepted=ACCEPTED_RANGES)
    number, unit = float(found[1]), found[2]
    if not unit:
        raise InputError(f"{trimmed!r} has no unit", where=where, accepted=ACCEPTED_RANGES)
    if unit == "M" or unit.lower() in ("mi", "mile", "miles"):
        raise InputError(
            f"{trimmed!r}: {unit} may mean two things", where=where, accepted=ACCEPTED_RANGES
        )
    metres = METRES.get(unit.lower())
    if metres is None:
        raise InputError(
            f"{trimmed!r}: {unit!r} is not a unit of length", where=where, accepted=ACCEPTED_RANGES
        )
    range_m = number * metres
    if not (math.isfinite(range_m) and 0.0 <= range_m <= FARTHEST_M):
        raise InputError(
            f"{trimmed!r} is not a range on the earth", where=where, accepted="0 to 10,801 nmi"
        )
    return range_m
