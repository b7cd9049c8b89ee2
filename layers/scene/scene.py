"""From marks to a scene: every mark projected once, in one chart frame, for every renderer."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from layers.catalogue import OWN_STYLES
from layers.earth.arrays import Floats
from layers.earth.chart.frames import ChartFrame
from layers.earth.chart.marks import (
    AnyMark,
    AreaMark,
    Freshness,
    GridMark,
    LineMark,
    PointMark,
    Style,
)
from layers.earth.geodesy import densify

STYLE_WORDS: Mapping[str, str] = {  # in the order of the legend
    Style.DISSUB: "DISSUB",
    Style.DATUM: "datum and its 95 %",
    Style.EVIDENCE: "evidence",
    Style.EXCLUDED: "set aside or excluded",
    Style.PROBABILITY: "probability",
    Style.SEARCH: "search",
    Style.DRIFT: "drift",
    Style.TRANSPONDER: "transponder",
    Style.SHIP: "ship of the rescue",
    Style.AIRCRAFT: "aircraft",
    Style.TRAFFIC: "other traffic",
    Style.ROUTE: "route",
    Style.PORT: "port or airfield",
    Style.ROAD: "road",
    Style.STATION: "weather station",
    Style.WIND: "wind",
    Style.CURRENT: "current",
    Style.WAVE: "waves",
    Style.HEARING: "range of hearing",
    Style.SEABED: "seabed",
    Style.PEOPLE: "people",
    Style.LATE: "people who will not be out in time",
    Style.MEASURE: "measured",
    **{own.name: own.word for own in OWN_STYLES},
}

MOST_SOURCES = 6  # numbers of records under a tooltip
_ID = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True, slots=True)
class PlacedPoint:
    """A point mark in metres of the frame."""

    layer: str
    mark: PointMark
    x_m: float
    y_m: float
    heading_grid_deg: float


@dataclass(frozen=True, slots=True)
class PlacedPath:
    """A line or an area in metres of the frame: one or more runs of shape (n, 2)."""

    layer: str
    mark: LineMark | AreaMark
    parts: tuple[Floats, ...]

    @property
    def closed(self) -> bool:
        """Whether it is an area."""
        return isinstance(self.mark, AreaMark)


@dataclass(frozen=True, slots=True)
class PlacedGrid:
    """A grid in metres of the frame: corners (ny + 1, nx + 1), values (ny, nx)."""

    layer: str
    mark: GridMark
    x_m: Floats
    y_m: Floats


Placed = PlacedPoint | PlacedPath | PlacedGrid


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What is drawn, from below to above.

    ``numbers`` are those of the records that marks rest on, as the log has them, by id; none for
    a release that withholds, where they would count what lies between.
    """

    frame: ChartFrame
    placed: tuple[Placed, ...]
    numbers: Mapping[str, int] = field(default_factory=dict)

    def styles(self) -> tuple[str, ...]:
        """Return the styles present, in the order of the legend."""
        present = {item.mark.style for item in self.placed}
        return tuple(style for style in STYLE_WORDS if style in present)


def scene(
    marks: Iterable[tuple[str, AnyMark]],
    frame: ChartFrame,
    numbers: Mapping[str, int] | None = None,
) -> Scene:
    """Return the scene of ``(layer key, mark)`` pairs in a frame; what cannot be shown is left out.

    Grids lie below areas, areas below lines, lines below points; within each the order given.
    """
    found: list[Placed] = []
    for layer, mark in marks:
        item = _place(layer, mark, frame)
        if item is not None:
            found.append(item)
    found.sort(key=_height)
    return Scene(frame=frame, placed=tuple(found), numbers=numbers or {})


def _height(item: Placed) -> int:
    if isinstance(item, PlacedGrid):
        return 0
    if isinstance(item, PlacedPath):
        return 1 if item.closed else 2
    return 3


def _place(layer: str, mark: AnyMark, frame: ChartFrame) -> Placed | None:
    if isinstance(mark, PointMark):
        return _place_point(layer, mark, frame)
    if isinstance(mark, GridMark):
        x, y = frame.project(mark.latitudes_deg, mark.longitudes_deg)
        return PlacedGrid(layer, mark, x, y) if np.isfinite(x).any() else None
    return _place_path(layer, mark, frame)


