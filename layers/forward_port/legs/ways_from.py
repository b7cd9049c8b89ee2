"""Ways by sea from the datum to many ports, found at one go and kept by the cell it lies in.

To find them takes seconds, where the coast was never cut before minutes: a picture reads what is
kept, and a program of its own finds what is not (``find_ways``).
"""

from __future__ import annotations

import json
import logging
import os
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.forward_port.legs.sea_graph import FORMAT
from layers.forward_port.legs.sea_route import (
    Shoreline,
    clear,
    length_nmi,
    round_land,
    ways_round_land,
)

log = logging.getLogger(__name__)

CELL_DEG = 0.1  # six miles: within it a way differs in its first leg alone
Way = tuple[Position, ...]


class How(StrEnum):
    """How a way by sea is known."""

    STRAIGHT = "straight is clear"
    ROUND = "round land"
    NOT_YET = "not worked out yet"
    NONE = "none was found"


@dataclass(frozen=True, slots=True)
class BySea:
    """A way by sea: its length, or the straight one, below which it can not be, and how known.

    ``way`` is empty where none is known.
    """

    nmi: float
    how: How
    way: Way = ()


def kept(land: Shoreline, datum: Position, goals: Sequence[Position]) -> tuple[BySea, ...]:
    """Return the ways from the datum as far as they are kept; nothing is searched for."""
    _, ways = _read(land, datum)
    return tuple(_one(land, datum, goal, ways) for goal in goals)


def _one(land: Shoreline, datum: Position, goal: Position, ways: dict[str, Way | None]) -> BySea:
    straight = between(datum, goal)[0] / M_PER_NMI
    ends = (datum, goal)
    if clear(land, ends, ends):
        return BySea(straight, How.STRAIGHT, ends)
    if _key(goal) not in ways:
        return BySea(straight, How.NOT_YET)
    way = ways[_key(goal)] or ()
    # the datum has moved within its cell: to the first turn, or by way of where it was
    for whole in ((datum, *way[1:]), (datum, *way)):
        if len(whole) > 2 and (way[0] == datum or clear(land, whole[:2], ends)):
            return BySea(max(straight, length_nmi(whole)), How.ROUND, whole)
    return BySea(straight, How.NONE)


def way_to(land: Shoreline, datum: Position, start: Position) -> Way | None:
    """Return a way from a place to the datum, found where it is not kept; None for none."""
    (found,) = kept(land, datum, (start,))
    if found.how is How.NOT_YET:
        find(land, datum, (start,))
        (found,) = kept(land, datum, (start,))
    if found.how is How.NOT_YET:  # nothing can be kept here
        return round_land(land, start, datum)
    return found.way[::-1] or None


def find(land: Shoreline, datum: Position, goals: Sequence[Position]) -> None:
    """Find the ways that are not kept yet, and keep them."""
    begun, ways = _read(land, datum)
    missing = [goal for goal in goals if _key(goal) not in ways]
    found = ways_round_land(land, begun, missing)
    ways |= {_key(goal): way for goal, way in zip(missing, found, strict=True)}
    path = _path(land, datum)
    if path is None:
        return
    told = {
        "from": _figures(begun),
        "ways": {k: None if way is None else [_figures(p) for p in way] for k, way in ways.items()},
    }
    try:
        path.parent.mkdir(exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
        with os.fdopen(handle, "w") as file:
            json.dump(told, file)
        Path(name).replace(path)
    except OSError as reason:  # a full or read-only disk costs the keeping
        log.warning("ways by sea could not be kept: %s", reason)


def program(datum: Position, goals: Sequence[Position]) -> tuple[str, ...]:
    """Return the module that finds ways, and what it is told."""
    numbers = [number for place in (datum, *goals) for number in _figures(place)]
    return ("layers.forward_port.legs.find_ways", *map(repr, numbers))


def _read(land: Shoreline, datum: Position) -> tuple[Position, dict[str, Way | None]]:
    """Return where the ways kept for a datum's cell begin, and each by its port."""
    path = _path(land, datum)
    try:
        told = json.loads(path.read_text()) if path is not None else {}
        ways = {
            str(k): None if way is None else tuple(Position(*place) for place in way)
            for k, way in told["ways"].items()
        }
        return Position(*told["from"]), ways
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return datum, {}  # none yet, or half of one: found anew


def _path(land: Shoreline, datum: Position) -> Path | None:
    if land.folder is None:
        return None
    row, column = (int(number // CELL_DEG) for number in _figures(datum))
    return land.folder / f"sea_net_{FORMAT}" / f"from_{row}_{column}.json"


def _key(goal: Position) -> str:
    return f"{goal.latitude_deg!r} {goal.longitude_deg!r}"


def _figures(place: Position) -> tuple[float, float]:
    return float(place.latitude_deg), float(place.longitude_deg)
