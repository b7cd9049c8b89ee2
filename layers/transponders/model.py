"""What is recorded about the water, the seabed and the transponders on it.

Depth grids and chart cells belong to this layer because everything it works out (how sound
runs, where a transponder comes to rest, how deep the vehicle goes) stands on the seabed. The
arrays themselves are kept as blobs under their digest; the record says what they are.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from layers.journal.kinds import Kind, Payload, SideColumn

Latitude = Annotated[float, Field(ge=-90.0, le=90.0)]
Longitude = Annotated[float, Field(ge=-180.0, le=180.0)]
DepthM = Annotated[float, Field(ge=0.0, le=12_000.0)]
Name = Annotated[str, Field(min_length=1, max_length=80)]
Digest = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class Profile(Payload):
    """Temperature, salinity or sound speed against depth, from the surface down.

    All lists have the length of ``depth_m``, which ascends. ``salinity_kind`` says whether
    salinity is practical (PSS-78) or absolute (TEOS-10, g/kg); it is never guessed.
    """

    depth_m: list[DepthM] = Field(min_length=2, max_length=20_000)
    temperature_c: list[Annotated[float, Field(ge=-3.0, le=45.0)]] | None = None
    salinity: list[Annotated[float, Field(ge=0.0, le=50.0)]] | None = None
    salinity_kind: Literal["practical", "absolute"] | None = None
    sound_speed_m_s: list[Annotated[float, Field(ge=1350.0, le=1750.0)]] | None = None
    latitude_deg: Latitude | None = None
    longitude_deg: Longitude | None = None
    instrument: str = Field(default="", max_length=200)
    notes: list[str] = Field(default_factory=list, max_length=40)

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        depths = self.depth_m
        if any(below <= above for above, below in pairwise(depths)):
            raise ValueError("depth_m must ascend; a profile that goes back up is split first")
        for name in ("temperature_c", "salinity", "sound_speed_m_s"):
            values = getattr(self, name)
            if values is not None and len(values) != len(depths):
                raise ValueError(f"{name} has {len(values)} values for {len(depths)} depths")
        if (self.salinity is None) != (self.salinity_kind is None):
            raise ValueError("salinity needs salinity_kind: practical or absolute, and only then")
        if self.temperature_c is None and self.sound_speed_m_s is None:
            raise ValueError("a profile needs temperature_c or sound_speed_m_s")
        return self


class Drop(Payload):
    """A transponder let go at the surface; ``valid_at`` is the moment of release.

    ``turn_round_sigma_s`` is how well its delay is known, one sigma: small where it was measured
    on deck.
    """

    transponder: Name
    ship: str = Field(default="", max_length=80)
    latitude_deg: Latitude
    longitude_deg: Longitude
    release_sigma_m: float = Field(default=5.0, gt=0.0, le=1000.0)
    water_depth_m: DepthM
    water_depth_sigma_m: float = Field(default=5.0, gt=0.0, le=500.0)
    height_above_seabed_m: float = Field(default=0.0, ge=0.0, le=1000.0)
    sink_rate_m_s: float = Field(default=1.5, gt=0.0, le=10.0)
    turn_round_s: float = Field(ge=0.0, le=10.0)
    turn_round_sigma_s: float | None = Field(default=None, ge=0.0, le=1.0)
    battery_h: float | None = Field(default=None, gt=0.0, le=50_000.0)


class RangeReply(Payload):
    """One reply: two-way travel time from the ship's transducer to a transponder and back.

    ``two_way_s`` is as measured, the transponder's turn-round delay included. The position is
    that of the transducer halfway between asking and hearing, so that the ship's way drops out.
    """

    transponder: Name
    ship: str = Field(default="", max_length=80)
    latitude_deg: Latitude
    longitude_deg: Longitude
    transducer_depth_m: DepthM
    two_way_s: float = Field(gt=0.0, le=120.0)


class BetweenReply(Payload):
    """One reply of a transponder to another: ``one`` asks, ``other`` answers.

    ``two_way_s`` is as measured, the turn-round delay of ``other`` included.
    """

    one: Name
    other: Name
    two_way_s: float = Field(gt=0.0, le=120.0)
    sigma_m: float = Field(default=0.5, gt=0.0, le=100.0)

    @model_validator(mode="after")
    def _two(self) -> Self:
        if self.one == self.other:
            raise ValueError(f"a range from {self.one} to itself: name the other transponder")
        return self


class BoxInErrors(Payload):
    """How large the errors may be that all replies of a box-in share, one sigma each.

    A record may tell any of them; of each the newest word stands, and where there is none an
    assumption. 0: this error is ruled out (an arm that was measured and put in).
    """

    ERRORS: ClassVar[tuple[str, ...]] = (
        "position_sigma_m", "arm_sigma_m", "late_sigma_s", "sound_speed_sigma_m_s",
    )  # fmt: skip
    position_sigma_m: float | None = Field(default=None, ge=0.0, le=200.0)
    arm_sigma_m: float | None = Field(default=None, ge=0.0, le=100.0)
    late_sigma_s: float | None = Field(default=None, ge=0.0, le=60.0)
    sound_speed_sigma_m_s: float | None = Field(default=None, ge=0.0, le=100.0)
    reason: str = Field(default="", max_length=500)

    @model_validator(mode="after")
    def _some(self) -> Self:
        if all(getattr(self, name) is None for name in self.ERRORS):
            raise ValueError(
                "no error told: give one of her position, the arm, the lateness or the sound speed"
            )
        return self


class TransponderState(Payload):
    """What was seen of a transponder; for one that answers, ``valid_at`` is its last reply."""

    transponder: Name
    state: Literal["answers", "weak", "silent", "lost", "recovered"]
    battery_percent: float | None = Field(default=None, ge=0.0, le=100.0)
    note: str = Field(default="", max_length=500)


class NetRange(Payload):
    """A range from the object to one transponder of the net."""

    transponder: Name
    two_way_s: float | None = Field(default=None, gt=0.0, le=120.0)
    slant_m: float | None = Field(default=None, gt=0.0, le=30_000.0)

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.two_way_s is None) == (self.slant_m is None):
            raise ValueError("give either two_way_s (turn-round included) or slant_m")
        return self


class TypedFix(Payload):
    """Ranges to the net, and bearing and depression from the ship, to one object.

    At least two lines are needed: ranges, or bearing with depression. The object's depth, when
    it is known (its own gauge), counts as a line too.
    """

    subject: Name
    is_dissub: bool = False
    ranges: list[NetRange] = Field(default_factory=list, max_length=24)
    range_sigma_m: float = Field(default=1.0, gt=0.0, le=200.0)
    ship_latitude_deg: Latitude | None = None
    ship_longitude_deg: Longitude | None = None
    transducer_depth_m: DepthM = 5.0
    bearing_true_deg: float | None = Field(default=None, ge=0.0, lt=360.0)
    bearing_sigma_deg: float = Field(default=0.5, gt=0.0, le=45.0)
    depression_deg: float | None = Field(default=None, gt=0.0, le=90.0)
    depression_sigma_deg: float = Field(default=0.5, gt=0.0, le=45.0)
    depth_m: DepthM | None = None
    depth_sigma_m: float = Field(default=2.0, gt=0.0, le=200.0)

    @model_validator(mode="after")
    def _enough(self) -> Self:
        sighted = self.bearing_true_deg is not None or self.depression_deg is not None
        if sighted and (self.ship_latitude_deg is None or self.ship_longitude_deg is None):
            raise ValueError("a bearing or depression needs the ship's latitude and longitude")
        lines = len(self.ranges)
        lines += (self.bearing_true_deg is not None) + (self.depression_deg is not None)
        if lines < 2:
            raise ValueError(
                "a fix needs at least two lines: ranges to transponders, or bearing and depression"
            )
        return self


class SoundSource(Payload):
    """Something that may be heard: what it sends, and how well it is listened for.

    ``provenance`` stands beside the values wherever they are shown.
    """

    name: Name
    source_level_db: float = Field(ge=60.0, le=240.0)
    frequency_khz: float = Field(ge=0.05, le=500.0)
    band_hz: float = Field(gt=0.0, le=200_000.0)
    depth_m: DepthM | None = None
    latitude_deg: Latitude | None = None
    longitude_deg: Longitude | None = None
    provenance: str = Field(min_length=3, max_length=300)


class Listener(Payload):
    """Who listens: depth of the receiver, its gain, its own noise, and what it needs."""

    name: Name
    depth_m: DepthM = 10.0
    array_gain_db: float = Field(default=0.0, ge=-10.0, le=60.0)
    detection_threshold_db: float = Field(default=10.0, ge=-30.0, le=40.0)
    self_noise_db: float | None = Field(default=None, ge=0.0, le=160.0)
    wind_m_s: float | None = Field(default=None, ge=0.0, le=60.0)
    provenance: str = Field(min_length=3, max_length=300)


class DepthGridRecord(Payload):
    """A grid of depths, kept as a blob; what it is, where from and how far to trust it."""

    blob: Digest
    title: str = Field(min_length=1, max_length=300)
    crs: str = Field(min_length=1, max_length=4000)
    west_deg: Longitude
    east_deg: Longitude
    south_deg: Latitude
    north_deg: Latitude
    cell_x_m: float = Field(gt=0.0)
    cell_y_m: float = Field(gt=0.0)
    columns: int = Field(ge=2)
    rows: int = Field(ge=2)
    vertical_datum: str = Field(default="not stated", max_length=200)
    has_uncertainty: bool = False
    not_for_navigation: bool = True
    notes: list[str] = Field(default_factory=list, max_length=20)


class ChartCell(Payload):
    """An S-57 cell, its features kept as a blob of plain arrays."""

    blob: Digest
    title: str = Field(min_length=1, max_length=300)
    edition: str = Field(default="", max_length=40)
    updates_applied: int = Field(default=0, ge=0)
    scale: int | None = Field(default=None, gt=0)
    west_deg: Longitude
    east_deg: Longitude
    south_deg: Latitude
    north_deg: Latitude
    features: dict[str, int]
    not_for_navigation: bool = True
    notes: list[str] = Field(default_factory=list, max_length=20)


RANGE_COLUMNS = (
    SideColumn(name="transponder", sql="TEXT"),
    SideColumn(name="ship", sql="TEXT"),
    SideColumn(name="latitude_deg", sql="REAL"),
    SideColumn(name="longitude_deg", sql="REAL"),
    SideColumn(name="transducer_depth_m", sql="REAL"),
    SideColumn(name="two_way_s", sql="REAL"),
)

KINDS: tuple[Kind, ...] = (
    Kind(name="transponders.profile", title="sound-speed profile", model=Profile),
    Kind(name="transponders.drop", title="transponder dropped", model=Drop),
    Kind(
        name="transponders.range",
        title="range to a transponder",
        model=RangeReply,
        columns=RANGE_COLUMNS,
    ),
    Kind(name="transponders.between", title="range between transponders", model=BetweenReply),
    Kind(name="transponders.box_in_errors", title="errors of a box-in", model=BoxInErrors),
    Kind(name="transponders.state", title="state of a transponder", model=TransponderState),
    Kind(name="transponders.typed_fix", title="fix by the net", model=TypedFix),
    Kind(name="transponders.sound_source", title="source of sound", model=SoundSource),
    Kind(name="transponders.listener", title="listener", model=Listener),
    Kind(name="transponders.depth_grid", title="depth grid", model=DepthGridRecord),
    Kind(name="transponders.chart_cell", title="chart cell", model=ChartCell),
)
