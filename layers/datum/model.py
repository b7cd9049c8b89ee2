"""What people and feeds report about where she is: the payloads of the datum's records."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import AwareDatetime, Field, field_validator, model_validator

from layers.journal.kinds import Payload

Latitude = Annotated[float, Field(ge=-90.0, le=90.0)]
Longitude = Annotated[float, Field(ge=-180.0, le=180.0)]
Sigma = Annotated[float, Field(gt=0.0, le=500_000.0)]
Chance = Annotated[float, Field(ge=0.0, le=0.9)]
Name = Annotated[str, Field(min_length=1, max_length=200)]
Note = Annotated[str, Field(max_length=2_000)]
DISSUB = "DISSUB"


class Placed(Payload):
    """Something at a place, with the error of that place (one standard deviation per axis)."""

    latitude_deg: Latitude
    longitude_deg: Longitude


class LastKnownPosition(Placed):
    """Last position she was known to be at; valid at the time of the report."""

    sigma_m: Sigma
    reported_by: Name
    note: Note = ""


class Waypoint(Placed):
    """One corner of a track; ``at`` is when it was passed, where that is known."""

    at: AwareDatetime | None = None


class IntendedMovement(Payload):
    """Where she meant to go from the last known position, and when the next report was due.

    Any part of it is a record of its own: course and speed as last heard, the hour a report was
    due, a whole track (``course_true_deg`` with ``length_nmi`` along a rhumb line, or
    ``waypoints``). `layers.datum.before.movement` puts the parts together, the newest of each.
    """

    course_true_deg: float | None = Field(default=None, ge=0.0, lt=360.0)
    length_nmi: float | None = Field(default=None, gt=0.0, le=3_000.0)
    waypoints: tuple[Waypoint, ...] = ()
    speed_min_kn: float | None = Field(default=None, gt=0.0, le=60.0)
    speed_max_kn: float | None = Field(default=None, gt=0.0, le=60.0)
    report_due: AwareDatetime | None = None
    navigation_sigma_nmi_per_h: float = Field(default=0.25, ge=0.0, le=10.0)
    off_track_chance: Chance = 0.05
    greatest_speed_kn: float = Field(default=15.0, gt=0.0, le=60.0)
    note: Note = ""

    @model_validator(mode="after")
    def _something(self) -> Self:
        parts = (
            self.course_true_deg, self.length_nmi, self.waypoints or None, self.speed_min_kn,
            self.speed_max_kn, self.report_due,
        )  # fmt: skip
        if all(part is None for part in parts):
            raise ValueError("nothing was told of where she meant to go; one part is enough")
        low, high = self.speed_min_kn, self.speed_max_kn
        if low is not None and high is not None and low > high:
            raise ValueError(f"the least speed, {low:g} kn, is above the greatest, {high:g} kn")
        return self


class Observed(Placed):
    """Something an observer measured; the position is the observer's.

    ``she_was`` says whether she lay on the bottom or was under way when it was measured: the one
    was after her loss, the other before. Tapping, a pinger or a beacon (``by``) say it too.
    """

    observer: Name
    position_sigma_m: float = Field(default=100.0, ge=0.0, le=50_000.0)
    object: Name = DISSUB
    chance_wrong: Chance = 0.2
    she_was: Literal["not said", "on the bottom", "under way"] = "not said"
    by: Note = ""
    note: Note = ""


class Bearing(Observed):
    """A direction to the object, its sense declared; converted to true with the date's variation.

    ``deviation_deg`` and ``gyro_error_deg`` are east (clockwise) positive and are added. A
    relative bearing needs ``heading_deg`` and its sense. A range may come with it, or a
    depression below the horizontal from ``observer_depth_m``: where the profile bends the sound
    down to the bottom, or to ``object_depth_m``, is a range too.
    ``compass_sigma_deg`` is the part of ``sigma_deg`` that is the same in all bearings by that
    compass; where it is not told, it is judged by how the observer's bearings scatter.
    """

    bearing_deg: float
    sense: Literal["true", "magnetic", "grid", "relative"]
    sigma_deg: float = Field(gt=0.0, le=90.0)
    compass_sigma_deg: float | None = Field(default=None, ge=0.0, le=90.0)
    heading_deg: float | None = None
    heading_sense: Literal["true", "magnetic"] = "true"
    deviation_deg: float = Field(default=0.0, ge=-60.0, le=60.0)
    gyro_error_deg: float = Field(default=0.0, ge=-60.0, le=60.0)
    grid_convergence_deg: float | None = Field(default=None, ge=-180.0, le=180.0)
    range_m: float | None = Field(default=None, gt=0.0, le=2_000_000.0)
    range_sigma_m: float | None = Field(default=None, gt=0.0, le=500_000.0)
    depression_deg: float | None = Field(default=None, gt=0.0, le=90.0)
    depression_sigma_deg: float = Field(default=1.0, gt=0.0, le=30.0)
    observer_depth_m: float = Field(default=5.0, ge=0.0, le=11_000.0)
    object_depth_m: float | None = Field(default=None, ge=0.0, le=11_000.0)

    @field_validator("bearing_deg", "heading_deg")
    @classmethod
    def _round_the_compass(cls, angle_deg: float | None) -> float | None:
        if angle_deg is not None and not 0.0 <= angle_deg <= 360.0:
            raise ValueError(f"{angle_deg:g}° is not a direction; accepted: 0 to 360 degrees")
        return None if angle_deg is None else angle_deg % 360.0

    @model_validator(mode="after")
    def _sense_complete(self) -> Self:
        if self.sense == "relative" and self.heading_deg is None:
            raise ValueError("a relative bearing needs the observer's heading_deg at that time")
        if self.sense == "grid" and self.grid_convergence_deg is None:
            raise ValueError("a grid bearing needs grid_convergence_deg of the grid it was read on")
        if (self.range_m is None) != (self.range_sigma_m is None):
            raise ValueError("a range with a bearing needs range_sigma_m, and the other way round")
        if self.range_m is not None and self.depression_deg is not None:
            raise ValueError("give a range or a depression with a bearing, not both: record two")
        return self


class Range(Observed):
    """A distance through the water: a slant range, or the time the sound took.

    Give ``slant_range_m`` and ``sigma_m``, or ``travel_time_s`` and ``sigma_s`` with ``way``:
    "two-way" is an interrogation and has ``turn_round_s`` taken off.
    """

    slant_range_m: float | None = None
    sigma_m: float | None = Field(default=None, gt=0.0, le=500_000.0)
    travel_time_s: float | None = None
    sigma_s: float | None = Field(default=None, gt=0.0, le=600.0)
    way: Literal["one-way", "two-way"] = "two-way"
    turn_round_s: float = Field(default=0.0, ge=0.0, le=60.0)
    observer_depth_m: float = Field(default=5.0, ge=0.0, le=11_000.0)
    object_depth_m: float | None = Field(default=None, ge=0.0, le=11_000.0)
    paths: tuple[Literal["direct", "surface bounce", "bottom bounce"], ...] = ("direct",)
    water_depth_m: float | None = Field(default=None, gt=0.0, le=11_000.0)

    @field_validator("slant_range_m", "travel_time_s")
    @classmethod
    def _more_than_nothing(cls, value: float | None) -> float | None:
        if value is not None and value <= 0.0:
            raise ValueError(f"a range of {value:g} is not a range; accepted: more than 0")
        return value

    @model_validator(mode="after")
    def _measured_somehow(self) -> Self:
        by_length = self.slant_range_m is not None and self.sigma_m is not None
        by_time = self.travel_time_s is not None and self.sigma_s is not None
        if by_length == by_time:
            raise ValueError("give slant_range_m with sigma_m, or travel_time_s with sigma_s")
        two_way_s = self.travel_time_s if self.way == "two-way" else None
        if two_way_s is not None and two_way_s <= self.turn_round_s:
            raise ValueError(
                f"travel_time_s {two_way_s:g} s is not longer than the turn-round "
                f"of {self.turn_round_s:g} s"
            )
        if not self.paths:
            raise ValueError("paths names no path; accepted: direct, surface bounce, bottom bounce")
        if "bottom bounce" in self.paths and self.water_depth_m is None:
            raise ValueError("a bottom bounce needs water_depth_m")
        return self


class TimeDifference(Observed):
    """How much earlier a sound reached the observer than a second place (hyperbolic)."""

    second_latitude_deg: Latitude
    second_longitude_deg: Longitude
    earlier_by_s: float = Field(ge=-3_600.0, le=3_600.0)
    sigma_s: float = Field(gt=0.0, le=600.0)

    @model_validator(mode="after")
    def _two_places(self) -> Self:
        if (self.latitude_deg, self.longitude_deg) == (
            self.second_latitude_deg,
            self.second_longitude_deg,
        ):
            raise ValueError("a time difference needs two places; both are the same point")
        return self


class Sighting(Placed):
    """Something seen on the surface that has drifted since she was lost.

    ``leak`` says how it bears on her: "released" left her once, between the loss and the
    sighting, within an hour of the loss with ``at_loss_chance``; "up-drift end" is the end of a
    slick where oil still rises, or last rose. Leeway is taken from the table by
    ``object_type``, or given in percent of the wind with its source.
    """

    what: Name
    object_type: Name
    sigma_m: Sigma
    observer: Name
    leak: Literal["released", "up-drift end", "not of her"] = "released"
    released_from: AwareDatetime | None = None
    released_to: AwareDatetime | None = None
    still_rising_chance: Chance = 0.0
    at_loss_chance: float = Field(default=0.5, ge=0.0, le=1.0)
    object: Name | None = None
    leeway_percent: float | None = Field(default=None, ge=0.0, le=20.0)
    leeway_sigma_percent: float = Field(default=0.5, ge=0.0, le=20.0)
    leeway_source: Note = ""
    chance_wrong: Chance = 0.05
    persons: int | None = Field(default=None, ge=0, le=1_000)
    note: Note = ""

    @model_validator(mode="after")
    def _leeway_has_a_source(self) -> Self:
        if self.leeway_percent is not None and not self.leeway_source:
            raise ValueError("leeway_percent needs leeway_source: who says so")
        return self


class Heard(Observed):
    """Hull tapping or underwater telephone heard: she is within earshot, fading beyond it."""

    within_m: float = Field(gt=0.0, le=500_000.0)
    fades_over_m: float | None = Field(default=None, gt=0.0, le=500_000.0)


class NotHeard(Observed):
    """Listened and nothing heard: telephone, hydrophone, pinger search; valid at its end.

    ``within_m`` is how far it would have been heard; without it the range worked out from the
    water, the noise and the source is taken (``by`` names it: "pinger"). ``sounding_chance``
    that she makes that sound at all.
    """

    within_m: float | None = Field(default=None, gt=0.0, le=500_000.0)
    fades_over_m: float | None = Field(default=None, gt=0.0, le=500_000.0)
    sounding_chance: float = Field(default=0.5, ge=0.0, le=0.99)
    started_at: AwareDatetime


class LossTime(Payload):
    """What fixes when she was lost: a bang, a last signal, a consort's missed report.

    ``earliest`` alone: she was still well then. ``latest`` alone: she was lost by then. Both: she
    was lost between them. ``sigma_s`` is the doubt of either time.
    """

    what: Name
    observer: Name
    earliest: AwareDatetime | None = None
    latest: AwareDatetime | None = None
    sigma_s: float = Field(default=60.0, ge=0.0, le=86_400.0)
    chance_wrong: Chance = 0.05
    note: Note = ""

    @model_validator(mode="after")
    def _some_time(self) -> Self:
        if self.earliest is None and self.latest is None:
            raise ValueError("a time of loss needs earliest, latest, or both")
        if self.earliest is not None and self.latest is not None and self.earliest > self.latest:
            raise ValueError("the earliest time of loss is after the latest")
        return self

    def words(self) -> str:
        """Return what it says of the time."""
        if self.latest is None:
            return f"still well at {self.earliest:%d %H%M}Z"
        if self.earliest is None:
            return f"lost by {self.latest:%d %H%M}Z"
        return f"lost between {self.earliest:%d %H%M}Z and {self.latest:%d %H%M}Z"


class WrongChances(Payload):
    """What a grade means: the chance that a report of such a source is wrong, and its factors.

    Reliability A to E give the chance, credibility 1 to 5 multiply it. Common practice, no
    source, until the watch sets its own.
    """

    reliability_a: Chance = 0.03
    reliability_b: Chance = 0.07
    reliability_c: Chance = 0.15
    reliability_d: Chance = 0.35
    reliability_e: Chance = 0.6
    credibility_1: float = Field(default=0.3, ge=0.0, le=20.0)
    credibility_2: float = Field(default=0.6, ge=0.0, le=20.0)
    credibility_3: float = Field(default=1.0, ge=0.0, le=20.0)
    credibility_4: float = Field(default=2.5, ge=0.0, le=20.0)
    credibility_5: float = Field(default=6.0, ge=0.0, le=20.0)
    reason: Note = ""


class DepthLimits(Payload):
    """Water too shallow or too deep for her to lie in."""

    shallowest_m: float = Field(ge=0.0, le=11_000.0)
    deepest_m: float = Field(gt=0.0, le=11_000.0)
    reason: Note = ""
