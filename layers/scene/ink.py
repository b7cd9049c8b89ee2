"""Colours: one ink per style for night, day and paper, with WCAG contrast as arithmetic.

Hues are those of Okabe and Ito (2008), "Color Universal Design", shaded until a graphic has at
least 3:1 and a letter at least 4.5:1 against sea and land alike (WCAG 2.2, 1.4.3 and 1.4.11).
Red is kept for one thing: people who will not be out in time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from layers.catalogue import OWN_STYLES
from layers.earth.chart.marks import Style


@dataclass(frozen=True, slots=True, kw_only=True)
class Ink:
    """The colours of one ground, as ``#rrggbb``."""

    name: str
    sea: str
    land: str
    shore: str
    panel: str
    line: str  # hairlines and the graticule
    ink: str
    quiet: str
    good: str  # a positive margin, an open window; always said in words too
    late: str
    styles: Mapping[str, str]

    def of(self, style: str) -> str:
        """Return the colour of a style, one that all layers have or a layer's own."""
        return self.styles[style]


def _ink(name: str, **hues: str) -> Ink:
    styles: dict[str, str] = {
        own.name: own.night if name == "night" else own.day for own in OWN_STYLES
    }
    styles |= {
        Style.DISSUB: hues["yellow"],
        Style.DATUM: hues["yellow"],
        Style.EVIDENCE: hues["sky"],
        Style.EXCLUDED: hues["quiet"],
        Style.PROBABILITY: hues["yellow"],
        Style.SEARCH: hues["green"],
        Style.DRIFT: hues["orange"],
        Style.TRANSPONDER: hues["purple"],
        Style.SHIP: hues["ink"],
        Style.AIRCRAFT: hues["ink"],
        Style.TRAFFIC: hues["quiet"],
        Style.ROUTE: hues["blue"],
        Style.PORT: hues["orange"],
        Style.ROAD: hues["quiet"],
        Style.STATION: hues["ink"],
        Style.WIND: hues["ink"],
        Style.CURRENT: hues["green"],
        Style.WAVE: hues["sky"],
        Style.HEARING: hues["purple"],
        Style.SEABED: hues["quiet"],
        Style.PEOPLE: hues["orange"],
        Style.LATE: hues["late"],
        Style.MEASURE: hues["orange"],
    }
    fields = ("sea", "land", "shore", "panel", "line", "ink", "quiet", "late")
    return Ink(
        name=name,
        good=hues["green"],
        styles=MappingProxyType(styles),
        **{field: hues[field] for field in fields},
    )


NIGHT = _ink(
    "night",
    sea="#101820",
    land="#2b2f33",
    shore="#6b747c",
    panel="#161f29",
    line="#33404c",
    ink="#e8e6df",
    quiet="#a9b1b8",
    orange="#e69f00",
    sky="#56b4e9",
    green="#24ac87",
    yellow="#f0e442",
    blue="#529fcb",
    purple="#ce7eab",
    late="#ff7a6b",
)
DAY = _ink(
    "day",
    sea="#e4edf2",
    land="#efe9db",
    shore="#7d7762",
    panel="#ffffff",
    line="#b9c4cc",
    ink="#14202b",
    quiet="#4a5661",
    orange="#8a5f00",
    sky="#346c8c",
    green="#007555",
    yellow="#6e691e",
    blue="#006ba7",
    purple="#8f5575",
    late="#b3261e",
)
INKS: Mapping[str, Ink] = MappingProxyType({"night": NIGHT, "day": DAY})


def luminance(colour: str) -> float:
    """Return the relative luminance of ``#rrggbb``, 0 to 1 (WCAG 2.2, definition)."""
    channels = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.2, definition)."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)
