"""Directions as people say them: figures with their sense, red and green, degrees on a bow."""

from __future__ import annotations

import re

from layers.earth.errors import InputError, TwoReadings
from layers.earth.said.quantity import figure

ACCEPTED = "000 to 360 with T, M or R: 215T, 060M, R045, red 50"
SENSES = {
    "T": "true", "TRUE": "true", "M": "magnetic", "MAG": "magnetic", "MAGNETIC": "magnetic",
    "R": "relative", "REL": "relative", "RELATIVE": "relative", "GRID": "grid",
}  # fmt: skip
_FIGURES = r"\d{1,3}(?:[.,]\d+)?"
_BEHIND = re.compile(
    rf"({_FIGURES})\s*(?:°|DEG|DEGREES)?\s*(T|TRUE|M|MAG|MAGNETIC|R|REL|RELATIVE|G|GRID)?",
    re.ASCII,
)
_BEFORE = re.compile(
    rf"(T|M|R|TRUE|MAGNETIC|RELATIVE|RED|GREEN)\s*({_FIGURES})\s*(?:°|DEG|DEGREES)?", re.ASCII
)
_BOW = re.compile(
    rf"({_FIGURES})\s*(?:°|DEG|DEGREES)?\s*ON\s+(?:THE|MY|HER|HIS|OUR|ITS)?\s*"
    r"(PORT|STARBOARD|STBD)(?:\s+BOW)?",
    re.ASCII,
)


def told_direction(text: str, where: str = "direction") -> tuple[float, str]:
    """Return degrees, 0 <= d < 360, and the sense that was said, empty if none was.

    Red and green count from the bow to port and to starboard: a relative direction.

    Raises
    ------
    InputError
        No direction, or past 360 (180 on a bow).
    TwoReadings
        ``045G``: on a grid, or green?
    """
    plain = " ".join(text.upper().replace("º", "°").split())
    if found := _BOW.fullmatch(plain):
        return on_bow(_degrees(found[1]), found[2] == "PORT", where)
    if found := _BEFORE.fullmatch(plain):
        degrees = _degrees(found[2])
        if found[1] in ("RED", "GREEN"):
            return on_bow(degrees, found[1] == "RED", where)
        return _round(degrees, text, where), SENSES[found[1]]
    if found := _BEHIND.fullmatch(plain):
        degrees = _round(_degrees(found[1]), text, where)
        if found[2] == "G":
            shown = direction_figures(degrees)
            both = (f"{shown} grid", f"green {figure(degrees)}")
            raise TwoReadings(f"{text.strip()!r} can be read two ways", both, where=where)
        return degrees, SENSES.get(found[2] or "", "")
    raise InputError(f"{text.strip()[:40]!r} is not a direction", where=where, accepted=ACCEPTED)


def on_bow(degrees: float, port: bool, where: str) -> tuple[float, str]:
    """Return the relative direction of degrees on the port or starboard bow."""
    if degrees > 180.0:
        side = "red" if port else "green"
        raise InputError(f"{side} {figure(degrees)} is off the bow", where=where,
                         accepted="0 to 180 on either bow")  # fmt: skip
    return (360.0 - degrees if port and degrees else degrees) % 360.0, "relative"


def direction_figures(degrees: float) -> str:
    """Return three figures, and decimals only where there are some: ``060``, ``063.4``."""
    shown = figure(degrees)
    whole, point, rest = shown.partition(".")
    return f"{whole:0>3}{point}{rest}"


def direction_printed(degrees: float, sense: str) -> str:
    """Return a direction with its sense as `told_direction` reads it: ``060°T``, ``R310``."""
    letter = {"true": "°T", "magnetic": "°M", "grid": " grid"}
    if sense == "relative":
        return f"R{direction_figures(degrees)}"
    return f"{direction_figures(degrees)}{letter.get(sense, '°')}"


def _degrees(text: str) -> float:
    return float(text.replace(",", "."))  # decimals of a degree: never thousands


def _round(degrees: float, text: str, where: str) -> float:
    if degrees > 360.0:
        raise InputError(f"{text.strip()[:40]!r} is not a direction: {figure(degrees)} is past 360",
                         where=where, accepted="000 to 360")  # fmt: skip
    return degrees % 360.0
