"""Each ship and aircraft: last fix and its age, dead reckoning ahead, arrival at the datum."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt

from layers.contract import Moment, Others
from layers.earth import rhumb
from layers.earth.block import middle_of
from layers.earth.clock import duration_words, from_us, to_us
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.said.alike import told_apart
from layers.earth.tells import Tells
from layers.earth.units import M_PER_NMI, S_PER_H
from layers.earth.values import DatumValue
from layers.journal.known import Known
from layers.journal.naming import data_folder
from layers.journal.releases.released import withholds
from layers.tracks import apart, follow, meeting, thinned
from layers.tracks.approaches import approaches
from layers.tracks.doubts import coastline, doubted
from layers.tracks.heard_ais import heard_aids, heard_texts
from layers.tracks.model import ShipTrack, TracksResult, role_of
from layers.tracks.routes import areas_of, routes_of

# Our own figures, common practice, no source.
DR_TRUSTED_S = 3600.0  # course and speed are believed to be held for this long
DR_AT_MOST_S = 24 * 3600.0
VECTOR_MINUTES = 30.0
TRAFFIC_DRAWN = 200
TRAFFIC_WITHIN_S = 6 * 3600.0
TRACK_S = 48 * 3600.0  # the track that is looked at ends at the last fix and is this long
TRAFFIC_TRACK_S = 3 * 3600.0
MOST_FIXES = 20_000  # of one ship: five and a half hours at one a second
SECOND = " second"  # behind the subject of another who sends under it
MOST_BREAKS = 100  # of one ship, the newest; a jammed receiver makes thousands


@dataclass(frozen=True, slots=True, kw_only=True)
class _Who:
    """What is known of a subject beside its positions."""

    name: str
    role: str
    mmsi: int | None
    length_m: float | None
    max_speed_kn: float | None
    entered: bool
    record_id: str | None


def compute(known: Known, others: Others, moment: Moment) -> TracksResult:
    """Return every ship taking part, the traffic near and the routes, as known and shown.

    Raises
    ------
    InputError
        There are no positions yet, and no routes.
    """
    until = min(moment.at, moment.as_of)
    withheld = withholds(known, Tells.POSITION)
    last = known.latest("tracks.position", until)
    planned, areas = routes_of(known, moment.at), areas_of(known, moment.at)
    texts, aids = heard_texts(known, until), heard_aids(known, until)
    if not len(last["seq"]) and not planned and not withheld and not (texts or aids or areas):
        raise InputError(
            "no position of any ship or aircraft is known yet, and no route",
            accepted="an NMEA, AIS, GPX or RTZ file or stream, or a position typed by the watch",
        )
    datum_value = others.get("datum")
    where = datum_value.where if isinstance(datum_value, DatumValue) else None
    datum = where if isinstance(where, Position) else None
    around = None if where is None else middle_of(where)
    who = _who(known, moment.at)
    chosen, undrawn = _choose(last, who, around, to_us(moment.at))
    columns = known.stretches("tracks.position", _asked(last, chosen, who), MOST_FIXES)
    found = follow.sort_positions(columns, to_us(until))
    place = {subject: k for k, subject in enumerate(found.subjects)}
    ids = columns["id"]
    fixes = Counter(columns["subject"].tolist())
    shortened = {subject for subject, count in fixes.items() if count >= MOST_FIXES}
    ships = tuple(
        ship
        for subject in last["subject"][chosen].tolist()
        for ship in _ships(
            found, place[subject], who.get(subject), ids, datum, moment.at, subject in shortened
        )
    )
    entered = frozenset(subject for subject, about in who.items() if about.entered)
    ships = doubted(ships, entered, coastline(data_folder() / "land"))
    named = [ship for ship in ships if ship.role != "other"]
    people = tuple(w.record_id for w in who.values() if w.record_id is not None)
    return TracksResult(
        at=moment.at,
        ships=ships,
        approaches=approaches(named, datum, moment.at),
        where=where,
        unseen=tuple(w.name for w in who.values() if w.entered and w.role != "other")
        if withheld
        else (),
        subjects=len(last["seq"]),
        undrawn=undrawn,
        vector_minutes=VECTOR_MINUTES,
        rests_on=(
            *(ship.record_id for ship in ships),
            *people,
            *(route.record_id for route in planned),
            *(text.record_id for text in texts),
            *(aid.record_id for aid in aids),
            *(area.record_id for area in areas),
        ),
        routes=planned,
        texts=texts,
        aids=aids,
        areas=areas,
    )


def _who(known: Known, at: datetime) -> dict[str, _Who]:
    """Return who is who: what the watch entered goes before what a transmitter says."""
    named = known.latest("tracks.static", having="name")
    sized = known.latest("tracks.static", having="length_m")
    names = dict(zip(named["subject"].tolist(), named["name"].tolist(), strict=True))
    lengths = dict(zip(sized["subject"].tolist(), sized["length_m"].tolist(), strict=True))
    found = {
        subject: _Who(
            name=names.get(subject, ""),
            role=role_of(subject),
            mmsi=_mmsi_of(subject),
            length_m=lengths.get(subject),
            max_speed_kn=None,
            entered=False,
            record_id=None,
        )
        for subject in {**names, **lengths}
    }
    for entry in known.entries("tracks.vessel"):
        if entry.record.valid_at > at:
            continue
        value = entry.value
        before = found.get(value.subject)
        found[value.subject] = _Who(
            name=value.name,
            role=value.role,
            mmsi=value.mmsi or _mmsi_of(value.subject),
            length_m=value.length_m or (before.length_m if before else None),
            max_speed_kn=value.max_speed_kn,
            entered=True,
            record_id=entry.id,
        )
    names = told_apart(
        {subject: about.name for subject, about in found.items()},
        [subject for subject, about in found.items() if about.entered],
        {s: f"MMSI {about.mmsi}" if about.mmsi else s for s, about in found.items()},
    )
    return {subject: replace(about, name=names[subject]) for subject, about in found.items()}


def _choose(
    last: dict[str, npt.NDArray[Any]], who: dict[str, _Who], datum: Position | None, at_us: int
) -> tuple[list[int], int]:
    """Return the rows of the subjects shown, and how many are not.

    All that take part, in the order in which the watch entered them, then the nearest fresh
    traffic.
    """
    subjects = last["subject"].tolist()
    entered = {subject: n for n, (subject, about) in enumerate(who.items()) if about.entered}
    special = [k for k, s in enumerate(subjects) if s in entered or role_of(s) != "other"]
    special.sort(key=lambda k: entered.get(subjects[k], len(entered)))
    traffic = np.setdiff1d(np.arange(len(subjects)), special)
    age_s = (at_us - last["valid_at_us"][traffic]) / 1e6
    fresh = traffic[age_s <= TRAFFIC_WITHIN_S]
    if datum is not None and len(fresh):
        distance = follow.great_circle_m(
            np.full(len(fresh), datum.latitude_deg),
            np.full(len(fresh), datum.longitude_deg),
            last["latitude_deg"][fresh],
            last["longitude_deg"][fresh],
        )
        order = np.argsort(distance, kind="stable")
    else:
        order = np.argsort(-last["valid_at_us"][fresh], kind="stable")
    near = fresh[order[:TRAFFIC_DRAWN]].tolist()
    return special + near, len(traffic) - len(near)


def _asked(
    last: dict[str, npt.NDArray[Any]], chosen: list[int], who: dict[str, _Who]
) -> dict[str, tuple[int, int]]:
    """Return from when to when each track is looked at: it ends at her last fix."""
    found = {}
    for k in chosen:
        subject, ends = str(last["subject"][k]), int(last["valid_at_us"][k])
        found[subject] = (ends - int(_track_s(who.get(subject), subject) * 1e6), ends)
    return found


def _track_s(about: _Who | None, subject: str) -> float:
    role = about.role if about else role_of(subject)
    return TRAFFIC_TRACK_S if role == "other" else TRACK_S


def _ships(
    found: follow.Sorted,
    k: int,
    about: _Who | None,
    ids: npt.NDArray[Any],
    datum: Position | None,
    at: datetime,
    shortened: bool,
) -> list[ShipTrack]:
    """Return who sends one subject's positions: her, and a second one where it cannot be her."""
    subject = found.subjects[k]
    rows = slice(int(found.starts[k]), int(found.starts[k + 1]))
    role = about.role if about else role_of(subject)
    otherwise = follow.AIRCRAFT_LIMIT_KN if role == "aircraft" else follow.SHIP_LIMIT_KN
    limit = apart.reach_kn(about.max_speed_kn if about else None, otherwise)
    told = apart.told_apart(found, rows, limit)
    own, doubt = follow.only(found, rows, told.own), ""
    second = follow.only(found, rows, told.other) if len(told.other) else None
    if second is not None and not told.settled:
        away_m = follow.great_circle_m(
            own.latitudes_deg[-1:],
            own.longitudes_deg[-1:],
            second.latitudes_deg[-1:],
            second.longitudes_deg[-1:],
        )
        doubt = (
            f"two send her number, {float(away_m[0]) / M_PER_NMI:.0f} nmi apart: one of them is "
            "not she; hers is taken to be the track seen for longest"
        )
    elif len(told.clock):
        when = "before" if told.clock_s > 0 else "after"
        doubt = (
            f"{len(told.clock)} of her newest fixes repeat where she was "
            f"{duration_words(timedelta(seconds=abs(told.clock_s)))} {when}: a clock is wrong, "
            "they are left out"
        )
    ships = [_ship(own, subject, about, ids, datum, at, shortened, limit, doubt)]
    if second is not None:
        name = about.name if about and about.name else subject
        stranger = _Who(
            name=f"second with the number of {name}",
            role="other",
            mmsi=about.mmsi if about else None,
            length_m=None,
            max_speed_kn=None,
            entered=False,
            record_id=None,
        )
        key = f"{subject}{SECOND}"
        ships.append(_ship(second, key, stranger, ids, datum, at, shortened, limit, doubt))
    return ships


