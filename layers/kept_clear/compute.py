"""Who is under water in the safety area, what has been stopped for them, and who is in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from layers.contract import Moment, Others
from layers.earth.errors import InputError
from layers.earth.geodesy import between, going
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.earth.values import DatumValue, ShipState, TracksValue
from layers.journal.known import Entry, Known
from layers.kept_clear.model import EVERYBODY, WHATS, Below, SafetyArea, Stop

NOTHING = "no safety area about the work is recorded"
ASKED = "its radius, from when to when, and who set it"
PHASE = "survivors.sortie_phase"  # a kind of another layer
UP_AGAIN = ("back", "given up")  # phases after which a vehicle is out of the water
SOON = timedelta(hours=2)  # ahead of which a ship that steers in is told
STEPS = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class Under:
    """Somebody who is under water, or may be."""

    who: str
    sort: str
    since: datetime
    persons: int | None
    said: str
    rests_on: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopped:
    """One thing that must not go on while somebody is under water.

    ``safe`` is True when everybody who counts has stopped, False when somebody goes on, None
    where it is not known of somebody.
    """

    what: str
    safe: bool | None
    said: str
    rests_on: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Inside:
    """A ship in the area, or that steers into it within two hours."""

    name: str
    role: str
    off_nmi: float
    enters: datetime | None  # None: she is inside now
    stale: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """The ground kept clear at one moment."""

    at: datetime
    area: SafetyArea
    centre: Position | None
    about: str
    in_force: bool
    under: tuple[Under, ...]
    stopped: tuple[Stopped, ...]
    ships: tuple[Inside, ...]
    record: str
    rests_on: tuple[str, ...]

    @property
    def open_questions(self) -> tuple[Stopped, ...]:
        """What goes on, or is not known to have stopped."""
        return tuple(one for one in self.stopped if one.safe is not True)


def compute(known: Known, others: Others, moment: Moment) -> Kept:
    """Return the ground kept clear at ``moment.at``.

    Raises
    ------
    InputError
        No area is recorded.
    """
    areas = [e for e in known.entries("kept_clear.area") if e.record.valid_at <= moment.at]
    if not areas:
        raise InputError(NOTHING, accepted=ASKED)
    chosen = max(areas, key=lambda e: (e.adopted, e.record.valid_at, e.record.seq))
    area: SafetyArea = chosen.value
    centre, about = _centre(area, others)
    under = _under(known, moment.at)
    tracks = others.get("tracks")
    ships = tracks.ships if isinstance(tracks, TracksValue) else ()
    inside = () if centre is None else _inside(ships, centre, area, moment.at)
    stopped = tuple(_stopped(known, what, inside, moment.at) for what in WHATS)
    rests = [chosen.id, *(one.rests_on for one in under)]
    rests += [i for one in stopped for i in one.rests_on]
    return Kept(
        at=moment.at,
        area=area,
        centre=centre,
        about=about,
        in_force=area.starts <= moment.at < area.ends,
        under=under,
        stopped=stopped,
        ships=inside,
        record=chosen.id,
        rests_on=tuple(dict.fromkeys(rests)),
    )


def _centre(area: SafetyArea, others: Others) -> tuple[Position | None, str]:
    if area.latitude_deg is not None and area.longitude_deg is not None:
        return Position(area.latitude_deg, area.longitude_deg), "about the place recorded"
    datum = others.get("datum")
    if isinstance(datum, DatumValue) and isinstance(datum.where, Position):
        return datum.where, "about the datum (moving with it)"
    return None, "about the datum (which is not known)"


def _under(known: Known, at: datetime) -> tuple[Under, ...]:
    """Return who was last told to be under water; a vehicle by its phase too."""
    told = [_told_below(entry) for entry in _until(known, "kept_clear.below", at)]
    if PHASE in known.kinds:
        told += [_told_phase(entry) for entry in _until(known, PHASE, at)]
    latest: dict[str, Under] = {}
    for *_, one, below in sorted(told, key=lambda each: each[:2]):
        before = latest.pop(one.who, None)
        if below:
            latest[one.who] = one if before is None else _later(before, one)
    return tuple(latest.values())


_Told = tuple[datetime, int, Under, bool]


def _told_below(entry: Entry) -> _Told:
    value: Below = entry.value
    one = Under(
        who=value.who, sort=value.sort, since=entry.record.valid_at, persons=value.persons,
        said=f"reported by {value.reported_by}", rests_on=entry.id,
    )  # fmt: skip
    return entry.record.valid_at, entry.record.seq, one, value.below


def _told_phase(entry: Entry) -> _Told:
    value: Any = entry.value
    aboard = [n for n in (value.walking_aboard, value.stretcher_aboard) if n is not None]
    one = Under(
        who=value.vehicle, sort="vehicle", since=entry.record.valid_at,
        persons=sum(aboard) if aboard else None,
        said=f"sortie {value.lift}, {value.phase.value}", rests_on=entry.id,
    )  # fmt: skip
    return entry.record.valid_at, entry.record.seq, one, value.phase.value not in UP_AGAIN


def _later(before: Under, now: Under) -> Under:
    """Return what is told now of somebody who was below already: below since the first word."""
    persons = before.persons if now.persons is None else now.persons
    return replace(now, since=before.since, persons=persons)


def _until(known: Known, kind: str, at: datetime) -> list[Entry]:
    return [entry for entry in known.entries(kind) if entry.record.valid_at <= at]


def _inside(
    ships: tuple[ShipState, ...], centre: Position, area: SafetyArea, at: datetime
) -> tuple[Inside, ...]:
    found = []
    for ship in ships:
        off = between(ship.position, centre)[0] / M_PER_NMI
        enters = None
        if off > area.radius_nmi:
            enters = _enters(ship, centre, area.radius_nmi, at)
            if enters is None:
                continue
        found.append(
            Inside(name=ship.name, role=ship.role, off_nmi=off, enters=enters, stale=ship.stale)
        )
    return tuple(sorted(found, key=lambda one: (one.off_nmi, one.name)))


def _enters(ship: ShipState, centre: Position, radius_nmi: float, at: datetime) -> datetime | None:
    """Return when a ship that holds her course comes within the radius in the next two hours."""
    if not ship.speed_kn or ship.course_true_deg is None:
        return None
    hours = np.linspace(0.0, SOON.total_seconds() / 3600.0, STEPS)[1:]
    for hour in hours:
        there = going(ship.position, ship.course_true_deg, ship.speed_kn * hour * M_PER_NMI)
        if between(there, centre)[0] / M_PER_NMI <= radius_nmi:
            return at + timedelta(hours=float(hour))
    return None


def _stopped(known: Known, what: str, ships: tuple[Inside, ...], at: datetime) -> Stopped:
    """Return how one thing stands with everybody in or near the area.

    A word of one ship goes before a word about all; of two the newer counts. Who has only been
    asked has not answered.
    """
    latest: dict[str, Entry] = {}
    for entry in sorted(
        _until(known, "kept_clear.stop", at), key=lambda e: (e.record.valid_at, e.record.seq)
    ):
        if entry.value.sort == what:
            latest[entry.value.who] = entry
    everybody = latest.get(EVERYBODY)
    names = list(dict.fromkeys([*(ship.name for ship in ships), *latest]))
    names = [name for name in names if name != EVERYBODY]
    goes_on, open_ = [], []
    for name in names:
        state = _state(latest.get(name), everybody)
        if state in ("goes on", "may go on"):
            goes_on.append(name)
        elif state != "stopped":
            open_.append(f"{name} ({state})")
    rests = tuple(entry.id for entry in latest.values())
    general = None if everybody is None else everybody.value.state
    if general in ("goes on", "may go on") and not names:
        goes_on.append("all")
    if goes_on:
        return Stopped(what=what, safe=False, said=f"goes on: {', '.join(goes_on)}", rests_on=rests)
    if not latest:
        return Stopped(what=what, safe=None, said="not known: nobody was asked", rests_on=())
    if open_:
        return Stopped(
            what=what, safe=None, said=f"not known of {', '.join(open_)}", rests_on=rests
        )
    if general == "asked" and not names:
        return Stopped(what=what, safe=None, said="asked of all, not answered", rests_on=rests)
    return Stopped(what=what, safe=True, said="stopped", rests_on=rests)


def _state(own: Entry | None, everybody: Entry | None) -> str:
    if own is None and everybody is None:
        return "not asked"
    if own is None or (everybody is not None and everybody.record.valid_at > own.record.valid_at):
        assert everybody is not None
        value: Stop = everybody.value
        return "asked, not answered" if value.state == "asked" else value.state
    return "asked, not answered" if own.value.state == "asked" else str(own.value.state)
