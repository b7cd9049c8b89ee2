"""RTZ route exchange files, editions 1.0 and 1.2.

References
----------
IEC 61174:2015, annex S (RTZ 1.0 and its successor 1.2; the annex from memory, the element names
checked against two public files of each edition). A leg without ``geometryType`` is a rhumb
line (loxodrome).
"""

from __future__ import annotations

from typing import Any
from xml.etree.ElementTree import Element  # nosec B405 - the type; defusedxml parses

from layers.contract import Feed, Origin, Reading
from layers.earth.errors import InputError
from layers.journal.record import Draft
from layers.tracks.feeds.route_files import parse_xml, refuse, route_draft, waypoint

EDITIONS = ("1.0", "1.1", "1.2")
_SPACE = "http://www.cirm.org/RTZ/"


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are an RTZ route."""
    return 0.99 if b"<route" in head[:4096] and _SPACE.encode() in head[:4096] else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return the route of an RTZ file."""
    reading = Reading()
    try:
        root = parse_xml(data, origin)
        reading.drafts.append(_route(root, origin))
    except InputError as failure:
        refuse(reading, origin, str(failure))
    return reading


FEED = Feed(
    key="rtz",
    title="RTZ route",
    recognise=recognise,
    read=read,
    stale_after_s=86_400.0,
)


def _route(root: Element, origin: Origin) -> Draft:
    edition = root.get("version", "")
    if not root.tag.startswith("{" + _SPACE) or edition not in EDITIONS:
        raise InputError(
            f"RTZ edition {edition!r}", where=origin.source, accepted=", ".join(EDITIONS)
        )
    space = root.tag[: root.tag.index("}") + 1]
    info = root.find(f"{space}routeInfo")
    name = (info.get("routeName") if info is not None else None) or origin.source
    points = [
        _waypoint(element, space, f"{origin.source}, waypoint {element.get('id', place)}")
        for place, element in enumerate(root.iterfind(f"{space}waypoints/{space}waypoint"))
    ]
    if len(points) < 2:
        raise InputError(f"route {name!r} has fewer than two waypoints", where=origin.source)
    return route_draft(origin, "route", name, points, f"RTZ {edition}")


def _waypoint(element: Element, space: str, where: str) -> dict[str, Any]:
    place = element.find(f"{space}position")
    try:
        at = place.attrib if place is not None else {}
        latitude, longitude = float(at["lat"]), float(at["lon"])
    except (KeyError, ValueError):
        raise InputError(
            "no position, or not a number", where=where, accepted="lat and lon in degrees"
        ) from None
    leg = element.find(f"{space}leg")
    great = leg is not None and leg.get("geometryType", "").lower() == "orthodrome"
    return waypoint(
        latitude,
        longitude,
        element.get("name", ""),
        "great circle" if great else "rhumb line",
        where,
        _speed(leg),
    )


def _speed(leg: Element | None) -> float | None:
    """Return the leg's planned speed in knots, None where the file gives none."""
    try:
        speed = float(leg.get("speedMax", "")) if leg is not None else 0.0
    except ValueError:
        return None
    return speed if speed > 0.0 else None
