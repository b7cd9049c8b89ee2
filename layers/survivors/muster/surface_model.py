"""Records about people in the water, who can reach them, hospitals, flights and their limits."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from pydantic import Field

from layers.journal.kinds import Payload

Name = Field(min_length=1, max_length=120)
Latitude = Field(ge=-90.0, le=90.0)
Longitude = Field(ge=-180.0, le=180.0)


class InWater(Payload):
    """A group seen in the water and what they wear; ``since`` they are in it."""

    group: str = Name
    persons: int = Field(ge=1, le=2_000)
    since: datetime
    clothing: Literal["light clothing, lifejacket", "immersion suit", "in a raft", "not known"]
    sea_c: float | None = Field(default=None, ge=-2.5, le=40.0)
    sea_source: str = ""
    recovered: bool = False


class Craft(Payload):
    """A helicopter, boat or ship that can fetch people, where it is and what it can do."""

    craft: str = Name
    sort: Literal["helicopter", "aeroplane", "ship", "boat"]
    latitude_deg: float = Latitude
    longitude_deg: float = Longitude
    speed_kn: float = Field(gt=0.0, le=600.0)
    radius_nmi: float | None = Field(default=None, gt=0.0, le=5_000.0)
    ready_min: float = Field(default=0.0, ge=0.0, le=1_440.0)
    seats: int = Field(ge=0, le=2_000)
    stretchers: int = Field(ge=0, le=500)
    flies_at_m: float | None = Field(default=None, ge=0.0, le=15_000.0)
    available: bool = True
    source: str = Field(min_length=2, max_length=300)


class Ready(Payload):
    """What one ship or party has ready at the surface; what is not told is not known."""

    held_by: str = Name
    raft_places: int | None = Field(default=None, ge=0, le=5_000)
    boats: int | None = Field(default=None, ge=0, le=200)
    doctors: int | None = Field(default=None, ge=0, le=200)
    chamber_places: int | None = Field(default=None, ge=0, le=500)
    remark: str = ""


class Hospital(Payload):
    """A hospital or chamber ashore with the places it has free, as told or as surveyed."""

    hospital: str = Name
    latitude_deg: float = Latitude
    longitude_deg: float = Longitude
    stretcher_places: int = Field(ge=0, le=5_000)
    other_places: int = Field(default=0, ge=0, le=5_000)
    recompression_places: int = Field(default=0, ge=0, le=500)
    told: Literal["surveyed", "only reported"] = "only reported"
    source: str = Field(min_length=2, max_length=300)


class FlightLimit(Payload):
    """How high and how soon people may fly after pressure, with who says so; none is shipped."""

    after_pressure_h: float = Field(ge=0.0, le=1_000.0)
    height_m: float = Field(ge=0.0, le=15_000.0)
    above_bar_abs: float = Field(gt=1.0, le=10.0)
    source: str = Field(min_length=3, max_length=300)
    entered_by: str = Field(min_length=2, max_length=120)
