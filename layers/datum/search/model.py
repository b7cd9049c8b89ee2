"""Records of the search itself: what was searched, found, sent, and what she is looked for with."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import AwareDatetime, Field, field_validator, model_validator

from layers.datum.model import DISSUB, Name, Note, Placed, Sigma, Waypoint
from layers.journal.kinds import Payload

FLIES_KN = 60.0  # no ship searches so fast


class NegativeSearch(Payload):
    """A search that saw nothing; valid at its end.

    By what was actually steered (``waypoints``), or as it is told by voice: an ``area`` (two
    opposite corners, three or more in order, or one middle with ``radius_m``) and the track
    spacing.
    """

    searcher: Name
    waypoints: tuple[Waypoint, ...] = Field(default=(), max_length=5_000)
    area: tuple[Waypoint, ...] = Field(default=(), max_length=100)
    radius_m: float | None = Field(default=None, gt=0.0, le=500_000.0)
    spacing_m: float | None = Field(default=None, gt=0.0, le=200_000.0)
    sweep_width_m: float = Field(gt=0.0, le=200_000.0)
    pod_curve: Literal["inverse cube", "random", "definite range"] = "inverse cube"
    object: Name = DISSUB
    started_at: AwareDatetime
    cut_short: bool = False
    sensor: Note = ""
    note: Note = ""

    @model_validator(mode="after")
    def _somewhere(self) -> Self:
        if self.waypoints and self.area:
            raise ValueError("give the track steered or the area, not both")
        if not self.area and len(self.waypoints) < 2:
            raise ValueError("a track needs at least 2 waypoints; or give an area and its spacing")
        if self.area and self.spacing_m is None:
            raise ValueError("an area needs spacing_m: how far apart its tracks were")
        if len(self.area) == 1 and self.radius_m is None:
            raise ValueError("an area of one point needs radius_m; a box needs two corners")
        return self


class SearchSent(Payload):
    """A search plan that was sent to a searcher; valid at the time it begins.

    ``pos`` is what these very legs were worth when they were sent, 0 to 1; ``searching`` says
    leg by leg whether it searches (lanes have turns between), none: all do.
    """

    searcher: Name
    object: Name = DISSUB
    pattern: Name
    waypoints: tuple[Waypoint, ...] = Field(min_length=2, max_length=5_000)
    sweep_width_m: float = Field(gt=0.0, le=200_000.0)
    spacing_m: float = Field(ge=0.0, le=200_000.0)
    speed_kn: float = Field(gt=0.0, le=500.0)
    pos: float = Field(ge=0.0, le=1.0)
    searching: tuple[bool, ...] = ()
    height_m: float | None = Field(default=None, gt=0.0, le=20_000.0)
    sensor: Note = ""
    note: Note = ""


class Wreck(Placed):
    """A charted wreck or other known object on the bottom that may be taken for her."""

    name: Name
    length_m: float | None = Field(default=None, gt=0.0, le=1_000.0)
    depth_m: float | None = Field(default=None, ge=0.0, le=11_000.0)
    source: Name
    ruled_out: bool = False
    ruled_out_radius_m: float = Field(default=300.0, gt=0.0, le=20_000.0)
    note: Note = ""


class Contact(Placed):
    """Something found on the bottom; she, something else, or not yet known."""

    observer: Name
    sigma_m: Sigma
    length_m: float | None = Field(default=None, gt=0.0, le=1_000.0)
    form: Literal["hull", "broken", "unclear", "natural"] = "unclear"
    identified: Literal["not identified", "DISSUB", "not the DISSUB"] = "not identified"
    chance_dissub: float = Field(default=0.3, gt=0.0, lt=1.0)
    depth_m: float | None = Field(default=None, ge=0.0, le=11_000.0)
    by: Note = ""
    note: Note = ""


class Weighting(Payload):
    """How much one piece of evidence counts: 1 full, 0 suspended, with the reason."""

    target: str = Field(pattern=r"^[0-9a-f]{32}$")
    weight: float = Field(ge=0.0, le=1.0)
    reason: str = Field(min_length=1, max_length=2_000)


class SearchObject(Payload):
    """An object of search beside the DISSUB: a group of escapees, a raft, a buoy."""

    name: Name
    object_type: Name
    persons: int | None = Field(default=None, ge=0, le=1_000)
    still_sought: bool = True
    split_from: str = Field(default="", max_length=120)  # what it was part of until now
    left_dissub_from: AwareDatetime | None = None
    left_dissub_to: AwareDatetime | None = None
    leeway_percent: float | None = Field(default=None, ge=0.0, le=20.0)
    leeway_source: Note = ""
    note: Note = ""


class LocalisationLimit(Payload):
    """How small the 95 % circle must be before the rescue vehicle takes over the search."""

    across_nmi: float = Field(gt=0.0, le=100.0)
    reason: Note = ""


class Searcher(Placed):
    """Who can search, from where, how fast and for how long.

    ``crew_hours_h`` is how long her people can go on before they must rest, where that is less
    than the endurance. Aircraft are kept apart in height; what searches at `FLIES_KN` or more is
    one, told or not. What is towed turns on ``turn_radius_m``, with ``run_in_m`` before a lane.
    """

    name: Name
    object: Name = DISSUB
    search_speed_kn: float = Field(gt=0.0, le=500.0)
    transit_speed_kn: float = Field(gt=0.0, le=500.0)
    sweep_width_m: float = Field(gt=0.0, le=200_000.0)
    endurance_h: float
    ready_at: AwareDatetime
    crew_hours_h: float | None = Field(default=None, gt=0.0, le=2_000.0)
    aircraft: bool = False
    turn_radius_m: float | None = Field(default=None, gt=0.0, le=5_000.0)
    run_in_m: float = Field(default=0.0, ge=0.0, le=5_000.0)
    sensor: Note = ""
    note: Note = ""

    @field_validator("endurance_h")
    @classmethod
    def _some_endurance(cls, hours: float) -> float:
        if not 0.0 < hours <= 2_000.0:
            raise ValueError(
                f"a searcher with {hours:g} h of endurance cannot search; accepted: more than 0 h"
            )
        return hours

    @property
    def flies(self) -> bool:
        """Whether it is an aircraft."""
        return self.aircraft or self.search_speed_kn >= FLIES_KN

    @property
    def hours_h(self) -> float:
        """Hours there are: of the craft, or of her people where theirs are fewer."""
        return min(self.endurance_h, self.crew_hours_h or self.endurance_h)
