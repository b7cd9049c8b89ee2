"""What has room on a sheet: symbols and names by rank; what would lie on a higher one gives way.

Everything is in points of paper from the chart's middle, so that it is the same for each format.
People adrift never give way, and who is looked for first is named at the edge when beyond it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from layers.earth.chart.graticule import Extent
from layers.earth.chart.marks import Symbol
from layers.earth.geodesy import between
from layers.earth.said.written import distance_words
from layers.scene.scene import PlacedGrid, PlacedPath, PlacedPoint, Scene, label
from layers.scene.symbols import her_glyph

SIZES = {0: 8.0, 1: 7.0, 2: 5.5}  # half of a symbol by its rank
LETTERS = {0: 10.0, 1: 8.5}
NAMED = 2  # to this rank a name stands though its symbol gave way
# a station's plot is one symbol of several strokes, which belong on one place
OF_A_STATION = (Symbol.WIND_BARB, Symbol.ARROW)
LEAST = 20.0  # points that a line or an area must cover to be named
EDGE = 11.0  # of an arrowhead from the sheet's edge

Box = tuple[float, float, float, float]  # left, low, right, high


@dataclass(frozen=True, slots=True)
class PlacedName:
    """A name that has room: its text, the middle of its left edge, its letters."""

    item: PlacedPoint | PlacedPath
    text: str
    x: float
    y: float
    letters: float

    @property
    def box(self) -> Box:
        """What its letters cover."""
        high = 0.62 * self.letters
        return (self.x, self.y - high, self.x + _across(self.text, self.letters), self.y + high)


@dataclass(frozen=True, slots=True)
class Beyond:
    """An arrowhead at the edge towards somebody beyond it."""

    item: PlacedPoint
    x: float
    y: float
    turn_deg: float


@dataclass(slots=True)
class Room:
    """What stands on a sheet."""

    symbols: list[PlacedPoint] = field(default_factory=list)
    names: list[PlacedName] = field(default_factory=list)
    beyond: list[Beyond] = field(default_factory=list)
    gave_way: int = 0  # symbols that would lie on a higher one


def half_size(item: PlacedPoint) -> float:
    """Return half the size of a symbol."""
    return SIZES.get(item.mark.rank, 5.0)


def laid_out(
    scene: Scene, extent: Extent, metres_a_point: float, taken: Sequence[Box] = ()
) -> Room:
    """Return what of a scene has room on a sheet.

    Parameters
    ----------
    metres_a_point : float
        Metres of the chart that a point of paper covers.
    taken : sequence of Box
        What the sheet's own furniture covers.
    """
    across = extent.x_max - extent.x_min
    sheet = tuple(
        v / metres_a_point for v in (extent.x_min, extent.y_min, extent.x_max, extent.y_max)
    )
    shown = [
        item for item in scene.placed
        if not isinstance(item, PlacedGrid)
        and (item.mark.near_m is None or across <= item.mark.near_m)
    ]  # fmt: skip
    room, held = Room(), list(taken)
    stands: list[tuple[float, float, float, bool]] = []
    named: list[PlacedPoint | PlacedPath] = []
    for item in sorted(shown, key=_order):
        if isinstance(item, PlacedPath):
            named.append(item)
            continue
        x, y = item.x_m / metres_a_point, item.y_m / metres_a_point
        if not _within((x, y, x, y), sheet):
            if her_glyph(item.mark) or item.mark.symbol is Symbol.PEOPLE:
                room.beyond.append(_beyond(item, x, y, sheet))
            continue
        drawn_to_scale = item.mark.far_m is not None and across <= item.mark.far_m
        if drawn_to_scale or _free(item, x, y, stands):
            named.append(item)
            if not drawn_to_scale:
                room.symbols.append(item)
                stands.append((x, y, half_size(item), item.mark.symbol in OF_A_STATION))
        else:
            room.gave_way += 1
            if item.mark.rank <= NAMED:
                named.append(item)
    held += [(x - 0.7 * s, y - 0.7 * s, x + 0.7 * s, y + 0.7 * s) for x, y, s, _ in stands]
    for edge in room.beyond:
        _put(room, held, sheet, edge.item, _beyond_words(scene, edge.item), edge.x, edge.y)
    for item in sorted(named, key=lambda one: one.mark.rank):
        text = label(item)
        if isinstance(item, PlacedPoint) and item.mark.symbol is Symbol.SOUNDING:
            text = item.mark.label
        where = _anchor(item, sheet, metres_a_point)
        if text and where is not None:
            _put(room, held, sheet, item, text, *where)
    return room


def _order(item: PlacedPoint | PlacedPath) -> int:
    people = isinstance(item, PlacedPoint) and item.mark.symbol is Symbol.PEOPLE
    return -1 if people else item.mark.rank


def _free(
    item: PlacedPoint, x: float, y: float, stands: Sequence[tuple[float, float, float, bool]]
) -> bool:
    """Whether a symbol lies on no higher one; people adrift and depths always stand."""
    if item.mark.symbol in (Symbol.PEOPLE, Symbol.SOUNDING):
        return True
    station = item.mark.symbol in OF_A_STATION
    for other_x, other_y, size, of_station in stands:
        off = math.hypot(x - other_x, y - other_y)
        if station and of_station and off < 0.5:
            continue
        if off < 0.8 * (half_size(item) + size):
            return False
    return True


def _across(text: str, letters: float) -> float:
    return (0.7 if letters >= LETTERS[0] else 0.62) * letters * len(text)


def _within(box: Box, sheet: tuple[float, ...]) -> bool:
    return box[0] >= sheet[0] and box[1] >= sheet[1] and box[2] <= sheet[2] and box[3] <= sheet[3]


def _put(
    room: Room, held: list[Box], sheet: tuple[float, ...], item: PlacedPoint | PlacedPath,
    text: str, x: float, y: float,
) -> None:  # fmt: skip
    """Put a name at the first of the places about its mark that is free and on the sheet."""
    letters = LETTERS.get(item.mark.rank, 7.0)
    wide = _across(text, letters)
    off = (half_size(item) if isinstance(item, PlacedPoint) else 0.0) + 3.0
    for left, up in _places(wide, letters, off):
        name = PlacedName(item, text, x + left, y + up, letters)
        b = name.box
        free = not any(b[0] < t[2] and b[2] > t[0] and b[1] < t[3] and b[3] > t[1] for t in held)
        if free and _within(b, sheet):
            room.names.append(name)
            held.append(b)
            return


def _places(wide: float, letters: float, off: float) -> Iterator[tuple[float, float]]:
    """Yield where a name may stand about its mark: its sides, over and under it, its corners."""
    rise = off + 0.62 * letters
    yield off, 0.0
    yield -off - wide, 0.0
    yield -wide / 2.0, rise
    yield -wide / 2.0, -rise
    for up in (rise, -rise):
        yield 0.3 * off, up
        yield -0.3 * off - wide, up
    for up in (rise + 1.3 * letters, -rise - 1.3 * letters):
        yield off, up
        yield -off - wide, up


def _anchor(
    item: PlacedPoint | PlacedPath, sheet: tuple[float, ...], metres_a_point: float
) -> tuple[float, float] | None:
    """Return where a mark's name stands by; of a line, the middle of what is on the sheet."""
    if isinstance(item, PlacedPoint):
        return item.x_m / metres_a_point, item.y_m / metres_a_point
    run = np.asarray(item.parts[0], dtype=float) / metres_a_point
    if item.mark.rank > NAMED - 1 and np.ptp(run, axis=0).max() < LEAST:
        return None  # what is a speck at this scale has no name at it
    if not item.closed:  # the middle along it, not the middle one of its corners
        steps = np.hypot(*np.diff(run, axis=0).T)
        along = np.concatenate([[0.0], np.cumsum(steps)])
        at = np.linspace(0.0, along[-1], 201)
        run = np.column_stack([np.interp(at, along, run[:, 0]), np.interp(at, along, run[:, 1])])
    on = run[[_within((x, y, x, y), sheet) for x, y in run]]
    if not len(on):
        return None
    place = on[np.argmax(on[:, 1])] if item.closed else on[len(on) // 2]
    return float(place[0]), float(place[1])


def _beyond(item: PlacedPoint, x: float, y: float, sheet: tuple[float, ...]) -> Beyond:
    share = min((sheet[2] - EDGE) / max(abs(x), 1e-9), (sheet[3] - EDGE) / max(abs(y), 1e-9))
    return Beyond(item, x * share, y * share, math.degrees(math.atan2(x, y)))


def _beyond_words(scene: Scene, item: PlacedPoint) -> str:
    """Return who is beyond the edge, on which bearing and how far from the chart's middle."""
    distance_m, bearing_deg, _ = between(scene.frame.centre, item.mark.position)
    who = f"{item.mark.number} adrift" if item.mark.number is not None else label(item)
    return f"{who} {round(bearing_deg) % 360:03d}°T {distance_words(distance_m)}"
