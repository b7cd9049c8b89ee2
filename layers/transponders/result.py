"""What the layer works out: the water, the net, the fixes, what can be heard, the seabed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats
from layers.earth.position import Position
from layers.earth.values import Ellipse, FoundFix, PlacedVehicle
from layers.transponders.hull import Hull
from layers.transponders.model import Drop
from layers.transponders.net.track import Track
from layers.transponders.seabed.seabed import SeabedShown
from layers.transponders.sound.covered import Covered
from layers.transponders.sound.hearing import Hearing, WaterColumn
from layers.transponders.sound.raying import RayPicture
from layers.transponders.sound.terrain import SoundGround
from layers.transponders.sound.water import Shape, Water


@dataclass(frozen=True, slots=True, kw_only=True)
class SunkPlace:
    """Where a transponder should lie: its release carried off by the stream while it sinks."""

    position: Position
    sigma_m: float
    sink_s: float
    carried_m: float
    carried_true_deg: float | None
    stream: str  # what stream was used, in words


@dataclass(frozen=True, slots=True, kw_only=True)
class Boxed:
    """Where a transponder was found to lie."""

    position: Position
    depth_m: float
    depth_sigma_m: float
    covariance: Floats  # (3, 3) east, north, depth, m²
    own_covariance: Floats  # (4, 4): without the ship's common error, with the delay's, s
    delay_s: float  # its turn-round delay as solved, beyond what was typed
    ellipse: Ellipse
    used: int
    out: int
    rms_m: float
    off_m: float  # from where it should lie
    off_true_deg: float
    out_of_place: bool  # further off than both errors allow
    other_side: Position | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Transponder:
    """One transponder of the net."""

    name: str
    drop: Drop
    dropped_at: datetime
    expected: SunkPlace
    boxed: Boxed | None
    why_not: str  # why it is not boxed in
    state: str
    last_reply: datetime | None
    battery_h_left: float | None
    battery_percent: float | None
    stale: bool
    disputed: bool
    records: tuple[str, ...]
    moved: str = ""  # that it was moved after its first replies, in words

    @property
    def position(self) -> Position:
        """Where it is taken to lie."""
        return self.boxed.position if self.boxed else self.expected.position

    @property
    def depth_m(self) -> float:
        """How deep it is taken to lie."""
        return self.boxed.depth_m if self.boxed else self.drop.water_depth_m

    @property
    def answers(self) -> bool:
        """Whether it can be used."""
        return self.state in {"answers", "weak"}


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxIn:
    """The box-in as a whole, with what each reply says, for its figure."""

    scale: float
    scale_sigma: float
    sigma_m: float
    used: int
    out: int
    reply_name: tuple[str, ...]
    reply_at_us: npt.NDArray[np.int64]
    reply_residual_m: Floats
    reply_used: npt.NDArray[np.bool_]
    straight_error_m: float | None  # of assuming straight rays at the harmonic mean
    lever_m: tuple[float, float]  # antenna to transducer as solved, forward and right
    delay_s: tuple[float, ...]  # of each turn-round delay as solved, beyond what was typed
    told: tuple[str, ...]  # which of the shared errors the replies say something of
    between: tuple[tuple[str, str, float, bool], ...]  # asks, answers, residual m, used
    priors: tuple[tuple[str, float, str], ...]  # of each shared error beforehand: 1σ, unit, told?
    records: tuple[str, ...]  # of the ranges between transponders and of the errors told


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """The range between two transponders along the seabed."""

    one: str
    other: str
    range_m: float
    sigma_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixed:
    """A place found from the net, the ship, or both."""

    subject: str
    is_dissub: bool
    at: datetime
    position: Position
    depth_m: float
    depth_sigma_m: float
    ellipse: Ellipse
    good_to_m: float  # radius of the circle that holds 95 %
    lines: tuple[tuple[str, float, str], ...]  # name, residual, unit
    agrees: bool
    suspect: str | None
    without: Position | None  # the place without the suspect
    second: Position | None
    stale: bool
    disputed: bool
    records: tuple[str, ...]
    heard_at: datetime
    source: str

    def handed(self) -> FoundFix:
        """Return what other layers get of it."""
        return FoundFix(
            position=self.position,
            ellipse_95=self.ellipse,
            depth_m=self.depth_m,
            at=self.at,
            heard_at=self.heard_at,
            source=self.source,
            lines=len(self.lines),
            agrees=self.agrees,
            disputed=self.disputed,
            records=self.records,
            second=self.second,
        )

    def placed(self) -> PlacedVehicle:
        """Return what other layers get of a vehicle's."""
        return PlacedVehicle(
            subject=self.subject,
            position=self.position,
            good_to_m=self.good_to_m,
            depth_m=self.depth_m,
            depth_sigma_m=self.depth_sigma_m,
            at=self.at,
            record=self.records[0],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Geometry:
    """How well the net fixes a place, over the working area."""

    latitudes_deg: Floats  # (ny + 1, nx + 1) corners
    longitudes_deg: Floats
    hdop: Floats  # (ny, nx), NaN beyond 10
    depth_m: float
    centre: Position
    best: Position | None  # where one more would help most
    mean_before: float
    mean_after: float
    area_radius_m: float
    records: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundsFrom:
    """Where one source is, and how far direct sound comes from there over the ground."""

    centre: Position | None
    depth_m: float | None  # None: not known, rays leave from near the seabed
    around: SoundGround | None  # the seabed round it; None without a place or a profile
    reach_m: Floats | None  # how far direct sound comes over it, by its directions


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardSources:
    """How far each source of sound is heard, and the ray diagram from it."""

    rows: tuple[Hearing, ...]
    places: tuple[SoundsFrom, ...]  # of each row
    sea: WaterColumn
    rays: RayPicture | None
    missing: tuple[tuple[str, str], ...]  # a source nobody has given values for, and what to do
    covered: Covered  # what each listener would have heard, wherever she lies
    records: tuple[str, ...]
    profiles: int = 0  # through which the rays over the ground go; the diagram is of one


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """Everything the layer has to show at one moment."""

    at: datetime
    water: Water | None
    shape: Shape | None
    transponders: tuple[Transponder, ...]
    boxin: BoxIn | None
    impossible: dict[str, int]  # reason → replies set aside before the box-in
    baselines: tuple[Baseline, ...]
    fixes: tuple[Fixed, ...]  # the latest of each subject
    paths: dict[str, tuple[Fixed, ...]]  # of each vehicle its newest fixes, oldest first
    tracks: dict[str, Track]  # the same smoothed, with what does not fit, and where it is now
    hull: Hull | None  # how she lies, as far as it was told
    geometry: Geometry | None
    heard: HeardSources
    seabed: SeabedShown
    notes: tuple[str, ...]
    rests_on: tuple[str, ...]
