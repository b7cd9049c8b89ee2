"""What is recorded of the ground kept clear: its bounds, who is below, who stopped."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import AwareDatetime, Field, model_validator

from layers.journal.kinds import Kind, Payload, Text
from layers.journal.releases.rules import PLACE

Name = Field(min_length=1, max_length=80)
What = Literal["active sonar", "underwater charges", "towed gear", "anchoring"]
WHATS: tuple[What, ...] = ("active sonar", "underwater charges", "towed gear", "anchoring")
EVERYBODY = "all"


class SafetyArea(Payload):
    """The area about the work that others are asked to keep out of; a later one replaces it.

    Without a position it is about the datum and moves with it. ``ceiling_ft`` is above mean sea
    level, for airmen; without it no airspace is asked for.
    """

    name: str = Field(default="safety area", min_length=1, max_length=60)
    latitude_deg: float | None = Field(default=None, ge=-90.0, le=90.0)
    longitude_deg: float | None = Field(default=None, ge=-180.0, le=180.0)
    radius_nmi: float = Field(gt=0.0, le=100.0)
    ceiling_ft: float | None = Field(default=None, ge=0.0, le=60_000.0)
    starts: AwareDatetime
    ends: AwareDatetime
    sea_area: str = Field(default="", max_length=80)
    set_by: str = Text

    @model_validator(mode="after")
    def _bounds(self) -> Self:
        if (self.latitude_deg is None) != (self.longitude_deg is None):
            raise ValueError("a position needs both latitude_deg and longitude_deg")
        if self.ends <= self.starts:
            raise ValueError("it must end after it starts")
        return self


class Below(Payload):
    """Somebody is under water, or up again, from the record's time on."""

    who: str = Name
    sort: Literal["divers", "vehicle", "submarine", "other"] = "divers"
    below: bool
    persons: int | None = Field(default=None, ge=0, le=500)
    depth_m: float | None = Field(default=None, ge=0.0, le=11_000.0)
    reported_by: str = Text


class Stop(Payload):
    """What somebody was asked to stop, has stopped, or may do again; ``who`` may be ``all``."""

    sort: What
    who: str = Field(default=EVERYBODY, min_length=1, max_length=80)
    state: Literal["asked", "stopped", "goes on", "may go on"]
    reported_by: str = Text


KINDS: tuple[Kind, ...] = (
    Kind(name="kept_clear.area", title="safety area", model=SafetyArea, release=PLACE),
    Kind(name="kept_clear.below", title="who is under water", model=Below, release=PLACE),
    Kind(name="kept_clear.stop", title="sonar and charges stopped", model=Stop, release=PLACE),
)
