"""What the answers to the watch's questions hold; each layer fills those it can answer.

Every screen, paper and command reads these through `layers.answers` and words nothing by itself.
Times are UTC. What is not known is a form of `layers.earth.uncertain`, never a value in here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from layers.earth.clock import iso_s
from layers.earth.position import Position
from layers.earth.uncertain import Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonsNow:
    """Everybody on board, each in exactly one of these counts; they add up to ``on_board``.

    ``out`` are alive aboard a ship or ashore. ``by_place`` holds those in the hull and in
    vehicles by the place's name. ``on_board`` None: nobody has said how many there are; the
    counts are then of those that were told. ``count_of`` tells the count each place belongs to.
    ``differ`` is how many accounts do not agree with another, until a person settles them, and
    ``between`` the least and the most that these leave possible, by the name of the count.
    """

    on_board: int | None
    in_hull: int = 0
    in_vehicle: int = 0
    adrift: int = 0
    not_heard_of: int = 0
    out: int = 0
    dead: int = 0
    missing: int = 0
    differ: int = 0
    between: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    by_place: Mapping[str, int] = field(default_factory=dict)
    count_of: Mapping[str, str] = field(default_factory=dict)
    last_told_at: datetime | None = None
    rests_on: tuple[str, ...] = ()

    def figure(self, count: str) -> str:
        """Return a count as it is read: 24, or 22 to 24 where accounts of it differ."""
        least, most = self.between.get(count, (0, 0))
        return f"{least} to {most}" if most else str(getattr(self, count))

    @property
    def counted(self) -> int:
        """The sum of the disjoint counts."""
        return (self.in_hull + self.in_vehicle + self.adrift + self.not_heard_of
                + self.out + self.dead + self.missing)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceShare:
    """One of several places she may be in, its share of the probability, its own 95 % radius."""

    share: float
    position: Position
    radius_95_m: float

    def as_dict(self) -> dict[str, float]:
        """Return it under the keys of the headless interface."""
        return {
            "share": self.share,
            "latitude_deg": self.position.latitude_deg,
            "longitude_deg": self.position.longitude_deg,
            "radius_95_m": self.radius_95_m,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class HerPlace:
    """Where she is, with the circle that holds her with 95 % and what says so.

    ``places`` are the heaps of the probability, the likeliest first; ``position`` is the first.
    """

    position: Position
    radius_95_m: float
    said_by: str  # "net fix", "last known position", ...
    last_heard: datetime | None
    is_fix: bool
    depth_m: float | None = None
    places: tuple[PlaceShare, ...] = ()

    def as_dict(self) -> dict[str, object]:
        """Return it, but for its time, under the keys of the headless interface."""
        return {
            "latitude_deg": self.position.latitude_deg,
            "longitude_deg": self.position.longitude_deg,
            "radius_95_m": self.radius_95_m,
            "from": self.said_by,
            "is_fix": self.is_fix,
            "places": [one.as_dict() for one in self.places],
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class RefugeMargin:
    """Hours to spare in one refuge, if nobody leaves and if the lifts go as planned.

    ``binds`` is what ends life there first, empty when not known. Margins are in hours, below
    nought when late. ``late_case_h`` is the margin if the hatch shuts at its P90. ``at_least``:
    stores that nobody told of may put ``lasts_until`` off. ``rough``: a first look, being refined.
    """

    refuge: str
    persons: int
    binds: str
    if_nobody_leaves_h: Quantity
    as_planned_h: Quantity
    lasts_until: datetime | None = None
    last_out: datetime | None = None
    late_case_h: float | None = None
    read_at: datetime | None = None  # when its air was last read
    rough: bool = False
    at_least: bool = False
    how_sure: str = ""  # behind the hour it lasts until: at most, at least


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedLift:
    """A lift that is still to run, by the plan's likeliest hours (P50).

    ``persons`` None: nobody has said how many it takes.
    """

    key: str
    vehicle: str
    refuge: str
    persons: int | None
    dive: datetime
    hatch: datetime  # shut behind the last
    deck: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class DiveVerdict:
    """Whether a whole sortie, launch to deck, can begin now.

    ``may`` None: a thing that is needed is not known; `because` then says what to ask. ``where``
    is where the sea was judged, in words: at the datum.
    ``read_at`` is when the oldest reading of the sea, or the forecast, that says so was made;
    ``chance`` that a sortie begun when it may keeps every limit, None where none was worked out.
    """

    may: bool | None
    because: str
    opens: datetime | None = None
    until: datetime | None = None
    decide_by: datetime | None = None
    where: str = ""
    read_at: datetime | None = None
    chance: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SortieNow:
    """The sortie under way; ``phase`` empty when none is."""

    phase: str
    vehicle: str = ""
    since: datetime | None = None
    overdue_min: float | None = None
    said: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstOut:
    """The first people out: the event it is counted to, and from which stage."""

    event: str  # "hatch shut" or "on deck"
    time: datetime
    hours_from: float | None
    stage: str
    done: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NextDecision:
    """What must be decided next, by when."""

    what: str
    by: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchNext:
    """The next search that is worth most: who, from when to when, and its probability."""

    who: str
    begins: datetime
    until: datetime
    pos: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hour:
    """An hour: when it was, or P10, P50 and P90 of when it will be, or not before, or not known.

    ``missing`` names what keeps it from being known better; with it there is no spread.
    """

    done: datetime | None = None
    p10: datetime | None = None
    p50: datetime | None = None
    p90: datetime | None = None
    at_least: datetime | None = None
    missing: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, object]:
        """Return it under the keys of the headless interface; times in ISO."""
        if self.done is not None:
            return {"form": "number", "done": True, "value": _iso(self.done)}
        if self.p50 is not None:
            said = {"p10": self.p10, "p50": self.p50, "p90": self.p90}
            return {"form": "number", "done": False, **{k: _iso(v) for k, v in said.items()}}
        told: dict[str, object] = {"form": "not known", "missing": list(self.missing)}
        if self.at_least is not None:
            told |= {"form": "bounds", "at_least": _iso(self.at_least)}
        return told


@dataclass(frozen=True, slots=True, kw_only=True)
class ThingHome:
    """A vehicle, gear or people on the way home: who has it, when it is home and ready again."""

    what: str
    sort: str  # "vehicle", "gear", "people"; empty: not told
    held_by: str
    kept_at: str
    bound_for: str
    since: datetime
    persons: int | None
    way: str  # the chain home in words, empty: none
    step: str  # what of it is under way, or comes next
    home: Hour
    ready: Hour
    record_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceToTell:
    """A port, airfield or hospital on the way home: what it was told, and what is to be told."""

    place: str
    coming: str
    expected: Hour
    told_at: datetime | None
    told_expected: datetime | None
    to_whom: str
    accepted: str
    to_do: str  # empty when nothing is


@dataclass(frozen=True, slots=True, kw_only=True)
class WayHome:
    """The way home of all that came: things, and the places that must know of it."""

    things: tuple[ThingHome, ...]
    places: tuple[PlaceToTell, ...]

    def as_dict(self) -> dict[str, object]:
        """Return it under the keys of the headless interface."""
        return {
            "things": [
                {
                    "what": one.what, "sort": one.sort or None, "held_by": one.held_by,
                    "kept_at": one.kept_at or None, "since": _iso(one.since),
                    "persons": one.persons, "step": one.step or None,
                    "home": one.home.as_dict(), "ready_again": one.ready.as_dict(),
                }
                for one in self.things
            ],
            "to_be_told": [
                {"place": one.place, "coming": one.coming, "what": one.to_do}
                for one in self.places
                if one.to_do
            ],
        }  # fmt: skip


def _iso(at: datetime | None) -> str | None:
    return None if at is None else iso_s(at)


@dataclass(frozen=True, slots=True, kw_only=True)
class InputAge:
    """A reading that answers rest on, and when it was true.

    ``ages`` False for what does not grow old (a fix of a boat on the bottom); ``at_least`` where
    something older may be among what could not be worked out.
    """

    what: str
    at: datetime
    ages: bool = True
    at_least: bool = False

    def age(self, now: datetime) -> timedelta:
        """Return how old it is."""
        return now - self.at


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmNow:
    """An alarm; ``ended`` when what raised it is no longer so, ``taken_by`` once acknowledged."""

    about: str
    said: str
    since: datetime
    ended: datetime | None
    taken_by: str
    record_id: str
