"""What the tracks layer records, and what it makes of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field

from layers.earth.arrays import Bools, Floats, Ints
from layers.earth.block import Block
from layers.earth.position import Position
from layers.journal.kinds import Kind, Payload, SideColumn
from layers.tracks.digits import same_fix

Role = Literal[
    "support ship",
    "ship of opportunity",
    "search ship",
    "aircraft",
    "rescue vehicle",
    "distress transmitter",
    "other",
]
# search and rescue transmitter, man overboard, beacon
DISTRESS_PREFIXES = ("970", "972", "974")
TimeFrom = Literal[
    "sentence",  # date and time stand in the sentence
    "tag block",
    "log",  # the last dated sentence before it in the same log
    "date from receiver",  # the line has a time of day; the date was inferred
    "receiver",  # the line has no time at all: when it was received
    "receiver's stamp",  # the receiver wrote its own time beside the sentence
    "told",  # a person has said when the log was recorded
    "file",
    "file, no zone stated, taken as UTC",
    "reported",
]
Latitude = Annotated[float, Field(ge=-90, le=90)]
Longitude = Annotated[float, Field(ge=-180, le=180)]


def role_of(subject: str) -> Role:
    """Return the role that an MMSI gives away (ITU-R M.585; prefixes from memory)."""
    number = subject.removeprefix("mmsi:")
    if subject.startswith("mmsi:") and number.startswith(DISTRESS_PREFIXES):
        return "distress transmitter"
    if subject.startswith("mmsi:111"):
        return "aircraft"
    return "other"


class PositionReport(Payload):
    """Where a ship or aircraft was, and how it moved; None where it did not say."""

    subject: str = Field(min_length=1, max_length=120)  # "mmsi:299000101", "gps:bridge.log"
    latitude_deg: float = Field(ge=-90, le=90)
    longitude_deg: float = Field(ge=-180, le=180)
    speed_kn: float | None = Field(default=None, ge=0, lt=1200)
    course_true_deg: float | None = Field(default=None, ge=0, lt=360)
    heading_true_deg: float | None = Field(default=None, ge=0, lt=360)
    time_from: TimeFrom = "reported"
    said_by: str = Field(default="", max_length=40)  # "AIS 1", "GGA RMC", "GPX"
    nav_status: int | None = Field(default=None, ge=0, le=15)  # ITU-R M.1371; 14: SART active


class Area(Payload):
    """An area as it was drawn or imported: its edge, (latitude, longitude) in degrees."""

    name: str = Field(min_length=1, max_length=200)
    vertices: tuple[tuple[Latitude, Longitude], ...] = Field(min_length=3, max_length=5000)
    from_format: str = Field(default="typed", max_length=40)


class SafetyText(Payload):
    """A safety related text that a station sent to all: AIS message 14, or a SART's status."""

    subject: str = Field(min_length=1, max_length=120)
    text: str = Field(min_length=1, max_length=200)
    time_from: TimeFrom = "reported"


class Aid(Payload):
    """An aid to navigation that says where it is: AIS message 21; wreck marks among them."""

    subject: str = Field(min_length=1, max_length=120)
    name: str = Field(default="", max_length=60)
    aid_type: int = Field(ge=0, le=31)
    latitude_deg: float = Field(ge=-90, le=90)
    longitude_deg: float = Field(ge=-180, le=180)
    virtual: bool = False
    off_position: bool | None = None
    time_from: TimeFrom = "reported"


class StaticReport(Payload):
    """What a ship's own transmitter says she is; set by hand on board, often wrong."""

    subject: str = Field(min_length=1, max_length=120)
    name: str | None = Field(default=None, max_length=40)
    call_sign: str | None = Field(default=None, max_length=20)
    ship_type: int | None = Field(default=None, ge=0, le=9999)
    length_m: float | None = Field(default=None, gt=0, le=600)
    beam_m: float | None = Field(default=None, gt=0, le=130)


class Vessel(Payload):
    """Who a subject is and what it is here for, as entered by the watch."""

    subject: str = Field(min_length=1, max_length=120)
    name: str = Field(min_length=1, max_length=80)
    role: Role
    mmsi: int | None = Field(default=None, ge=1_000_000, le=999_999_999)
    length_m: float | None = Field(default=None, gt=0, le=600)
    max_speed_kn: float | None = Field(default=None, gt=0, le=900)


class RoutePoint(Payload):
    """One point of a route, and how the leg that ends there runs."""

    latitude_deg: float = Field(ge=-90, le=90)
    longitude_deg: float = Field(ge=-180, le=180)
    name: str = Field(default="", max_length=120)
    leg: Literal["great circle", "rhumb line"] = "rhumb line"
    speed_kn: float | None = Field(default=None, gt=0, le=900)
    eta: AwareDatetime | None = None  # planned, as the route's schedule says
    etd: AwareDatetime | None = None


class Route(Payload):
    """A route as it was planned or imported; the first waypoint's leg is not used."""

    name: str = Field(min_length=1, max_length=200)
    waypoints: tuple[RoutePoint, ...] = Field(min_length=2, max_length=5000)
    from_format: str = Field(default="typed", max_length=40)  # "GPX 1.1", "RTZ 1.2", "typed"


