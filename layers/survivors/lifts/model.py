"""What is recorded of vehicles, the support ship, chambers, lifts, sorties and decisions."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Literal, Self

from pydantic import Field, model_validator

from layers.journal.kinds import Payload, Text
from layers.survivors.lifts.vehicle import AS_TOLD, Name, untold_number, untold_one

YEAR_S = 366 * 86_400.0
M3_A_PLACE = 1.5  # of a chamber whose volume nobody told; common practice, no source


class Phase(StrEnum):
    """Where a sortie stands; each begins at the record's ``valid_at``."""

    DOWN = "down"
    SEARCH = "search"
    MATE = "mate"
    TRANSFER = "transfer"
    AWAY = "away"
    UP = "up"
    RECOVER = "recover"
    BACK = "back"  # secured on deck, the people in a chamber or on deck
    GIVEN_UP = "given up"  # back on deck with nobody; the lift is still to be done


PHASES = (
    Phase.DOWN,
    Phase.SEARCH,
    Phase.MATE,
    Phase.TRANSFER,
    Phase.AWAY,
    Phase.UP,
    Phase.RECOVER,
)


class SupportShip(Payload):
    """The support ship's stores and people for the chambers.

    ``chamber_attendants`` are those fit to go in, all watches together.
    """

    name: str = Name
    chamber_attendants: int = Field(ge=0, le=500)
    oxygen_m3: float = Field(ge=0.0, le=1e6)  # at the surface
    air_m3: float = Field(ge=0.0, le=1e7)  # at the surface
    source: str = AS_TOLD


class Chamber(Payload):
    """A chamber: places, attendants among them, and from when it can be used.

    ``planned`` false: on the table only. ``state`` other than ready keeps it out of the plan.
    Name and places are enough: one attendant and `M3_A_PLACE` are taken.
    """

    name: str = Name
    ship: str = Field(default="support ship", min_length=1, max_length=80)
    places: int = Field(ge=1, le=500)
    attendants: int = Field(default_factory=untold_one, ge=0, le=20)
    stretcher_places: int = Field(default=1, ge=1, le=10)  # places that one stretcher takes
    volume_m3: float = Field(default_factory=untold_number, gt=0.0, le=5_000.0)
    state: Literal["ready", "fitting out", "out of order"] = "ready"
    available_at: datetime | None = None
    make_ready_min: float = Field(default=0.0, ge=0.0, le=2_880.0)  # between two stays
    working_pressure_bar_abs: float | None = Field(default=None, gt=1.0, le=50.0)
    planned: bool = True
    source: str = AS_TOLD

    @model_validator(mode="after")
    def _filled(self) -> Self:
        if "volume_m3" not in self.model_fields_set:
            self.__dict__["volume_m3"] = M3_A_PLACE * self.places
        return self


class LiftLimits(Payload):
    """The sea in which a sortie may run, as the operating authority set it, and the plan's rules.

    ``chance_wanted`` is the chance of all being out in time below which a start is too late.
    ``chamber_rule``: whether a place must be free when the vehicle dives or when it is back.
    ``notice_h``: how long before a dive it must be ordered.
    One limit is enough: of launch and recovery the one stands for the other, a current that is
    not limited forbids nothing; both are said (`left_open`).
    """

    launch_hs_m: float = Field(default_factory=untold_number, gt=0.0, le=20.0)
    recovery_hs_m: float = Field(default_factory=untold_number, gt=0.0, le=20.0)
    through_water_kn: float = Field(default=10.0, gt=0.0, le=10.0)
    mating_kn: float = Field(default=10.0, gt=0.0, le=10.0)
    daylight_only: bool = False
    recoverable_throughout: bool = False
    seat_depth_m: float | None = Field(default=None, gt=0.0, le=1_000.0)
    horizon_h: float = Field(default=240.0, gt=0.0, le=720.0)
    chance_wanted: float = Field(default=0.9, gt=0.0, lt=1.0)
    chamber_rule: Literal["free at dive", "free at return"] = "free at return"
    notice_h: float = Field(default=0.0, ge=0.0, le=72.0)
    source: str = AS_TOLD

    @model_validator(mode="after")
    def _filled(self) -> Self:
        names = ("launch_hs_m", "recovery_hs_m")
        told = [name for name in names if name in self.model_fields_set]
        if not told:
            raise ValueError("no sea is limited; tell the highest Hs for launch or for recovery")
        for name in names:
            if name not in told:
                self.__dict__[name] = getattr(self, told[0])
        return self

    def left_open(self) -> str:
        """Return what is not limited, in words; empty when all of it is."""
        told = self.model_fields_set
        said = []
        for one, other in (("launch", "recovery"), ("recovery", "launch")):
            if f"{one}_hs_m" not in told:
                said.append(f"no limit for {one} was told: that of {other} is taken")
        free = [
            words
            for name, words in (("through_water_kn", "through the water"), ("mating_kn", "mating"))
            if name not in told
        ]
        if free:
            said.append(f"no current was limited for {' and '.join(free)}")
        return f"{'; '.join(said)}.".capitalize() if said else ""


