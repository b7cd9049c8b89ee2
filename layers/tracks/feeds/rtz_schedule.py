"""The schedule of an RTZ route: planned times and speeds put to its waypoints.

References
----------
IEC 61174:2015, annex S (from memory): a schedule holds manual elements, as typed by the planner,
and calculated ones, worked out from them; times are UTC, speeds in knots over the leg that ends at
the waypoint.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from xml.etree.ElementTree import Element  # nosec B405 - the type; defusedxml parses

from layers.contract import Origin, Reading
from layers.earth.clock import iso
from layers.earth.geodesy import between
from layers.earth.plausible import SHIP_KN
from layers.earth.position import Position
from layers.earth.units import m_to_nmi
from layers.tracks.feeds.route_files import refuse

HOUR = timedelta(hours=1)


def put_schedule(
    root: Element,
    space: str,
    ids: list[str],
    points: list[dict[str, Any]],
    origin: Origin,
    reading: Reading,
) -> None:
    """Put the times and speeds of the first schedule to the waypoints, and tell what cannot be.

    What a planner typed goes before what was worked out from it. An element that contradicts
    itself or another is left out; the route stands.
    """
    schedules = [s for s in root.iterfind(f"{space}schedules/{space}schedule") if len(s)]
    if len(schedules) > 1:
        said = "further schedule of a route, not used"
        reading.passed_over[said] = len(schedules) - 1
    for form in ("calculated", "manual"):
        for held in schedules[:1]:
            for element in held.iterfind(f"{space}{form}/*"):
                _put(element, ids, points, origin, reading)
    _check_order(ids, points, origin, reading)


def _put(
    element: Element,
    ids: list[str],
    points: list[dict[str, Any]],
    origin: Origin,
    reading: Reading,
) -> None:
    named = element.get("waypointId", "")
    if ids.count(named) != 1:
        many = "no waypoint" if named not in ids else "more than one waypoint"
        refuse(reading, origin, f"the schedule speaks of {named[:20]!r}: {many} has that id")
        return
    point = points[ids.index(named)]
    for name in ("eta", "etd"):
        text = element.get(name)
        if text:
            at = _time(text)
            if at is None:
                said = f"waypoint {named[:20]}: {name.upper()} {text[:40]!r} is not a time"
                refuse(reading, origin, said)
            else:
                point[name] = iso(at)
    speed = element.get("speed")
    if speed:
        number = _number(speed)
        if number is None or not 0.0 < number <= 100.0:
            said = f"waypoint {named[:20]}: a planned speed of {speed[:20]!r} is none, in knots"
            refuse(reading, origin, said)
        else:
            point["speed_kn"] = number


def _time(text: str) -> datetime | None:
    try:
        at = datetime.fromisoformat(text.strip().upper())  # a small z is UTC too (RFC 3339)
    except ValueError:
        return None
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _check_order(
    ids: list[str], points: list[dict[str, Any]], origin: Origin, reading: Reading
) -> None:
    """Leave out times that go back, and those that ask for a speed that no ship has."""
    last: datetime | None = None
    run_nmi, before = 0.0, None
    for name, point in zip(ids, points, strict=True):
        here = Position(point["latitude_deg"], point["longitude_deg"])
        if before is not None:
            run_nmi += m_to_nmi(between(before, here)[0])
        before = here
        for key in ("eta", "etd"):
            text = point.get(key)
            if text is None:
                continue
            at, why = datetime.fromisoformat(text), ""
            if last is not None and at < last:
                why = "is before the time that stands before it"
            elif last is not None and run_nmi > SHIP_KN * (at - last) / HOUR:
                why = f"asks for more than {SHIP_KN:g} kn over {run_nmi:.0f} nmi"
            if why:
                said = f"waypoint {name[:20]}: {key.upper()} {text} {why}; it is left out"
                refuse(reading, origin, said)
                del point[key]
            else:
                last, run_nmi = at, 0.0
