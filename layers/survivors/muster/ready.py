"""What stands ready at the surface this hour, against those who may come up.

Escape may begin without being asked for. What counts then is what is there now, as told and how
long ago, not what the plan will bring; a thing nobody told is not known, never none.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from layers.journal.known import Entry, Known
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import Muster
from layers.survivors.muster.on_board import in_order
from layers.survivors.muster.persons import persons_of

OLD = timedelta(hours=6)  # our choice: then somebody should say it again
THINGS = ("raft_places", "boats", "doctors", "chamber_places")
WORDS = {
    "raft_places": "places in rafts and boats",
    "boats": "rescue boats",
    "doctors": "doctors and medics",
    "chamber_places": "chamber places free",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyThing:
    """One sort of thing: how many are told, by whom, and how old the oldest of that is.

    ``count`` is None when nobody has told any.
    """

    what: str
    count: int | None
    held_by: tuple[str, ...]
    told_at: datetime | None
    old: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceReady:
    """What stands ready against how many may come up: those in the hull and those not heard of."""

    may_come_up: int
    not_heard_of: int
    not_heard_said: str
    things: tuple[ReadyThing, ...]
    rests_on: tuple[str, ...]

    def short(self, what: str) -> int | None:
        """Return how many more may come up than there are places, None when not known."""
        thing = next(one for one in self.things if one.what == what)
        return None if thing.count is None else self.may_come_up - thing.count


def surface_ready(known: Known, at: datetime, who: Muster) -> SurfaceReady:
    """Return what stands ready at the surface at a moment."""
    latest: dict[str, Entry] = {}
    for entry in in_order(known.entries("survivors.ready"), at):
        if not entry.disputed:
            latest[entry.value.held_by] = entry
    chambers = {}
    if "survivors.chamber" in known.kinds:
        for entry in in_order(known.entries("survivors.chamber"), at):
            chambers[entry.value.name] = entry
    hull = sum(p.alive for p in who.places if p.sort is PlaceSort.REFUGE)
    things = [_told(what, list(latest.values()), at) for what in THINGS]
    free = _chambers_free(list(chambers.values()), who, at)
    if free is not None and things[-1].count is None:
        things[-1] = free
    return SurfaceReady(
        may_come_up=hull + who.not_accounted,
        not_heard_of=who.not_accounted,
        not_heard_said=persons_of(who).figure("not_heard_of"),
        things=tuple(things),
        rests_on=tuple(e.id for e in (*latest.values(), *chambers.values())),
    )


def _told(what: str, entries: list[Entry], at: datetime) -> ReadyThing:
    mine = [e for e in entries if getattr(e.value, what) is not None]
    times = [e.record.valid_at for e in mine]
    return ReadyThing(
        what=what,
        count=sum(getattr(e.value, what) for e in mine) if mine else None,
        held_by=tuple(e.value.held_by for e in mine),
        told_at=min(times, default=None),
        old=any(at - t > OLD for t in times),
    )


def _chambers_free(chambers: list[Entry], who: Muster, at: datetime) -> ReadyThing | None:
    """Return the places of chambers that can be used now, less those taken."""
    usable = [
        e
        for e in chambers
        if e.value.planned
        and (e.value.state == "ready")
        and (e.value.available_at is None or e.value.available_at <= at)
    ]
    if not chambers:
        return None
    free = 0
    for entry in usable:
        place = who.place(entry.value.name)
        inside = 0 if place is None else place.alive
        free += max(entry.value.places - entry.value.attendants - inside, 0)
    times = [e.record.valid_at for e in usable]
    return ReadyThing(
        what="chamber_places",
        count=free,
        held_by=tuple(e.value.name for e in usable),
        told_at=min(times, default=None),
        old=any(at - t > OLD for t in times),
    )
