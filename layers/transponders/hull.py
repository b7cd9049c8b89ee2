"""How she lies on the bottom: length, heading, list, trim and seats, as told piece by piece."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from layers.earth.values import HullLies, SeatOnHull
from layers.journal.known import Known

# Kinds of other layers: what is told of the boat, and of her rescue seats.
KINDS_READ = ("survivors.boat", "survivors.lies", "weather.seat")


# Where a seat stands along her, of her length forward of her middle: only drawn, a convention of
# ours, for nobody tells it.
SEAT_SHARE = {"forward": 0.3, "F": 0.3, "after": -0.3, "aft": -0.3, "A": -0.3}


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatLies:
    """One rescue seat: its name and depth."""

    name: str
    depth_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hull:
    """The DISSUB on the bottom; None for what nobody has told.

    A list to starboard and a bow that is down count positive, degrees.
    """

    length_m: float | None
    beam_m: float | None
    heading_true_deg: float | None
    list_deg: float | None
    bow_down_deg: float | None
    depth_m: float | None
    seats: tuple[SeatLies, ...]
    rests_on: tuple[str, ...]

    @property
    def missing(self) -> tuple[str, ...]:
        """What nobody has told of how she lies."""
        asked = {
            "heading": self.heading_true_deg,
            "list": self.list_deg,
            "bow down": self.bow_down_deg,
            "length": self.length_m,
        }
        return tuple(name for name, value in asked.items() if value is None)


def handed_hull(hull: Hull) -> HullLies:
    """Return what other layers get of it."""
    return HullLies(
        length_m=hull.length_m,
        beam_m=hull.beam_m,
        heading_true_deg=hull.heading_true_deg,
        seats=tuple(
            SeatOnHull(
                name=one.name, depth_m=one.depth_m, along_share=SEAT_SHARE.get(one.name, 0.0)
            )
            for one in hull.seats
        ),
        records=hull.rests_on,
    )


def hull_of(known: Known, at: datetime) -> Hull | None:
    """Return how she lies as told by a time: of each field the newest word; None before any."""
    told: dict[str, Any] = {}
    seats: dict[str, SeatLies] = {}
    ids: list[str] = []
    for kind in KINDS_READ:
        if kind not in known.kinds:
            continue
        held = [e for e in known.entries(kind) if e.record.valid_at <= at]
        for entry in sorted(held, key=lambda e: (e.record.valid_at, e.record.seq)):
            ids.append(entry.id)
            if kind == "weather.seat":
                seat = entry.value
                seats[seat.seat] = SeatLies(name=seat.seat, depth_m=seat.depth_m)
                for name in ("list_deg", "bow_down_deg"):
                    told.setdefault(name, getattr(seat, name))
                continue
            for name in Hull.__slots__:
                value = getattr(entry.value, name, None)
                if value is not None:
                    told[name] = value
    if not told and not seats:
        return None
    return Hull(
        length_m=told.get("length_m"),
        beam_m=told.get("beam_m"),
        heading_true_deg=told.get("heading_true_deg"),
        list_deg=told.get("list_deg"),
        bow_down_deg=told.get("bow_down_deg"),
        depth_m=told.get("depth_m"),
        seats=tuple(seats[name] for name in sorted(seats)),
        rests_on=tuple(dict.fromkeys(ids)),
    )