def _place_point(layer: str, mark: PointMark, frame: ChartFrame) -> PlacedPoint | None:
    x, y = frame.project(
        np.array([mark.position.latitude_deg]), np.array([mark.position.longitude_deg])
    )
    if not (np.isfinite(x[0]) and np.isfinite(y[0])):
        return None
    heading = 0.0
    if mark.heading_true_deg is not None:
        # convergence_deg is the bearing of grid north from true north
        heading = (mark.heading_true_deg - frame.convergence_deg(mark.position)) % 360.0
    return PlacedPoint(layer, mark, float(x[0]), float(y[0]), heading)


def _place_path(layer: str, mark: LineMark | AreaMark, frame: ChartFrame) -> PlacedPath | None:
    latitudes, longitudes = mark.latitudes_deg, mark.longitudes_deg
    if isinstance(mark, AreaMark) and len(latitudes):
        latitudes = np.append(latitudes, latitudes[0])
        longitudes = np.append(longitudes, longitudes[0])
    dense = densify(latitudes, longitudes, mark.path, max_step_m=_step_m(frame))
    x, y = frame.project(*dense)
    parts = _runs(np.column_stack([x, y]))
    return PlacedPath(layer, mark, parts) if parts else None


def _step_m(frame: ChartFrame) -> float:
    """Return a step fine enough that the chord leaves the curve by less than a hair."""
    return max(frame.half_width_m / 20.0, 1_000.0)


def _runs(points: Floats) -> tuple[Floats, ...]:
    """Return the runs of a path between its breaks.

    A break is a point that cannot be projected, or a leap across the sheet where the frame is
    cut open (the far meridian of a Mercator).
    """
    finite = np.isfinite(points).all(axis=1)
    broken = ~finite
    leap = np.zeros(len(points), dtype=bool)
    if len(points) > 1:
        with np.errstate(invalid="ignore"):
            gap = np.hypot(*np.diff(points, axis=0).T)
        leap[1:] = np.nan_to_num(gap, nan=0.0) > 1.5e7
    starts = np.flatnonzero(broken | leap)
    pieces = np.split(points, starts)
    kept = []
    for piece in pieces:
        run = piece[np.isfinite(piece).all(axis=1)]
        if len(run) > 1:
            kept.append(run)
    return tuple(kept)


def tooltip(item: Placed, numbers: Mapping[str, int] = MappingProxyType({})) -> str:
    """Return the text shown on a mark: what, how fresh, and where it comes from."""
    mark = item.mark
    lines = [mark.tooltip]
    if mark.freshness is Freshness.STALE:
        lines.append("stale")
    elif mark.freshness is Freshness.EXPECTED:
        lines.append("expected, not observed")
    if mark.disputed:
        lines.append("disputed")
    if told := source_words(mark, numbers):
        lines.append(f"from {told}")
    return "\n".join(lines)


def ids_in(marks: Iterable[AnyMark]) -> set[str]:
    """Return the ids of the records that marks say they come from."""
    return {word for mark in marks for word in mark.source.split() if _ID.fullmatch(word)}


def source_words(mark: AnyMark, numbers: Mapping[str, int]) -> str:
    """Return where a mark comes from: its records by their numbers in the log, never an id."""
    words = mark.source.split()
    found = sorted({numbers[word] for word in words if word in numbers})
    said = " ".join(word for word in words if not _ID.fullmatch(word))
    if not found:
        return said
    few = ", ".join(map(str, found[:MOST_SOURCES]))
    more = f" and {len(found) - MOST_SOURCES} more" if len(found) > MOST_SOURCES else ""
    cited = f"record{'s' if len(found) > 1 else ''} {few}{more}"
    return f"{said}, {cited}" if said else cited


def label(item: Placed) -> str:
    """Return the text beside a mark; a disputed one carries a question mark."""
    mark = item.mark
    return f"{mark.label} ?" if mark.disputed and mark.label else mark.label
