"""What one layer hands to another, wired by ``layers/picture.py``.

Layers never import each other. What a layer needs of another arrives as one of these values,
under the other layer's key, or as ``None`` when that layer has nothing or failed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field as held
from datetime import datetime
from typing import Protocol

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats, Ints
from layers.earth.block import Block
from layers.earth.position import Position


class HandedOn:
    """The base of every value that one layer hands to another: no list of them is kept."""

    __slots__ = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """Wind, current and waves at many places and times; NaN where not known.

    All arrays have shape (n,). The sigmas are one standard deviation per component.
    """

    wind_east_m_s: Floats  # the 10 m wind blows towards east
    wind_north_m_s: Floats
    wind_sigma_m_s: Floats
    current_east_m_s: Floats  # the current sets towards east
    current_north_m_s: Floats
    current_sigma_m_s: Floats
    hs_m: Floats
    hs_sigma_m: Floats
    tp_s: Floats


class ConditionsField(Protocol):
    """Conditions at any place and time."""

    def conditions(self, latitudes_deg: Floats, longitudes_deg: Floats, at_us: Ints) -> Conditions:
        """Return the conditions at ``n`` places and times (UTC microseconds), shape (n,)."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingWindow:
    """A span in which one operation can be done."""

    operation: str
    opens: datetime
    closes: datetime | None  # None: still open at the end of the forecast
    holds_probability: float  # that it holds to its end, 0 to 1
    decide_by: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeaSeries:
    """What is expected at the datum, hour by hour, for windows and for simulation.

    Arrays have shape (n,); NaN where not known. Waves and wind have the forecast's measured bias
    taken out and are pulled to the latest observation; the sigmas are one standard deviation of
    what is left. ``waves_forecast``, ``wind_forecast`` and ``current_forecast`` (at the
    surface; a tidal table is one) are false where it is an observation held on, which says
    nothing of what is to come.
    `layers.earth.sea.draws.sea_draws` draws from it, alike for whoever asks.
    """

    at_us: Ints
    hs_m: Floats
    hs_sigma_m: Floats
    tp_s: Floats
    wind_kn: Floats
    wind_sigma_kn: Floats
    current_surface_kn: Floats
    current_seat_kn: Floats
    visibility_nmi: Floats
    daylight: npt.NDArray[np.bool_]
    tp_sigma_s: Floats | None = None
    current_surface_sigma_kn: Floats | None = None
    current_seat_sigma_kn: Floats | None = None
    visibility_sigma_nmi: Floats | None = None
    waves_forecast: bool = True
    wind_forecast: bool = True
    current_forecast: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherValue(HandedOn):
    """Handed on by the weather layer."""

    field: ConditionsField
    series_at_datum: SeaSeries | None
    windows: tuple[WorkingWindow, ...]
    hs_limits_m: Mapping[str, float] = held(default_factory=dict)  # by operation, as entered
    # the hours ahead at which a whole sortie may begin (True), may not, or nothing is known
    sortie_starts: tuple[tuple[datetime, datetime, bool | None], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundSpeedProfile:
    """Handed on by the transponders layer: sound speed down the water column.

    ``depth_m`` ascends, metres below the surface; ``speed_m_s`` has the same shape (n,).
    """

    depth_m: Floats
    speed_m_s: Floats
    taken_at: datetime
    position: Position | None
    source: str


class DepthGrid(Protocol):
    """Depth of the seabed at any place, from the finest grid that covers it."""

    @property
    def source(self) -> str:
        """Where it comes from."""
        ...

    @property
    def cell_m(self) -> float:
        """The cell of the finest grid."""
        ...

    def depth_m(self, latitudes_deg: Floats, longitudes_deg: Floats) -> Floats:
        """Return depth, metres below the grid's datum, shape (n,); NaN where there is no grid.

        Land is negative.
        """
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Ellipse:
    """A 95 % position ellipse; semi-axes in metres, bearing of the major one in degrees true."""

    semi_major_m: float
    semi_minor_m: float
    bearing_true_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundFix:
    """Where the net, or a ship over it, fixed the DISSUB.

    ``agrees`` says whether its lines fit each other; ``second`` is another place that they
    allow; ``records`` are the ids it rests on, the fix's own first.
    """

    position: Position
    ellipse_95: Ellipse
    depth_m: float
    at: datetime
    heard_at: datetime
    source: str
    lines: int
    agrees: bool
    disputed: bool
    records: tuple[str, ...]
    second: Position | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HearingRange:
    """How well a listener would hear a source, wherever the source is: for "not heard".

    ``range_50_m`` is over ground, cut where direct sound ends; None where the source would not
    be heard at any distance.
    """

    source: str
    listener: str
    listener_depth_m: float
    source_depth_m: float | None
    merit_db: float
    absorption_db_km: float
    fluctuation_db: float
    direct_to_m: float | None
    range_50_m: float | None

    def probability(self, ground_m: Floats) -> Floats:
        """Return the chance of hearing it at distances over ground, shape (n,).

        Excess over the threshold, normal in dB; none beyond where direct sound ends, for what
        comes by way of the seabed is not counted on.
        """
        from scipy.special import ndtr

        source_m = self.listener_depth_m if self.source_depth_m is None else self.source_depth_m
        slant = np.maximum(np.hypot(ground_m, source_m - self.listener_depth_m), 1.0)
        loss = 20.0 * np.log10(slant) + self.absorption_db_km * slant / 1000.0
        found = ndtr((self.merit_db - loss) / self.fluctuation_db)
        if self.direct_to_m is not None:
            found = np.where(ground_m > self.direct_to_m, 0.0, found)
        return np.asarray(found)


class ListenersChance(Protocol):
    """What each listener would have heard of each source, whatever place and hour.

    It needs no place of hers: search asks it for every place where she may lie.
    """

    @property
    def sources(self) -> tuple[str, ...]:
        """Names of what may be heard."""
        ...

    @property
    def listeners(self) -> tuple[str, ...]:
        """Names of who listens."""
        ...

    def would_hear(
        self,
        source: str,
        listener: str,
        place: Position,
        at_us: Ints,
        latitudes_deg: Floats,
        longitudes_deg: Floats,
    ) -> Floats:
        """Return the chance of hearing it from ``place``, shape (hours, n).

        NaN in an hour whose wind nobody knows; `InputError` for a name that is not recorded.
        """
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatOnHull:
    """A rescue seat; ``along_share`` of her length forward of her middle is ours, a convention."""

    name: str
    depth_m: float
    along_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HullLies:
    """How the DISSUB lies on the bottom, None for what nobody has told."""

    length_m: float | None
    beam_m: float | None
    heading_true_deg: float | None
    seats: tuple[SeatOnHull, ...]
    records: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedVehicle:
    """Where the net, or a ship over it, fixed a vehicle; ``good_to_m`` holds 95 %."""

    subject: str
    position: Position
    good_to_m: float
    depth_m: float
    depth_sigma_m: float
    at: datetime
    record: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TranspondersValue(HandedOn):
    """Handed on by the transponders layer."""

    profile: SoundSpeedProfile | None
    depth_grid: DepthGrid | None = None
    hearing: tuple[HearingRange, ...] = ()
    fixes: tuple[FoundFix, ...] = ()  # of the DISSUB
    listening: ListenersChance | None = None  # what a listener would have heard of her, anywhere
    hull: HullLies | None = None
    vehicles: tuple[PlacedVehicle, ...] = ()  # oldest first


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftingGroup:
    """A group or object adrift on the surface, where it is now expected."""

    name: str
    position: Position
    radius_95_m: float
    persons: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DatumValue(HandedOn):
    """Handed on by the datum layer: where the DISSUB most probably is.

    ``where`` is a block where her place is withheld: what rests on it is bounds over the block,
    or withheld, never finer, and says so.
    """

    where: Position | Block
    radius_95_m: float | None
    ellipse_95: Ellipse | None
    is_fix: bool
    depth_m: float | None
    lost_at: datetime | None
    adrift: tuple[DriftingGroup, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShipState:
    """One ship or aircraft, where it was last known and how it moves."""

    name: str
    role: str  # "support ship", "ship of opportunity", "search ship", "aircraft", "other"
    position: Position
    fixed_at: datetime
    course_true_deg: float | None
    speed_kn: float | None
    heading_true_deg: float | None
    stale: bool
    doubt: str = ""  # why the position may not be hers, in words; empty where nothing says so


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOnSurface:
    """The fixes of one ship or vehicle that sends where it is, arrays (n,) in order of time."""

    name: str
    role: str
    at_us: Ints
    latitudes_deg: Floats
    longitudes_deg: Floats
    record: str  # of the last


@dataclass(frozen=True, slots=True, kw_only=True)
class TracksValue(HandedOn):
    """Handed on by the tracks layer; ``ways`` of rescue vehicles and the ships that carry them."""

    ships: tuple[ShipState, ...]
    ways: tuple[WayOnSurface, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ResponseOption:
    """One port and ship combination and when it brings the first survivor out.

    ``ready_us`` are draws, shape (n_draws,), of the time the vehicle is ready to dive at the
    scene; every option uses the same random numbers.
    """

    key: str
    title: str
    ready_us: Ints
    chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ForwardPortValue(HandedOn):
    """Handed on by the forward port layer."""

    options: tuple[ResponseOption, ...]
