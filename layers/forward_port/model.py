"""What the forward port layer records: ports, roads, loads, ships, the chain and the choice.

Every figure that may not be known is ``None`` until somebody says it; nothing is filled in.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Literal, Self

from pydantic import AwareDatetime, Field, model_validator

from layers.forward_port.ports.table_model import (
    LONGEST_RUNWAY_M,
    PORT_COLUMNS,
    RUNWAY_COLUMNS,
    Runway,
    WorldPort,
)
from layers.forward_port.ports.tide_model import TideConstants, TideDifferences
from layers.forward_port.refusing import (
    refuse_a_circle,
    refuse_a_way_to_nowhere,
    refuse_what_has_not_come,
)
from layers.journal.kinds import Kind, Payload, SideColumn

Name = Field(min_length=1, max_length=120)
Latitude = Field(ge=-90, le=90)
Longitude = Field(ge=-180, le=180)
Basis = Literal["surveyed", "reported", "assumed"]  # how a figure came to be known


class Port(Payload):
    """A candidate port."""

    name: str = Name
    latitude_deg: float = Latitude
    longitude_deg: float = Longitude
    channel_depth_m: float | None = Field(default=None, gt=0, le=100)  # below chart datum
    overhead_m: float | None = Field(default=None, gt=0, le=200)  # least clear height on the way
    nothing_overhead: bool = False  # no bridge or cable spans the way in
    basis: Basis = "reported"


class Airfield(Payload):
    """The airfield that serves a port."""

    name: str = Name
    latitude_deg: float = Latitude
    longitude_deg: float = Longitude
    runway_length_m: float | None = Field(default=None, gt=0, le=LONGEST_RUNWAY_M)
    runway_width_m: float | None = Field(default=None, gt=0, le=200)
    surface: str = Field(default="", max_length=60)  # "asphalt", "concrete", "grass"
    bearing_t: float | None = Field(default=None, gt=0, le=700)  # heaviest aircraft it carries
    elevation_m: float | None = Field(default=None, ge=-430, le=5000)
    hottest_c: float | None = Field(default=None, ge=-60, le=60)  # at the hour of use
    basis: Basis = "reported"


class CraneReach(Payload):
    """What a crane lifts at one outreach."""

    outreach_m: float = Field(gt=0, le=150)
    capacity_t: float = Field(gt=0, le=20_000)


class Crane(Payload):
    """A crane; ``reach`` empty or ``largest_t`` alone says nothing about an outreach.

    ``berth`` is where it stands, empty where nobody has said. ``rigging_t`` is hook block,
    slings and spreader; ``dynamic_factor`` multiplies the whole for the motion of the lift.
    """

    port: str = Name
    name: str = Name
    berth: str = Field(default="", max_length=120)
    rigging_t: float | None = Field(default=None, ge=0, le=2_000)
    dynamic_factor: float | None = Field(default=None, ge=1, le=3)
    basis: Basis = "reported"
    largest_t: float | None = Field(default=None, gt=0, le=20_000)
    reach: tuple[CraneReach, ...] = ()


class Berth(Payload):
    """A berth; depth below chart datum, where the tide heights start from."""

    port: str = Name
    name: str = Name
    length_m: float | None = Field(default=None, gt=0, le=5000)
    depth_m: float | None = Field(default=None, gt=-20, le=60)
    strength_t_m2: float | None = Field(default=None, gt=0, le=200)
    basis: Basis = "reported"


class TideTurn(Payload):
    """One high or low water."""

    at: AwareDatetime
    height_m: float = Field(ge=-5, le=20)


class Tide(Payload):
    """High and low waters of a port, above chart datum, in order of time."""

    port: str = Name
    turns: tuple[TideTurn, ...] = Field(min_length=2)

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        times = [turn.at for turn in self.turns]
        if any(b <= a for a, b in pairwise(times)):
            raise ValueError("high and low waters must follow each other in time")
        return self


class Road(Payload):
    """A road leg between an airfield and a port, at its worst place of each kind."""

    name: str = Name
    airfield: str = Name
    port: str = Name
    length_km: float = Field(gt=0, le=2000)
    speed_km_h: float | None = Field(default=None, gt=0, le=120)
    width_m: float | None = Field(default=None, gt=0, le=100)
    overhead_m: float | None = Field(default=None, gt=0, le=100)
    bridge_t: float | None = Field(default=None, gt=0, le=2000)
    corner_radius_m: float | None = Field(default=None, gt=0, le=500)
    corner_width_m: float | None = Field(default=None, gt=0, le=100)
    points: tuple[tuple[float, float], ...] = ()
    basis: Basis = "reported"


class Piece(Payload):
    """One piece of the load list."""

    name: str = Name
    length_m: float = Field(gt=0, le=60)
    width_m: float = Field(gt=0, le=20)
    height_m: float = Field(gt=0, le=20)
    mass_t: float = Field(gt=0, le=500)
    load: int = Field(ge=1, le=40)  # which aircraft load: pieces of one load stay together


class RunwayNeed(Payload):
    """The runway that an aircraft needs at one payload."""

    payload_t: float = Field(ge=0, le=300)
    length_m: float = Field(gt=0, le=LONGEST_RUNWAY_M)


class Aircraft(Payload):
    """An aircraft type, as its operator gives it."""

    name: str = Name
    hold_length_m: float = Field(gt=0, le=60)
    hold_width_m: float = Field(gt=0, le=12)
    hold_height_m: float = Field(gt=0, le=12)
    payload_t: float = Field(gt=0, le=300)
    runway: tuple[RunwayNeed, ...] = ()
    runway_width_m: float | None = Field(default=None, gt=0, le=100)
    soft_ground: bool | None = None  # may use grass and gravel; None: nobody has said
    greatest_mass_t: float | None = Field(default=None, gt=0, le=700)
    cruise_kn: float | None = Field(default=None, gt=0, le=700)


class Trailer(Payload):
    """A road train: tractor and low-loader."""

    name: str = Name
    bed_height_m: float = Field(gt=0, le=3)
    mass_t: float = Field(gt=0, le=300)
    tractor_wheelbase_m: float = Field(gt=0, le=15)
    trailer_wheelbase_m: float = Field(gt=0, le=40)  # kingpin to the middle of its axles
    width_m: float = Field(gt=0, le=8)


class CandidateShip(Payload):
    """A ship that may carry the rescue vehicle."""

    name: str = Name
    length_m: float = Field(gt=0, le=500)
    draught_m: float = Field(gt=0, le=30)
    deck_length_m: float | None = Field(default=None, gt=0, le=300)
    deck_width_m: float | None = Field(default=None, gt=0, le=80)
    deck_strength_t_m2: float | None = Field(default=None, gt=0, le=100)
    deck_load_t: float | None = Field(default=None, gt=0, le=100_000)  # all of it together
    air_draught_m: float | None = Field(default=None, gt=0, le=120)
    outreach_m: float | None = Field(default=None, gt=0, le=100)  # crane to the stow, alongside
    under_keel_m: float = Field(default=0.5, ge=0, le=10)  # wanted under her
    speed_kn: float | None = Field(default=None, gt=0, le=60)
    displacement_t: float | None = Field(default=None, gt=0, le=600_000)
    block_coefficient: float = Field(default=0.65, ge=0.4, le=0.95)
    waterline_m: float | None = Field(default=None, gt=0, le=500)


class LegPoint(Payload):
    """One point of a leg."""

    latitude_deg: float = Latitude
    longitude_deg: float = Longitude
    name: str = ""


class RoadLeg(Payload):
    """A flight, a road leg or a passage.

    ``points`` are its places in order. A passage with ``network`` goes over a general marine
    network between the first and last; with ``route`` it takes the route of that name; with
    ``ship`` it starts where that ship last was when she is on her way. With ``to_datum`` it ends
    at the datum, wherever that moves, and ``sails_at`` is when it begins: such a leg, in no chain
    yet, is a way of its own.
    """

    key: str = Name
    mode: Literal["flight", "road", "sea"]
    points: tuple[LegPoint, ...] = ()
    network: bool = False
    route: str = ""
    ship: str = ""
    road: str = ""
    speed_kn: float | None = Field(default=None, gt=0, le=900)
    wind_from_true_deg: float | None = Field(default=None, ge=0, lt=360)
    wind_kn: float | None = Field(default=None, ge=0, le=300)
    stop_h: float = Field(default=0.0, ge=0, le=72)  # on the ground on the way
    to_datum: bool = False
    sails_at: AwareDatetime | None = None


class Option(Payload):
    """One way to do it: a port, an airfield, a ship; or the chain home, or to hospital.

    *Arrival*: nothing but when a ship is there, as long as no chain is entered.
    """

    key: str = Name
    title: str = Name
    purpose: Literal["rescue", "return", "hospital", "arrival"] = "rescue"
    port: str = ""
    berth: str = ""
    airfield: str = ""
    ship: str = ""
    aircraft: str = ""
    trailer: str = ""
    zero: AwareDatetime  # the chain's clock starts here
    zero_is: str = "SUBMISS"
    sight: str = ""  # the activity that ends with the first sight of her
    ready: str = ""  # the activity after which the vehicle is ready to dive at the scene
    last: str = Name  # the activity that ends it: the first survivor out
    alongside: str = ""  # the activity at whose end she lies at her berth
    alongside_from: AwareDatetime | None = None  # counts where the chain does not say
    alongside_h: float = Field(default=12.0, gt=0, le=500)
    backwards_of: str = ""  # the option whose returning activities run the other way


class Activity(Payload):
    """One activity of the chain; its three times in hours, or the leg that gives them."""

    key: str = Name
    title: str = Name
    options: tuple[str, ...] = ()  # empty: every option for the rescue
    after: tuple[str, ...] = ()
    least_h: float | None = Field(default=None, ge=0, le=2000)
    likely_h: float | None = Field(default=None, ge=0, le=2000)
    most_h: float | None = Field(default=None, ge=0, le=2000)
    leg: str = ""
    leg_least: float = Field(default=0.95, gt=0, le=1)  # times the leg's computed time
    leg_most: float = Field(default=1.25, ge=1, le=5)
    resource: str = ""
    capacity: int = Field(default=1, ge=1, le=100)  # how many can use the resource at once
    priority: int = Field(default=0, ge=-100, le=100)  # of two that wait for it the greater goes
    cause: str = Field(default="", max_length=60)  # what makes it long or short, with others
    not_before: AwareDatetime | None = None
    daylight: bool = False
    hs_max_m: float | None = Field(default=None, gt=0, le=20)
    wind_max_kn: float | None = Field(default=None, gt=0, le=200)
    tide_min_m: float | None = Field(default=None, ge=-5, le=20)  # height at the option's port
    at_port: bool = False  # sea and wind are those of the option's port, not of the scene
    returns: bool = False

    @model_validator(mode="after")
    def _three_times_in_order(self) -> Self:
        times = (self.least_h, self.likely_h, self.most_h)
        given = [time for time in times if time is not None]
        if 0 < len(given) < 3:
            raise ValueError(f"{self.key}: give all three times, or none for not known")
        if given and not given[0] <= given[1] <= given[2]:
            raise ValueError(
                f"{self.key}: least {given[0]:g} h, likely {given[1]:g} h, most {given[2]:g} h are "
                "out of order; accepted: least <= likely <= most"
            )
        if given and self.leg:
            raise ValueError(f"{self.key}: either three times or a leg, not both")
        return self


class Actual(Payload):
    """When an activity did start or finish; replaces its estimate."""

    activity: str = Name
    option: str = ""  # empty: in every option that has it
    started_at: AwareDatetime | None = None
    finished_at: AwareDatetime | None = None

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if self.started_at is None and self.finished_at is None:
            raise ValueError(f"{self.activity}: give a start, a finish or both")
        if self.started_at and self.finished_at and self.finished_at < self.started_at:
            raise ValueError(f"{self.activity}: finished before it started")
        return self


class Choice(Payload):
    """The option decided on, and why."""

    option: str = Name
    reason: str = Field(min_length=1, max_length=2000)


class Clearance(Payload):
    """Where a clearance stands: overflight, customs, the host nation's agent, escorts."""

    activity: str = Name
    state: Literal["asked", "given", "refused"]
    at: AwareDatetime
    by: str = Field(default="", max_length=120)


