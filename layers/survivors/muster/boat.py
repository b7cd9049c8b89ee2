"""The boat herself: name, length, limits, and how she lies, as told piece by piece.

Nobody tells all of it at once. Each record holds what one report said; what is told later takes
the place of what was told before, field by field, so that a length told today does not lose the
name of yesterday. Her compartments are places for people (`survivors.place`) under the watch's
own names, her rescue seats `survivors.seat`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Self

from pydantic import AwareDatetime, Field, model_validator

from layers.earth.clock import clock_words
from layers.journal.kinds import Payload
from layers.journal.known import Entry, Known

KINDS_READ = ("survivors.boat", "survivors.lies")


class _Told(Payload):
    """Something must be told; everything may be left out."""

    @model_validator(mode="after")
    def _something(self) -> Self:
        told = (v for k, v in self.__dict__.items() if k != "remark" and v not in (None, ""))
        if next(told, None) is None:
            raise ValueError("nothing was told; one field is enough")
        return self


class Boat(_Told):
    """What is known of the boat herself, any part of it.

    ``escape_depth_m`` is the greatest depth from which her people can escape, ``hull_depth_m``
    the depth that her hull is held to stand; ``last_heard_at`` is when she was last heard from,
    wherever she was.
    """

    name: str | None = Field(default=None, min_length=1, max_length=60)
    pennant: str | None = Field(default=None, min_length=1, max_length=20)
    length_m: float | None = Field(default=None, ge=5.0, le=250.0)
    beam_m: float | None = Field(default=None, ge=1.0, le=50.0)
    escape_depth_m: float | None = Field(default=None, gt=0.0, le=1_000.0)
    hull_depth_m: float | None = Field(default=None, gt=0.0, le=6_000.0)
    last_heard_at: AwareDatetime | None = None
    remark: str = Field(default="", max_length=2_000)


class Lies(_Told):
    """How she lies on the bottom: a list to starboard and a bow that is down count positive."""

    heading_true_deg: float | None = Field(default=None, ge=0.0, lt=360.0)
    list_deg: float | None = Field(default=None, ge=-180.0, le=180.0)
    bow_down_deg: float | None = Field(default=None, ge=-90.0, le=90.0)
    depth_m: float | None = Field(default=None, gt=0.0, le=6_000.0)
    remark: str = Field(default="", max_length=2_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoatNow:
    """The boat as known at a time; None for what nobody has told."""

    name: str | None = None
    pennant: str | None = None
    length_m: float | None = None
    beam_m: float | None = None
    escape_depth_m: float | None = None
    hull_depth_m: float | None = None
    last_heard_at: datetime | None = None
    heading_true_deg: float | None = None
    list_deg: float | None = None
    bow_down_deg: float | None = None
    depth_m: float | None = None
    compartments: tuple[str, ...] = ()  # dry or flooded, as last told, in words
    rests_on: tuple[str, ...] = ()

    def words(self) -> str:
        """Return her as she is described in a report; empty when nothing was told."""
        parts = [self.pennant or ""]
        for label, value in (
            ("length", self.length_m),
            ("beam", self.beam_m),
            ("escape down to", self.escape_depth_m),
            ("hull held to stand down to", self.hull_depth_m),
            ("lies at", self.depth_m),
        ):
            parts.append(f"{label} {value:.5g} m" if value is not None else "")
        if self.heading_true_deg is not None:
            parts.append(f"heading {self.heading_true_deg:03.0f}°T")
        if self.list_deg is not None:
            side = "starboard" if self.list_deg >= 0 else "port"
            parts.append(f"list {abs(self.list_deg):.3g}° to {side}")
        if self.bow_down_deg is not None:
            way = "down" if self.bow_down_deg >= 0 else "up"
            parts.append(f"bow {way} {abs(self.bow_down_deg):.3g}°")
        parts += self.compartments
        return ", ".join(part for part in parts if part)


def boat_of(known: Known, at: datetime) -> BoatNow:
    """Return the boat as known at a time: of each field what was told last."""
    told: dict[str, object] = {}
    used: dict[str, str] = {}
    for entry in _in_order(known, at):
        for name in type(entry.value).model_fields:
            value = getattr(entry.value, name)
            if name != "remark" and value is not None:
                told[name], used[name] = value, entry.id
    water = water_of(known, at)
    told["compartments"] = tuple(
        f"{name} {entry.value.state} ({clock_words(entry.record.valid_at, at)})"
        for name, entry in water.items()
        if entry.value.state != "not known"
    )
    rests_on = (*used.values(), *(entry.id for entry in water.values()))
    rests = tuple(dict.fromkeys(rests_on))
    return BoatNow(**told, rests_on=rests)  # type: ignore[arg-type]  # by the model's own names


def water_of(known: Known, at: datetime) -> dict[str, Entry]:
    """Return what was last told of each compartment, dry or flooded; what is disputed is not."""
    if "survivors.water" not in known.kinds:
        return {}
    told = [e for e in known.entries("survivors.water") if e.record.valid_at <= at]
    told.sort(key=lambda entry: (entry.record.valid_at, entry.record.seq))
    return {entry.value.refuge: entry for entry in told if not entry.disputed}


def _in_order(known: Known, at: datetime) -> list[Entry]:
    entries = [e for kind in KINDS_READ for e in known.entries(kind) if e.record.valid_at <= at]
    return sorted(entries, key=lambda entry: (entry.record.valid_at, entry.record.seq))
