"""Colours: one ink per style for night, day and paper, with WCAG contrast as arithmetic.

Six inks are enough, told apart for the colour-blind too, each with at least 3:1 as a graphic and
4.5:1 as a letter against sea and land alike (WCAG 2.2, 1.4.3 and 1.4.11). Shape carries the
meaning, colour helps. Red is kept for one thing: people who will not be out in time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from layers.catalogue import OWN_STYLES
from layers.earth.chart.marks import Style


@dataclass(frozen=True, slots=True, kw_only=True)
class Ink:
    """The colours of one ground, as ``#rrggbb``.

    ``tints`` are the sea from deep to shallow, ``sea`` the one where no depth is known.
    """

    name: str
    page: str
    panel: str
    line: str  # hairlines and the graticule
    tints: tuple[str, ...]
    sea: str
    land: str
    shore: str
    contour: str
    ink: str  # letters, ships, what is known
    quiet: str  # second letters, depths
    plate: str  # the fill of her mark
    people: str  # in the water
    sound: str  # heard and seen, how long they last
    search: str  # searched, planned, sea open
    late: str  # people who will not be out in time, and nothing else
    late_plate: str
    styles: Mapping[str, str]

    @property
    def good(self) -> str:
        """The colour of an open sea and a margin to spare; always said in words too."""
        return self.search

    def of(self, style: str) -> str:
        """Return the colour of a style, one that all layers have or a layer's own."""
        return self.styles[style]


def _ink(name: str, **hues: Any) -> Ink:
    styles: dict[str, str] = {
        own.name: own.night if name == "night" else own.day for own in OWN_STYLES
    }
    styles |= {
        Style.DISSUB: hues["dissub"],
        Style.DATUM: hues["dissub"],
        Style.EVIDENCE: hues["sound"],
        Style.EXCLUDED: hues["quiet"],
        Style.PROBABILITY: hues["dissub"],
        Style.SEARCH: hues["search"],
        Style.DRIFT: hues["people"],
        Style.TRANSPONDER: hues["sound"],
        Style.SHIP: hues["ink"],
        Style.AIRCRAFT: hues["ink"],
        Style.TRAFFIC: hues["quiet"],
        Style.ROUTE: hues["ink"],
        Style.PORT: hues["ink"],
        Style.ROAD: hues["quiet"],
        Style.STATION: hues["ink"],
        Style.WIND: hues["ink"],
        Style.CURRENT: hues["ink"],
        Style.WAVE: hues["quiet"],
        Style.HEARING: hues["sound"],
        Style.SEABED: hues["quiet"],
        Style.PEOPLE: hues["people"],
        Style.LATE: hues["late"],
        Style.MEASURE: hues["ink"],
    }
    fields = tuple(name for name in hues if name != "dissub")
    return Ink(
        name=name,
        styles=MappingProxyType(styles),
        **{field: hues[field] for field in fields},
    )


NIGHT = _ink(
    "night",
    page="#0b0f0f",
    panel="#111717",
    line="#34403f",
    tints=("#0c1314", "#101a1b", "#152324", "#1b2d2e", "#21373a"),
    sea="#101a1b",
    land="#37322a",
    shore="#978c76",
    contour="#4d6361",
    ink="#eeeade",
    quiet="#a19e95",
    dissub="#ffd83a",
    plate="#ffd83a",
    people="#f79a4b",
    sound="#6fa9ee",
    search="#52dfb6",
    late="#ff8a84",
    late_plate="#ee4f4c",
)
DAY = _ink(
    "day",
    page="#f6f5f0",
    panel="#ffffff",
    line="#c9cdc6",
    tints=("#fdfdfb", "#f3f8f7", "#e8f1f1", "#dceaeb", "#cfe2e5"),
    sea="#f3f8f7",
    land="#eee3c9",
    shore="#7c6f52",
    contour="#8fa9ac",
    ink="#131c1b",
    quiet="#5c5f59",
    dissub="#131c1b",  # by day her yellow is a fill in an ink outline, never a line or a letter
    plate="#ffd21f",
    people="#9f4b00",
    sound="#1263b4",
    search="#00523d",
    late="#86071f",
    late_plate="#86071f",
)
INKS: Mapping[str, Ink] = MappingProxyType({"night": NIGHT, "day": DAY})


def tints(ink: Ink, edges: Sequence[float]) -> list[str]:
    """Return the colours of the sea between depths ``edges``, the shallowest first."""
    return list(reversed(ink.tints))[: len(edges) + 1]
