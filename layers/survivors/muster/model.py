"""What the survivors layer records: the complement, reports, moves, places and what they have."""

from __future__ import annotations

from enum import StrEnum
from typing import Literal

from pydantic import Field, model_validator

from layers.journal.kinds import Payload, Text
from layers.survivors.chambers.pressure import Pressure

Fitness = Literal["walking", "injured", "stretcher", "unknown", "dead"]
FITNESS: tuple[str, ...] = ("walking", "injured", "stretcher", "unknown", "dead")
Name = Field(min_length=1, max_length=120)


class PlaceSort(StrEnum):
    """What kind of place people can be in; decides which of the disjoint counts they are in.

    Missing is who was named so after all was done to find them; not accounted for is who has not
    been heard of, and is never dead nor missing until somebody says so.
    """

    REFUGE = "refuge"
    VEHICLE = "vehicle"
    CHAMBER = "chamber"
    DECK = "deck"
    HOSPITAL = "hospital"
    ASHORE = "ashore"
    SURFACE = "surface"
    PICKED_UP = "picked up"
    DEAD = "dead"
    MORTUARY = "mortuary"
    MISSING = "missing"
    UNACCOUNTED = "not accounted for"


UNACCOUNTED = "not accounted for"
# Places that are always there; a survivors.place record adds others.
PLACES: dict[str, PlaceSort] = {
    "forward": PlaceSort.REFUGE,
    "after": PlaceSort.REFUGE,
    "vehicle": PlaceSort.VEHICLE,
    "chamber 1": PlaceSort.CHAMBER,
    "chamber 2": PlaceSort.CHAMBER,
    "deck": PlaceSort.DECK,
    "hospital": PlaceSort.HOSPITAL,
    "on the surface": PlaceSort.SURFACE,
    "picked up": PlaceSort.PICKED_UP,
    "dead": PlaceSort.DEAD,
    "mortuary": PlaceSort.MORTUARY,
    "missing": PlaceSort.MISSING,
    UNACCOUNTED: PlaceSort.UNACCOUNTED,
}


class Complement(Payload):
    """Part of the persons on board, as one source states it: the sailing list, a rider."""

    part: str = Name
    persons: int = Field(ge=0, le=2_000)
    remark: str = ""
    read_back: bool = False


class PlaceOfPeople(Payload):
    """A further place where people can be: a third chamber, a second vehicle, a ship."""

    name: str = Name
    sort: PlaceSort
    remark: str = ""


class Report(Payload):
    """A headcount at a place as reported; it moves nobody and stands beside the ledger.

    ``persons`` are all who are there, ``dead`` how many of them are.
    """

    place: str = Name
    persons: int = Field(ge=0, le=2_000)
    walking: int | None = Field(default=None, ge=0)
    injured: int | None = Field(default=None, ge=0)
    stretcher: int | None = Field(default=None, ge=0)
    dead: int | None = Field(default=None, ge=0)
    pressure: Pressure | None = None
    remark: str = ""

    @model_validator(mode="after")
    def _adds_up(self) -> Report:
        named = sum(n or 0 for n in (self.walking, self.injured, self.stretcher, self.dead))
        if named > self.persons:
            raise ValueError(
                f"{named} by fitness is more than the {self.persons} reported at {self.place}"
            )
        return self


class Group(Payload):
    """People moved together.

    ``was`` is the fitness they are booked under where they come from, when it is another than
    the one they have now. Names are optional and shown only when asked for.
    """

    persons: int = Field(ge=1, le=2_000)
    fitness: Fitness = "unknown"
    was: Fitness | None = None
    exposure: Pressure | None = None
    priority: int | None = Field(default=None, ge=1, le=9)
    names: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _names_fit(self) -> Group:
        if len(self.names) > self.persons:
            raise ValueError(f"{len(self.names)} names for {self.persons} persons")
        return self


class Move(Payload):
    """People taken from one place and put in another: both sides of one entry in the ledger.

    From a place to the same place it changes their fitness, exposure or priority. ``read_back``:
    what seemed impossible was asked and said again. ``nobody_counted_before``: who leaves is of
    those not heard of, as far as the place was not told to hold them.
    """

    from_place: str = Name
    to_place: str = Name
    groups: tuple[Group, ...] = Field(min_length=1)
    reason: str = Text
    read_back: bool = False
    nobody_counted_before: bool = False

    @property
    def persons(self) -> int:
        """How many are moved."""
        return sum(group.persons for group in self.groups)


class Seat(Payload):
    """The state of a rescue seat as inspected."""

    seat: str = Name
    refuge: str = Name
    state: Literal["clear", "fouled", "not known"]
    remark: str = ""


class DryOrFlooded(Payload):
    """Whether a compartment is dry or flooded, as told; what comes in an hour is an inflow."""

    refuge: str = Name
    state: Literal["dry", "flooded", "not known"]
    remark: str = ""
