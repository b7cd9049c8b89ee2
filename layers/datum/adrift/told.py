"""What is told of an object of search after it was begun: found, given up for now, joined."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from layers.datum.model import DISSUB, Name, Note
from layers.journal.kinds import Payload


class ObjectFound(Payload):
    """An object of search was found: by whom, where, and how many were alive and dead.

    ``all_of_it`` false: it is sought on, for those who were not with it.
    """

    object: Name
    by: Name
    alive: int = Field(ge=0, le=1_000)
    dead: int = Field(default=0, ge=0, le=1_000)
    latitude_deg: float | None = Field(default=None, ge=-90.0, le=90.0)
    longitude_deg: float | None = Field(default=None, ge=-180.0, le=180.0)
    all_of_it: bool = True
    note: Note = ""

    @model_validator(mode="after")
    def _place_is_whole(self) -> Self:
        if (self.latitude_deg is None) != (self.longitude_deg is None):
            raise ValueError("latitude_deg and longitude_deg go together")
        return self


class SearchSuspended(Payload):
    """A search is suspended: for which object, by whose decision; ``resumed`` takes it up again."""

    object: Name = DISSUB
    by: Name
    reason: Note = ""
    resumed: bool = False


class ObjectsJoined(Payload):
    """Two objects of search are one: what was told of ``object`` counts for ``into``."""

    object: Name
    into: Name
    reason: Note = ""

    @model_validator(mode="after")
    def _two(self) -> Self:
        if self.object == self.into:
            raise ValueError("object and into must be two names")
        return self
