"""What is drawn: routes, fixes, tracks, speed vectors, dead reckoning, jumps and gaps."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from layers.earth import rhumb
from layers.earth.arrays import Floats
from layers.earth.chart.marks import (
    AnyMark,
    Freshness,
    LineMark,
    Path,
    PointMark,
    Style,
    Symbol,
)
from layers.earth.clock import clock_words, dtg, duration_words, hhmm, to_us
from layers.earth.position import Position
from layers.earth.said.quantity import figure
from layers.earth.units import M_PER_NMI
from layers.tracks import route_marks
from layers.tracks.model import Break, ShipTrack, TracksResult

DR_DRAWN_AFTER_S = 300.0


def marks(result: TracksResult) -> tuple[AnyMark, ...]:
    """Return the marks of the routes and of all ships shown."""
    found: list[AnyMark] = route_marks.marks(result.routes)
    found += route_marks.area_marks(result.areas)
    for ship in result.ships:
        found += _track(ship, result)
        found += _breaks(ship)
        found.append(_fix(ship, result.at))
        found += _ahead(ship, result)
    return tuple(found)


def _style(ship: ShipTrack) -> Style:
    if ship.role == "aircraft":
        return Style.AIRCRAFT
    return Style.TRAFFIC if ship.role == "other" else Style.SHIP


def _track(ship: ShipTrack, result: TracksResult) -> list[AnyMark]:
    first = int(np.searchsorted(ship.at_us, to_us(result.at) - int(ship.track_s * 1e6)))
    if len(ship.at_us) - first < 2:
        return []
    latitudes, longitudes = _broken(ship, first)
    return [
        LineMark(
            key=f"{ship.subject} track",
            style=_style(ship),
            latitudes_deg=latitudes,
            longitudes_deg=longitudes,
            path=Path.AS_GIVEN,
            width=1 if ship.role == "other" else 2,
            tooltip=f"{ship.name}: track of the last {ship.track_s / 3600:.0f} h, "
            f"{_drawn_words(ship, len(ship.at_us) - first)}{_limit_words(ship)}",
            source=ship.record_id,
            at=result.at,
        )
    ]


def track_words(ship: ShipTrack) -> str:
    """Return how much of a track was looked at: ``48 h``, or so many fixes."""
    if ship.shortened:
        return f"{figure(ship.fixes, 0)} fixes"
    return f"{ship.track_s / 3600:.0f} h of track"


def _drawn_words(ship: ShipTrack, drawn: int) -> str:
    if not ship.within_m:
        return f"{drawn} fixes, none smoothed"
    far = ship.within_m
    within = f"{far:.0f} m" if far < M_PER_NMI else f"{figure(far / M_PER_NMI, 0)} nmi"
    return f"drawn through {drawn} fixes, the others within {within} of it"


def _limit_words(ship: ShipTrack) -> str:
    return "; she sends so often that older ones are not drawn" if ship.shortened else ""


def _broken(ship: ShipTrack, first: int) -> tuple[Floats, Floats]:
    """Return the track with a NaN wherever it does not hold."""
    cut = np.flatnonzero(np.isin(ship.at_us[first:], [to_us(b.to_at) for b in ship.breaks]))
    latitudes = np.insert(ship.latitudes_deg[first:], cut, np.nan)
    longitudes = np.insert(ship.longitudes_deg[first:], cut, np.nan)
    return latitudes, longitudes


def _breaks(ship: ShipTrack) -> list[AnyMark]:
    return [_break(ship, number, each) for number, each in enumerate(ship.breaks)]


def _break(ship: ShipTrack, number: int, each: Break) -> LineMark:
    ends = [
        int(np.searchsorted(ship.at_us, to_us(each.from_at))),
        int(np.searchsorted(ship.at_us, to_us(each.to_at))),
    ]
    return LineMark(
        key=f"{ship.subject} {each.kind} {number}",
        style=_style(ship),
        latitudes_deg=ship.latitudes_deg[ends],
        longitudes_deg=ship.longitudes_deg[ends],
        path=Path.GEODESIC,
        width=1,
        dotted=True,
        freshness=Freshness.EXPECTED,
        disputed=each.kind == "jump",
        label="jump" if each.kind == "jump" and ship.role != "other" else "",
        tooltip=f"{ship.name}: {break_words(each)}",
        source=ship.record_id,
        at=each.to_at,
    )


def break_words(each: Break) -> str:
    """Return a jump or gap as one clause."""
    if each.kind == "jump":
        return (
            f"jump of {each.distance_nmi:.1f} nmi between {dtg(each.from_at)} and "
            f"{clock_words(each.to_at, each.from_at)}, "
            f"which would need {each.speed_kn:.0f} kn: {_false_one(each)}"
        )
    return (
        f"no fix for {duration_words(each.to_at - each.from_at)} from {dtg(each.from_at)} to "
        f"{dtg(each.to_at)}, {each.distance_nmi:.1f} nmi apart; where she was between is not known"
    )


def _false_one(each: Break) -> str:
    if each.alone is None:
        return "one of the two positions is false"
    alone = clock_words(each.alone, each.from_at)
    return f"the position of {alone} fits neither its neighbour before nor after"


def _fix(ship: ShipTrack, now: datetime) -> PointMark:
    age = duration_words(timedelta(seconds=ship.age_s))
    direction = ship.heading_true_deg if ship.heading_true_deg is not None else ship.course_true_deg
    motion = (
        f"{ship.course_true_deg:05.1f}°T at {ship.speed_kn:.1f} kn"
        if ship.course_true_deg is not None and ship.speed_kn is not None
        else "course and speed not known"
    )
    traffic = ship.role == "other"
    label = "" if traffic else f"{ship.name} {clock_words(ship.fixed_at, now)}"
    if ship.stale and not traffic:
        label += f", {age} old"
    return PointMark(
        key=f"{ship.subject} fix",
        style=_style(ship),
        position=ship.position,
        symbol=_symbol(ship, direction),
        heading_true_deg=direction,
        speed_kn=ship.speed_kn,
        freshness=Freshness.STALE if ship.stale else Freshness.KNOWN,
        disputed=ship.last_doubted,
        label=label,
        rank=1 if ship.role in ("support ship", "distress transmitter") else 5 if traffic else 3,
        tooltip=f"{ship.name} ({ship.role}), {ship.position}, fix of {dtg(ship.fixed_at)}, "
        f"{age} old; {motion}. AIS may be absent or false",
        source=ship.record_id,
        at=ship.fixed_at,
    )


def _symbol(ship: ShipTrack, direction: float | None) -> Symbol:
    if direction is None:
        return Symbol.FIX
    if ship.role == "aircraft":
        return Symbol.AIRCRAFT
    return Symbol.SUPPORT_SHIP if ship.role == "support ship" else Symbol.SHIP_OUTLINE


def _ahead(ship: ShipTrack, result: TracksResult) -> list[AnyMark]:
    found: list[AnyMark] = []
    if ship.course_true_deg is None or not ship.speed_kn or ship.speed_kn < 0.5:
        return found
    traffic = ship.role == "other"
    start = ship.position
    if not traffic and ship.expected is not None and ship.age_s >= DR_DRAWN_AFTER_S:
        found += _dead_reckoning(ship, ship.expected, ship.course_true_deg, result)
    if ship.expected is not None and not ship.stale:
        run_m = ship.speed_kn * M_PER_NMI * result.vector_minutes / 60.0
        latitude, longitude = rhumb.forward(
            start.latitude_deg, start.longitude_deg, ship.course_true_deg, run_m
        )
        found.append(
            LineMark(
                key=f"{ship.subject} vector",
                style=_style(ship),
                latitudes_deg=np.array([start.latitude_deg, float(latitude)]),
                longitudes_deg=np.array([start.longitude_deg, float(longitude)]),
                path=Path.RHUMB,
                width=1,
                arrow=True,
                tooltip=f"{ship.name}: speed vector of {result.vector_minutes:.0f} min, "
                f"{ship.course_true_deg:05.1f}°T at {ship.speed_kn:.1f} kn",
                source=ship.record_id,
                at=ship.fixed_at,
            )
        )
    return found


def _dead_reckoning(
    ship: ShipTrack, expected: Position, course_true_deg: float, result: TracksResult
) -> list[AnyMark]:
    trust = "" if ship.dead_reckoning_trusted else "; older than dead reckoning is trusted (1 h)"
    words = (
        f"{ship.name} by dead reckoning at {dtg(result.at)}: {expected}, from the fix of "
        f"{dtg(ship.fixed_at)} on {course_true_deg:05.1f}° true at {ship.speed_kn:.1f} kn"
        f"{trust}"
    )
    return [
        LineMark(
            key=f"{ship.subject} dead reckoning run",
            style=_style(ship),
            latitudes_deg=np.array([ship.position.latitude_deg, expected.latitude_deg]),
            longitudes_deg=np.array([ship.position.longitude_deg, expected.longitude_deg]),
            path=Path.RHUMB,
            width=1,
            freshness=Freshness.EXPECTED,
            tooltip=words,
            source=ship.record_id,
            at=result.at,
        ),
        PointMark(
            key=f"{ship.subject} dead reckoning",
            style=_style(ship),
            position=expected,
            symbol=Symbol.DEAD_RECKONING,
            heading_true_deg=course_true_deg,
            freshness=Freshness.EXPECTED,
            disputed=not ship.dead_reckoning_trusted or ship.last_doubted,
            label=f"{ship.name} DR {hhmm(result.at)}",
            rank=4,
            tooltip=words,
            source=ship.record_id,
            at=result.at,
        ),
    ]
