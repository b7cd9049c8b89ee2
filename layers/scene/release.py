"""What may leave the program, to whom, and the words that stand on everything that does."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, is_dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np

from layers.contract import Moment, Shown, Unavailable, View
from layers.earth.chart.marks import AnyMark, GridMark, PointMark
from layers.earth.clock import dtg
from layers.earth.geodesy import inverse
from layers.earth.position import Position
from layers.earth.table import Table
from layers.earth.tells import Tells
from layers.picture import Picture

CAUTION = "Not for navigation. A datum is not a fix."


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """What somebody may be shown; the wall and every export have one too.

    Parameters
    ----------
    names : bool
        Names of persons.
    medical : bool
        Fitness and medical detail of persons.
    exact_position : bool
        The DISSUB's exact position; without it only the datum's circle is left.
    to : str
        To whom it may go, in words: ``"operations room"``, ``"press"``.
    """

    names: bool = False
    medical: bool = True
    exact_position: bool = True
    to: str = "operations room"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """The words on every export: what it is, of when, for whom, and from which journal."""

    title: str
    exercise: str  # the exercise's name, "" for a real operation
    moment: Moment
    head_seq: int
    head_hash: str
    marking: str = ""
    releasable_to: str = "operations room"
    attribution: str = ""

    @property
    def banner(self) -> str:
        """EXERCISE and its name, or nothing."""
        if not self.exercise:
            return ""
        name = self.exercise.upper()
        return name if name.startswith("EXERCISE") else f"EXERCISE {name}"

    @property
    def time_words(self) -> str:
        """Which of the three times is shown."""
        at, as_of = dtg(self.moment.at), dtg(self.moment.as_of)
        if self.moment.view is View.KNOWN:
            return f"{at}, as known then"
        if self.moment.view is View.HINDSIGHT:
            return f"{at} in hindsight, as known at {as_of}"
        return f"EXPECTED at {at}, as known at {as_of}"

    def lines(self) -> tuple[str, ...]:
        """Return the stamp as lines of text, empty ones left out."""
        told = (
            self.banner,
            self.title,
            self.time_words,
            self.marking,
            f"For: {self.releasable_to}" if self.releasable_to else "",
            f"Journal: record {self.head_seq}, head {self.head_hash[:16]}",
            CAUTION,
        )
        return tuple(line for line in told if line)

    def as_dict(self) -> dict[str, str | int]:
        """Return the stamp for a machine-readable export."""
        return {
            "title": self.title,
            "exercise": self.banner,
            "at": _iso(self.moment.at),
            "as_of": _iso(self.moment.as_of),
            "view": self.moment.view.value,
            "marking": self.marking,
            "releasable_to": self.releasable_to,
            "journal_record": self.head_seq,
            "journal_head": self.head_hash,
            "caution": CAUTION,
            "attribution": self.attribution,
        }


def _iso(at: datetime) -> str:
    return at.isoformat(timespec="seconds").replace("+00:00", "Z")


def marks_for(
    picture: Picture, release: Release, hidden: Collection[str] = ()
) -> Iterator[tuple[str, AnyMark]]:
    """Yield ``(layer key, mark)`` of what may be shown, from below to above."""
    for key, shown in picture.layers.items():
        if key in hidden or not isinstance(shown, Shown):
            continue
        for mark in shown.marks:
            if release.exact_position or Tells.POSITION not in mark.tells:
                yield key, mark


# what these layers say gives away the exact position, or the state of persons, in every line
POSITION_LAYERS = ("datum", "transponders")
MEDICAL_LAYERS = ("margin",)
PEOPLE_LAYERS = ("survivors", "margin")
POSITION_WITHHELD = "the exact position of the DISSUB is withheld here"
MEDICAL_WITHHELD = "medical detail is withheld here"
NEAR_M = 37_040.0  # 20 nmi: nearer than this a ship on station gives her away
_TELLS = re.compile(r"\d°\d|from the datum|of the datum|at the datum", re.IGNORECASE)


def withheld(picture: Picture, release: Release) -> Picture:
    """Return the picture with everything taken out that this release does not allow.

    It is the picture that is cut, before any page sees it. A layer whose every line would give
    away what is withheld is not shown at all. Of the others, what is drawn near the DISSUB and
    what is said with a position in it is left out: a support ship on station gives her away.
    """
    layers: dict[str, Shown | Unavailable] = {}
    near = None if release.exact_position else _datum(picture)
    for key, shown in picture.layers.items():
        if not release.exact_position and key in POSITION_LAYERS:
            layers[key] = Unavailable(reason=POSITION_WITHHELD)
        elif not release.medical and key in MEDICAL_LAYERS:
            layers[key] = Unavailable(reason=MEDICAL_WITHHELD)
        elif isinstance(shown, Shown) and not release.exact_position:
            layers[key] = _cut(key, shown, near)
        else:
            layers[key] = shown
        found = layers[key]
        if not release.names and key in PEOPLE_LAYERS and isinstance(found, Shown):
            layers[key] = _nameless(found)
    return replace(picture, layers=layers)


def _nameless(shown: Shown) -> Shown:
    """Return a layer whose muster counts persons and names none."""
    result: Any = shown.result
    muster: Any = getattr(result, "muster", None)
    if muster is None:
        return shown
    places = tuple(
        replace(place, lots=tuple(replace(lot, names=()) for lot in place.lots))
        for place in muster.places
    )
    return replace(shown, result=replace(result, muster=replace(muster, places=places)))


def _datum(picture: Picture) -> Position | None:
    shown = picture.layers.get("datum")
    found = getattr(shown.result, "position", None) if isinstance(shown, Shown) else None
    return found if isinstance(found, Position) else None


def _cut(key: str, shown: Shown, near: Position | None) -> Shown:
    tells = _TELLS.search
    people = key in PEOPLE_LAYERS
    result = shown.result
    if people and is_dataclass(result) and hasattr(result, "datum"):
        result = replace(result, datum=None)  # type: ignore[type-var]  # an instance, not a class
    return replace(
        shown,
        # of the others a page could still read a position off the result itself
        result=result if people else None,
        closed="" if people else POSITION_WITHHELD,
        sentence=POSITION_WITHHELD if tells(shown.sentence) else shown.sentence,
        marks=tuple(mark for mark in shown.marks if not _gives_away(mark, near)),
        table=_cut_table(shown.table),
        tables={title: _cut_table(table) for title, table in shown.tables.items()},
    )


def _cut_table(table: Table) -> Table:
    rows = tuple(r for r in table.rows if not any(_TELLS.search(str(cell)) for cell in r))
    return Table(heads=table.heads, rows=rows)


def _gives_away(mark: AnyMark, near: Position | None) -> bool:
    if Tells.POSITION in mark.tells or _TELLS.search(f"{mark.tooltip} {mark.label}"):
        return True
    if near is None or isinstance(mark, GridMark):
        return False
    if isinstance(mark, PointMark):
        latitudes = np.array([mark.position.latitude_deg])
        longitudes = np.array([mark.position.longitude_deg])
    else:
        latitudes, longitudes = mark.latitudes_deg, mark.longitudes_deg
    if not len(latitudes):
        return False
    away = inverse(near.latitude_deg, near.longitude_deg, latitudes, longitudes).distance_m
    return bool(np.nanmin(away, initial=np.inf) < NEAR_M)
