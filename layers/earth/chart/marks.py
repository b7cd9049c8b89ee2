"""What a layer draws: marks in WGS 84 with a style word, a tooltip and a source.

A mark knows no projection, no map library and no colour. A chart frame projects it and a
renderer in ``dashboard/chart`` turns its style into ink.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from layers.earth.arrays import Floats
from layers.earth.position import Position
from layers.earth.said.alike import visible
from layers.earth.tells import NOTHING, Tells


class Style(StrEnum):
    """What a mark stands for; the renderers give each its ink for night, day and paper."""

    DISSUB = "dissub"
    DATUM = "datum"
    EVIDENCE = "evidence"
    EXCLUDED = "excluded"
    PROBABILITY = "probability"
    SEARCH = "search"
    DRIFT = "drift"
    TRANSPONDER = "transponder"
    SHIP = "ship"
    AIRCRAFT = "aircraft"
    TRAFFIC = "traffic"
    ROUTE = "route"
    PORT = "port"
    ROAD = "road"
    STATION = "station"
    WIND = "wind"
    CURRENT = "current"
    WAVE = "wave"
    HEARING = "hearing"
    SEABED = "seabed"
    PEOPLE = "people"
    LATE = "late"  # people who will not be out in time: the one use of red
    MEASURE = "measure"


class Symbol(StrEnum):
    """Plotting symbols (Bowditch; WMO station plot)."""

    FIX = "fix"  # circle
    DEAD_RECKONING = "dead_reckoning"  # half circle
    ESTIMATED = "estimated"  # square
    CROSS = "cross"
    TRIANGLE = "triangle"
    DIAMOND = "diamond"
    SHIP_OUTLINE = "ship_outline"  # needs heading_true_deg
    SUPPORT_SHIP = "support_ship"  # the same, filled
    AIRCRAFT = "aircraft"  # needs heading_true_deg
    VEHICLE = "vehicle"  # rescue or inspection vehicle under water
    PEOPLE = "people"  # in the water; their number stands in it
    WRECK = "wreck"
    WIND_BARB = "wind_barb"  # needs heading_true_deg (from) and speed_kn
    ARROW = "arrow"  # needs heading_true_deg (towards)
    SOUNDING = "sounding"  # the label is the sounding


class Freshness(StrEnum):
    """How a mark relates to the time shown; never told by colour alone."""

    KNOWN = "known"
    STALE = "stale"  # drawn hollow, its age beside it
    EXPECTED = "expected"  # drawn dashed and lighter


class Path(StrEnum):
    """How the line between two vertices runs on the earth."""

    GEODESIC = "geodesic"
    RHUMB = "rhumb"
    AS_GIVEN = "as_given"  # already dense, or drawn straight in the frame


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What every mark carries.

    Parameters
    ----------
    key : str
        Stable within its layer, so that a change can be told from a new mark.
    style : Style or str
        One of those all layers have, or the name of one that the layer declares as its own.
    tooltip : str
        Plain text, units included; shown on hover and in exports. Never HTML.
    source : str
        Ids of the records it rests on, joined by a space, or the published source.
    label : str
        Text beside the mark; may be empty.
    rank : int
        Labels give way from high to low: 0 the DISSUB, 1 support ship, 2 transponders,
        3 stations and ports, 5 the rest.
    at : datetime or None
        The time the mark is true for, UTC.
    tells : frozenset of Tells
        What the mark gives away that may be withheld from some readers.
    near_m : float or None
        Drawn only where the sheet is at most so many metres across; None at every scale.
    far_m : float or None
        The symbol, not its name, gives way where the sheet is less than so many metres across:
        something drawn to scale stands in its place.
    """

    key: str
    style: Style | str
    tooltip: str
    source: str
    label: str = ""
    rank: int = 5
    freshness: Freshness = Freshness.KNOWN
    disputed: bool = False
    at: datetime | None = None
    tells: frozenset[Tells] = NOTHING
    near_m: float | None = None
    far_m: float | None = None

    def __post_init__(self) -> None:
        for name in ("label", "tooltip", "source"):
            told = getattr(self, name)
            if not told.isascii() or not told.isprintable():
                object.__setattr__(self, name, visible(told))


@dataclass(frozen=True, slots=True, kw_only=True)
class PointMark(Mark):
    """A symbol at one place; ``number`` stands inside it (people adrift)."""

    position: Position
    symbol: Symbol = Symbol.FIX
    heading_true_deg: float | None = None
    speed_kn: float | None = None
    number: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LineMark(Mark):
    """A line through two or more vertices.

    Parameters
    ----------
    latitudes_deg, longitudes_deg : ndarray, shape (n,)
        Vertices; a NaN pair breaks the line.
    width : int
        1 thin, 2 ordinary, 3 strong.
    dotted : bool
        Dotted whatever the freshness (the 50 % ellipse).
    arrow : bool
        An arrow head at the last vertex.
    """

    latitudes_deg: Floats
    longitudes_deg: Floats
    path: Path = Path.GEODESIC
    width: int = 2
    dotted: bool = False
    arrow: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaMark(Mark):
    """A closed figure; the first vertex need not be repeated.

    Parameters
    ----------
    latitudes_deg, longitudes_deg : ndarray, shape (n,)
        Outer ring.
    filled : bool
        Lightly filled; otherwise outline only.
    """

    latitudes_deg: Floats
    longitudes_deg: Floats
    path: Path = Path.AS_GIVEN
    filled: bool = False
    dotted: bool = False
    width: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class GridMark(Mark):
    """Values on a regular grid, shaded by one sequential ramp (cividis).

    Parameters
    ----------
    latitudes_deg, longitudes_deg : ndarray, shape (ny + 1, nx + 1)
        Corners of the cells, so that a grid regular in any projection can be given.
    values : ndarray, shape (ny, nx)
        NaN is not drawn.
    unit : str
        What the values are, with unit: ``"probability per nmi²"``.
    edges : tuple of float
        Where one tint of the sea ends and the next begins, ascending; a field of depths is ground,
        never ink. Empty: shaded by the ramp.
    """

    latitudes_deg: Floats
    longitudes_deg: Floats
    values: Floats
    unit: str
    edges: tuple[float, ...] = ()


AnyMark = PointMark | LineMark | AreaMark | GridMark