def _kind(
    name: str, title: str, model: type[Payload], columns: tuple[SideColumn, ...] = ()
) -> Kind:
    return Kind(name=f"forward_port.{name}", title=title, model=model, columns=columns)


KINDS: tuple[Kind, ...] = (
    _kind("wpi", "port of the World Port Index", WorldPort, PORT_COLUMNS),
    _kind("runway", "runway", Runway, RUNWAY_COLUMNS),
    _kind("port", "candidate port", Port),
    _kind("airfield", "airfield", Airfield),
    _kind("crane", "crane", Crane),
    _kind("berth", "berth", Berth),
    _kind("tide", "high and low waters", Tide),
    _kind("tide_constants", "harmonic constants of the tide", TideConstants),
    _kind("tide_differences", "tide by differences on a standard port", TideDifferences),
    _kind("road", "road leg", Road),
    _kind("piece", "piece of the load list", Piece),
    _kind("aircraft", "aircraft type", Aircraft),
    _kind("trailer", "road train", Trailer),
    _kind("ship", "ship's deck and draught", CandidateShip),
    Kind(name="forward_port.leg", title="leg", model=RoadLeg, refuse=refuse_a_way_to_nowhere),
    _kind("option", "option", Option),
    Kind(name="forward_port.activity", title="activity", model=Activity, refuse=refuse_a_circle),
    Kind(
        name="forward_port.actual",
        title="actual time",
        model=Actual,
        refuse=refuse_what_has_not_come,
    ),
    _kind("choice", "choice", Choice),
    _kind("clearance", "clearance", Clearance),
)