POSITION = Kind(
    name="tracks.position",
    title="position of a ship or aircraft",
    model=PositionReport,
    columns=(
        SideColumn(name="subject", sql="TEXT"),
        SideColumn(name="latitude_deg", sql="REAL"),
        SideColumn(name="longitude_deg", sql="REAL"),
        SideColumn(name="speed_kn", sql="REAL"),
        SideColumn(name="course_true_deg", sql="REAL"),
        SideColumn(name="heading_true_deg", sql="REAL"),
    ),
    by="subject",
    same=same_fix,
)
STATIC = Kind(
    name="tracks.static",
    title="what a ship's transmitter says she is",
    model=StaticReport,
    columns=(
        SideColumn(name="subject", sql="TEXT"),
        SideColumn(name="name", sql="TEXT"),
        SideColumn(name="ship_type", sql="INTEGER"),
        SideColumn(name="length_m", sql="REAL"),
        SideColumn(name="beam_m", sql="REAL"),
    ),
    by="subject",
)
VESSEL = Kind(name="tracks.vessel", title="ship or aircraft taking part", model=Vessel)
ROUTE = Kind(name="tracks.route", title="route", model=Route)
SAFETY_TEXT = Kind(name="tracks.safety_text", title="safety text heard on AIS", model=SafetyText)
AID = Kind(name="tracks.aid", title="aid to navigation heard on AIS", model=Aid)
AREA = Kind(name="tracks.area", title="area drawn or imported", model=Area)
KINDS = (POSITION, STATIC, VESSEL, ROUTE, SAFETY_TEXT, AID, AREA)


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """Where a track does not hold together; shown, never smoothed over.

    ``speed_kn`` is the straight-line speed that the two fixes would need. ``alone`` is the time
    of a fix that fits neither the one before nor the one after while those two fit each other.
    """

    kind: Literal["jump", "gap"]
    from_at: datetime
    to_at: datetime
    distance_nmi: float
    speed_kn: float
    alone: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """When a ship can be at the datum from where she is reckoned now, by both sailings.

    Never before the time shown. ``under_way`` is false for a ship that lies stopped: the times
    then hold for an order given at that time, and are said as hours when ordered. ``turns`` is
    true for one that steams another way: she has to turn for the datum first.
    """

    speed_kn: float
    speed_from: str  # "her speed at the fix" or "her best speed as entered"
    under_way: bool = True
    turns: bool = False
    great_circle_nmi: float
    great_circle_bearing_true_deg: float
    rhumb_nmi: float
    rhumb_bearing_true_deg: float
    by_great_circle: datetime
    by_rhumb: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Approach:
    """Closest point of approach of two, from their courses and speeds held."""

    first: str
    second: str
    cpa_nmi: float
    tcpa: datetime
    range_now_nmi: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ShipTrack:
    """One subject's track up to the time shown, its last fix and where it is expected.

    ``fixes`` were looked at: those of the ``track_s`` seconds before the last and one before
    them, or of very many the last (``shortened``). ``jumps`` and ``gaps`` count those in them;
    ``breaks`` are the newest. Arrays have shape (n,), in order of time: the fixes that her track
    is drawn by, whose line passes within ``within_m`` of all the others.
    """

    subject: str
    name: str
    role: str
    mmsi: int | None
    length_m: float | None
    max_speed_kn: float | None
    at_us: Ints
    latitudes_deg: Floats
    longitudes_deg: Floats
    fixes: int
    within_m: float
    position: Position
    fixed_at: datetime
    age_s: float
    stale: bool
    speed_kn: float | None
    course_true_deg: float | None
    heading_true_deg: float | None
    expected: Position | None  # by dead reckoning at the time shown; None when it cannot be had
    dead_reckoning_trusted: bool
    track_s: float
    reach_kn: float  # two fixes that need more are of two senders
    shortened: bool
    breaks: tuple[Break, ...]
    jumps: int
    gaps: int
    doubt: str  # why her position may not be hers; empty where nothing says so
    arrival: Arrival | None
    record_id: str

    @property
    def last_doubted(self) -> bool:
        """Whether her position is in doubt."""
        return bool(self.doubt)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRoute:
    """A route as recorded; names and arrays of shape (n,) a waypoint, or (n - 1,) a leg."""

    name: str
    from_format: str
    names: tuple[str, ...]
    latitudes_deg: Floats
    longitudes_deg: Floats
    great_circle: Bools  # by leg; else it runs by rhumb line
    leg_m: Floats
    at: datetime
    disputed: bool
    record_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardText:
    """A safety text as heard: whose, when, and whether it is a call for help."""

    subject: str
    name: str
    text: str
    at: datetime
    distress: bool
    record_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardAid:
    """An aid to navigation as it last said where it is."""

    subject: str
    name: str
    words: str
    position: Position
    at: datetime
    off_position: bool
    record_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnArea:
    """An area as recorded: its edge (n,), the first vertex again at the end."""

    name: str
    from_format: str
    latitudes_deg: Floats
    longitudes_deg: Floats
    at: datetime
    disputed: bool
    record_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TracksResult:
    """What the layer made of what was known.

    ``subjects`` counts all who ever sent a position; ``undrawn`` those of the other traffic that
    are not in ``ships``.
    """

    at: datetime
    ships: tuple[ShipTrack, ...]
    approaches: tuple[Approach, ...]
    where: Position | Block | None  # what ranges are measured to
    subjects: int
    undrawn: int
    vector_minutes: float
    rests_on: tuple[str, ...]
    routes: tuple[PlannedRoute, ...] = ()  # the newest first
    unseen: tuple[str, ...] = ()  # who take part and whose places a release withholds
    texts: tuple[HeardText, ...] = ()  # safety texts, the newest first
    aids: tuple[HeardAid, ...] = ()
    areas: tuple[DrawnArea, ...] = ()
