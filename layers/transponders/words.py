"""Positions as files write them."""

from __future__ import annotations

import re

from layers.contract.cells import plain_number
from layers.earth.errors import InputError

_DM = re.compile(
    r"^(\d{1,3}(?:\.\d+)?(?=[ °]*[NSEW])|\d{1,3})(?:[ °]+(\d{1,2}(?:\.\d+)?)['′]?)?[ °]*([NSEW])$",
    re.IGNORECASE,
)


def latitude(text: str, where: str) -> float:
    """Return a latitude in degrees from ``49.8333`` or ``49 50.0N``."""
    return _angle(text, where, "NS", 90.0)


def longitude(text: str, where: str) -> float:
    """Return a longitude in degrees, -180 to 180, from ``-8.5``, ``351.5`` or ``8 30.0W``."""
    value = _angle(text, where, "EW", 360.0)
    return value - 360.0 if value > 180.0 else value


def _angle(text: str, where: str, letters: str, limit: float) -> float:
    trimmed = text.strip().replace(",", ".")
    pair = _DM.match(trimmed)
    try:
        if pair and pair[3].upper() in letters and float(pair[2] or 0.0) < 60.0:
            value = float(pair[1]) + float(pair[2] or 0.0) / 60.0
            value = -value if pair[3].upper() == letters[1] else value
        else:
            value = plain_number(trimmed)
    except ValueError:
        value = float("nan")
    if not -limit <= value <= limit:
        name = "latitude" if limit == 90.0 else "longitude"
        raise InputError(
            f"{text!r} is not a {name}",
            where=where,
            accepted=f"degrees, or degrees and minutes with {letters[0]} or {letters[1]}",
        )
    return value