def _ship(
    found: follow.Sorted,
    subject: str,
    about: _Who | None,
    ids: npt.NDArray[Any],
    datum: Position | None,
    at: datetime,
    shortened: bool,
    limit_kn: float,
    doubt: str,
) -> ShipTrack:
    rows = slice(0, len(found.at_us))
    last = rows.stop - 1
    role = about.role if about else role_of(subject)
    broken = follow.breaks(found, rows, limit_kn, MOST_BREAKS)
    found_breaks = broken.newest
    fixed_at = from_us(int(found.at_us[last]))
    age_s = (at - fixed_at).total_seconds()
    jumped = bool(
        found_breaks
        and found_breaks[-1].kind == "jump"
        and found_breaks[-1].to_at == fixed_at
        and found_breaks[-1].alone is None
    )
    if jumped and not doubt:
        doubt = "last fix is a jump from the one before, not settled"
    speed, course = _number(found.speed_kn[last]), _number(found.course_true_deg[last])
    if (speed is None or course is None) and not jumped:
        worked = follow.made_good(
            found.at_us, found.latitudes_deg, found.longitudes_deg, found.step_m
        )
        if worked:
            speed, course = worked
    position = Position(float(found.latitudes_deg[last]), float(found.longitudes_deg[last]))
    best = about.max_speed_kn if about else None
    expected = dead_reckon(position, course, speed, age_s)
    whole = np.isin(found.at_us, [to_us(end) for b in found_breaks for end in (b.from_at, b.to_at)])
    drawn, within_m = thinned.thinned(
        found.latitudes_deg,
        found.longitudes_deg,
        found.step_m,
        whole,
        thinned.MOST_OF_TRAFFIC if role == "other" else thinned.MOST_OF_PARTY,
    )
    return ShipTrack(
        subject=subject,
        name=(about.name if about and about.name else subject),
        role=role,
        mmsi=about.mmsi if about else _mmsi_of(subject),
        length_m=about.length_m if about else None,
        max_speed_kn=best,
        at_us=found.at_us[drawn],
        latitudes_deg=found.latitudes_deg[drawn],
        longitudes_deg=found.longitudes_deg[drawn],
        fixes=len(found.at_us),
        within_m=within_m,
        position=position,
        fixed_at=fixed_at,
        age_s=age_s,
        stale=age_s > follow.STALE_AFTER_S,
        speed_kn=speed,
        course_true_deg=course,
        heading_true_deg=_number(found.heading_true_deg[last]),
        expected=expected,
        dead_reckoning_trusted=age_s <= DR_TRUSTED_S,
        track_s=_track_s(about, subject),
        reach_kn=limit_kn,
        shortened=shortened,
        breaks=found_breaks,
        jumps=broken.jumps,
        gaps=broken.gaps,
        doubt=doubt,
        arrival=(
            None
            if role == "other" or jumped
            else meeting.eta(expected, datum, at, speed, course, best)
        ),
        record_id=str(ids[found.row[last]]),
    )


def dead_reckon(
    position: Position, course_true_deg: float | None, speed_kn: float | None, age_s: float
) -> Position | None:
    """Return the place after holding course (a rhumb line) and speed for a time.

    None without a speed, without a course while moving, or after more than a day.
    """
    if speed_kn is None or age_s > DR_AT_MOST_S or age_s < 0:
        return None
    run_m = speed_kn * M_PER_NMI * age_s / S_PER_H
    if run_m < 1.0:
        return position
    if course_true_deg is None:
        return None
    latitude, longitude = rhumb.forward(
        position.latitude_deg, position.longitude_deg, course_true_deg, run_m
    )
    return Position(float(latitude), float(longitude)) if np.isfinite(latitude) else None


def _number(value: Any) -> float | None:
    number = float(value)
    return number if number == number else None


def _mmsi_of(subject: str) -> int | None:
    kind, _, rest = subject.partition(":")
    return int(rest) if kind == "mmsi" and rest.isdigit() else None
