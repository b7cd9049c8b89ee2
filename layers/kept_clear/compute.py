"""Who is under water in the safety area, what has been stopped for them, and who is in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from layers.contract import Moment, Others
from layers.earth.errors import InputError
from layers.earth.geodesy import between, forward, going, inverse
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
LOOKS, LOOKS_ACROSS, MOST_LOOKS = 24, 10, 20_000  # at least; while she runs one radius; at most


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
    """A ship in an area, or that steers into it within two hours.

    Where she is now is reckoned from her fix by the course and speed she had then.
    """

    name: str
    role: str
    area: str
    off_nmi: float
    enters: datetime | None  # None: she is inside now
    stale: bool
    fixed_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """One safety area at a moment, with its middle."""

    area: SafetyArea
    centre: Position | None
    about: str
    in_force: bool
    record: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """The ground kept clear at one moment; of several areas the newest is the first."""

    at: datetime
    grounds: tuple[Ground, ...]
    under: tuple[Under, ...]
    stopped: tuple[Stopped, ...]
    ships: tuple[Inside, ...]
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
    entries = [e for e in known.entries("kept_clear.area") if e.record.valid_at <= moment.at]
    if not entries:
        raise InputError(NOTHING, accepted=ASKED)
    grounds = _grounds(entries, others, moment.at)
    under = _under(known, moment.at)
    tracks = others.get("tracks")
    ships = tracks.ships if isinstance(tracks, TracksValue) else ()
    inside = tuple(one for ground in grounds for one in _inside(ships, ground, moment.at))
    stopped = tuple(_stopped(known, what, inside, moment.at) for what in WHATS)
    rests = [*(ground.record for ground in grounds), *(one.rests_on for one in under)]
    rests += [i for one in stopped for i in one.rests_on]
    return Kept(
        at=moment.at,
        grounds=grounds,
        under=under,
        stopped=stopped,
        ships=inside,
        rests_on=tuple(dict.fromkeys(rests)),
    )


def _grounds(entries: list[Entry], others: Others, at: datetime) -> tuple[Ground, ...]:
    """Return each area by the newest word of its name; what has ended only where nothing else is.

    A second area does not lift the first: only a word of the same name does.
    """
    newest: dict[str, Entry] = {}
    for entry in sorted(entries, key=lambda e: (e.adopted, e.record.valid_at, e.record.seq)):
        name = " ".join(entry.value.name.casefold().split())
        newest.pop(name, None)
        newest[name] = entry
    chosen = list(reversed(newest.values()))
    chosen = [entry for entry in chosen if entry.value.ends > at] or chosen[:1]
    found = []
    for entry in chosen:
        area: SafetyArea = entry.value
        centre, about = _centre(area, others)
        in_force = area.starts <= at < area.ends
        found.append(
            Ground(area=area, centre=centre, about=about, in_force=in_force, record=entry.id)
        )
    return tuple(found)


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


def _inside(ships: tuple[ShipState, ...], ground: Ground, at: datetime) -> tuple[Inside, ...]:
    """Return the ships that are in an area, by their fix or by reckoning, or steer into it."""
    found = []
    centre, radius_nmi = ground.centre, ground.area.radius_nmi
    for ship in ships if centre is not None else ():
        assert centre is not None
        now = _reckoned(ship, at)
        off = between(now, centre)[0] / M_PER_NMI
        enters = None
        if off > radius_nmi and between(ship.position, centre)[0] / M_PER_NMI > radius_nmi:
            enters = _enters(ship, now, off, ground, at)
            if enters is None:
                continue
        found.append(
            Inside(
                name=ship.name, role=ship.role, area=ground.area.name, off_nmi=off, enters=enters,
                stale=ship.stale, fixed_at=ship.fixed_at,
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda one: (one.off_nmi, one.name)))


def _reckoned(ship: ShipState, at: datetime) -> Position:
    """Return where a ship is that has held course and speed since her fix."""
    hours = (at - ship.fixed_at).total_seconds() / 3600.0
    if not ship.speed_kn or ship.course_true_deg is None or hours <= 0.0:
        return ship.position
    return going(ship.position, ship.course_true_deg, ship.speed_kn * hours * M_PER_NMI)


def _enters(
    ship: ShipState, now: Position, off_nmi: float, ground: Ground, at: datetime
) -> datetime | None:
    """Return when a ship that holds her course comes within the radius in the next two hours.

    Her way is looked at so closely that none crosses the area between two looks.
    """
    hours, radius_nmi = SOON.total_seconds() / 3600.0, ground.area.radius_nmi
    if not ship.speed_kn or ship.course_true_deg is None or ground.centre is None:
        return None
    run_nmi = ship.speed_kn * hours
    if off_nmi > radius_nmi + run_nmi:
        return None
    looks = np.clip(run_nmi / radius_nmi * LOOKS_ACROSS, LOOKS, MOST_LOOKS)
    steps = np.arange(1, int(np.ceil(looks)) + 1)
    share = steps / len(steps)
    there = forward(
        now.latitude_deg, now.longitude_deg, ship.course_true_deg, run_nmi * share * M_PER_NMI
    )
    off_m = inverse(
        there.latitude_deg, there.longitude_deg, ground.centre.latitude_deg,
        ground.centre.longitude_deg,
    ).distance_m  # fmt: skip
    within = np.flatnonzero(off_m <= radius_nmi * M_PER_NMI)
    return at + timedelta(hours=float(hours * share[within[0]])) if len(within) else None


def _stopped(known: Known, what: str, ships: tuple[Inside, ...], at: datetime) -> Stopped:
    """Return how one thing stands with everybody in or near the area.

    A word of one ship goes before a word about all; of two the newer counts. Who has only been
    asked has not answered. What single ships have stopped says nothing of those nobody sees: only
    a word about all settles it.
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
    by = f"stopped by {', '.join(names)}; " if names else ""
    if general == "asked":
        return Stopped(what=what, safe=None, said=f"{by}asked of all, not answered", rests_on=rests)
    if general is None:
        return Stopped(what=what, safe=None, said=f"{by}others not asked", rests_on=rests)
    return Stopped(what=what, safe=True, said="stopped", rests_on=rests)


def _state(own: Entry | None, everybody: Entry | None) -> str:
    if own is None and everybody is None:
        return "not asked"
    if own is None or (everybody is not None and everybody.record.valid_at > own.record.valid_at):
        assert everybody is not None
        value: Stop = everybody.value
        return "asked, not answered" if value.state == "asked" else value.state
    return "asked, not answered" if own.value.state == "asked" else str(own.value.state)