class Lift(Payload):
    """One planned lift; ``place`` orders the lifts, ``held`` keeps it out of the plan for now."""

    key: str = Name
    place: int = Field(ge=0, le=1_000)
    vehicle: str = Name
    refuge: str = Name
    walking: int = Field(ge=0, le=200)
    stretcher: int = Field(ge=0, le=200)
    held: bool = False
    withdrawn: bool = False
    reason: str = ""

    @model_validator(mode="after")
    def _somebody(self) -> Self:
        if self.walking + self.stretcher == 0 and not self.held:
            raise ValueError(f"lift {self.key} takes nobody; accepted: at least one person")
        return self


class Priority(Payload):
    """Who goes first, as the user sets it: refuges in order, then fitness in order."""

    refuges: tuple[str, ...] = Field(min_length=1)
    fitness: tuple[Literal["stretcher", "walking"], ...] = ("stretcher", "walking")
    stretchers_per_lift: int | None = Field(default=None, ge=0, le=50)
    set_by: str = Text
    reason: str = Text


class SortiePhase(Payload):
    """A phase of a sortie begins, as reported or read by a person from the vehicle's track.

    What its depth and track tell is never recorded: it is worked out and gives way to what is told.
    """

    vehicle: str = Name
    lift: str = Name
    phase: Phase
    read_from: Literal["entered", "track"] = "entered"
    walking_aboard: int | None = Field(default=None, ge=0, le=200)
    stretcher_aboard: int | None = Field(default=None, ge=0, le=200)
    battery_kwh: float | None = Field(default=None, ge=0.0, le=5_000.0)
    chamber: str | None = None
    note: str = ""


class SortieReport(Payload):
    """The vehicle was heard: battery, life support, its depth, and when the next report is due."""

    vehicle: str = Name
    lift: str = Name
    battery_kwh: float | None = Field(default=None, ge=0.0, le=5_000.0)
    life_support_h: float | None = Field(default=None, ge=0.0, le=1_000.0)
    depth_m: float | None = Field(default=None, ge=0.0, le=1_000.0)
    next_due: datetime | None = None
    note: str = ""


class SortieCase(Payload):
    """Something has gone wrong under water; its clock starts at the record's ``valid_at``."""

    vehicle: str = Name
    lift: str = Name
    case: Literal["silence", "entanglement", "failed mating"]
    ended: bool = False
    note: str = ""


class Drill(Payload):
    """The user's own drill for a case, with its source; none is shipped."""

    case: Literal["silence", "entanglement", "failed mating"]
    text: str = Text
    source: str = Text


class DecisionOption(Payload):
    """A decision on the table: what would change, so that it can be run on the same draws.

    ``pods`` says that the pods of stores that are planned are posted and taken in; ``response``
    is the key of a port and ship combination.
    """

    key: str = Name
    title: str = Text
    response: str | None = None
    add_vehicle: str | None = None
    add_chamber: str | None = None
    chambers_of: str | None = None  # use the chambers of this ship alone
    pods: bool | None = None
    refuge_order: tuple[str, ...] | None = None
    people_per_lift: int | None = Field(default=None, ge=1, le=200)
    launch_hs_m: float | None = Field(default=None, gt=0.0, le=20.0)
    recovery_hs_m: float | None = Field(default=None, gt=0.0, le=20.0)
    withdrawn: bool = False
    note: str = ""

    @model_validator(mode="after")
    def _changes_something(self) -> Self:
        told = {"key", "title", "withdrawn", "note"}
        if all(getattr(self, name) is None for name in type(self).model_fields if name not in told):
            raise ValueError(f"decision {self.key} changes nothing; accepted: at least one change")
        return self


class PlanChoice(Payload):
    """The options that are chosen: from here they are the plan. The last one stands."""

    chosen: tuple[str, ...]
    reason: str = Text
    decided_by: str = Text
