"""GPX: tracks become positions, routes become routes.

References
----------
Topografix, GPX 1.0 (2002) and GPX 1.1 (2004) schema documentation. Its times are UTC.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from xml.etree.ElementTree import Element  # nosec B405 - the type; defusedxml parses

from layers.contract import Feed, Origin, Reading
from layers.earth.errors import InputError
from layers.tracks.feeds.route_files import (
    clock_set,
    fix_draft,
    parse_xml,
    refuse,
    route_draft,
    waypoint,
)


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are GPX."""
    return 0.98 if b"<gpx" in head[:4096].lower() else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return the positions of its tracks and the routes of a GPX file."""
    reading = Reading()
    try:
        root = parse_xml(data, origin)
    except InputError as failure:
        refuse(reading, origin, f"a GPX file that cannot be read: {failure}")
        return reading
    space = root.tag[: root.tag.index("}") + 1] if "}" in root.tag else ""
    form = f"GPX {root.get('version', '1.1')[:8]}"
    whose: dict[str, str] = {}
    for number, track in enumerate(root.iterfind(f"{space}trk")):
        _track(reading, origin, number, track, form, whose)
    for number, route in enumerate(root.iterfind(f"{space}rte")):
        _route(reading, origin, number, route, form)
    if alone := len(root.findall(f"{space}wpt")):
        reading.passed_over["single waypoint, on no track or route"] = alone
    return reading


FEED = Feed(
    key="gpx",
    title="GPX tracks and routes",
    recognise=recognise,
    read=read,
    stale_after_s=86_400.0,
)


def _track(
    reading: Reading, origin: Origin, number: int, track: Element, form: str, whose: dict[str, str]
) -> None:
    name = _said(track, "name") or origin.source
    for segment in track.iterfind("{*}trkseg"):
        for p, point in enumerate(segment.iterfind("{*}trkpt")):
            where = f"{origin.source}, track {number + 1}, point {p + 1}"
            try:
                at = _time(point, where)
                fix = fix_draft(origin, name, _at(point, "", where), at, form, whose)
            except InputError as failure:
                refuse(reading, origin, str(failure))
                continue
            reading.drafts.append(fix)


def _route(reading: Reading, origin: Origin, number: int, route: Element, form: str) -> None:
    name = _said(route, "name") or f"{origin.source} route {number + 1}"
    try:
        points = [
            _at(point, _said(point, "name"), f"{origin.source}, route {number + 1}, point {place}")
            for place, point in enumerate(route.iterfind("{*}rtept"), start=1)
        ]
    except InputError as failure:
        refuse(reading, origin, str(failure), name)
        return
    if len(points) < 2:
        refuse(reading, origin, f"route {name!r} has fewer than two points")
        return
    reading.drafts.append(route_draft(origin, name, points, form))


def _said(element: Element, what: str) -> str:
    return (element.findtext(f"{{*}}{what}") or "").strip()


def _at(point: Element, name: str, where: str) -> dict[str, Any]:
    """Return a point as a waypoint; what stands beside its place is its own affair."""
    said = [point.get("lat", ""), point.get("lon", "")]
    try:
        latitude, longitude = map(float, said)
    except ValueError:
        raise InputError(f"{', '.join(said)[:60]!r} is not a position", where=where,
                         accepted="lat and lon in degrees") from None  # fmt: skip
    return waypoint(latitude, longitude, name, "rhumb line", where)


def _time(point: Element, where: str) -> datetime:
    text = _said(point, "time")
    if not text:
        raise InputError(f"{where}: no time; a track needs one at every point")
    try:
        at = datetime.fromisoformat(text.upper()) if len(text) > 10 else None
    except ValueError:
        at = None
    if at is None:
        raise InputError(f"{text[:40]!r} is not a time", where=where, accepted="a day and an hour")
    # GPX times are UTC by the schema even where the Z is left out
    return clock_set(at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC), where)
