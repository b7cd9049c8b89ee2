"""RTZ route exchange files, editions 1.0 and 1.2.

References
----------
IEC 61174:2015, annex S (RTZ 1.0 and its successor 1.2; the annex from memory, the element names
checked against two public files of each edition). A leg without ``geometryType`` is a rhumb
line (loxodrome). The speed planned and the times stand in the schedules; ``speedMax`` of a leg is
a limit of the ship there, not what is planned, and is not used.
"""

from __future__ import annotations

from typing import Any
from xml.etree.ElementTree import Element  # nosec B405 - the type; defusedxml parses

from layers.contract import Feed, Origin, Reading
from layers.earth.errors import InputError
from layers.journal.record import Draft
from layers.tracks.feeds.route_files import parse_xml, refuse, route_draft, waypoint
from layers.tracks.feeds.rtz_schedule import put_schedule

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
        reading.drafts.append(_route(root, origin, reading))
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


def _route(root: Element, origin: Origin, reading: Reading) -> Draft:
    edition = root.get("version", "")
    if not root.tag.startswith("{" + _SPACE) or edition not in EDITIONS:
        raise InputError(
            f"RTZ edition {edition!r}", where=origin.source, accepted=", ".join(EDITIONS)
        )
    space = root.tag[: root.tag.index("}") + 1]
    info = root.find(f"{space}routeInfo")
    name = (info.get("routeName") if info is not None else None) or origin.source
    elements = list(root.iterfind(f"{space}waypoints/{space}waypoint"))
    usual = root.find(f"{space}waypoints/{space}defaultWaypoint/{space}leg")
    shape = "" if usual is None else usual.get("geometryType", "")
    points = [
        _waypoint(
            element,
            space,
            f"{origin.source}, waypoint {element.get('id', place)}",
            origin,
            reading,
            shape,
        )
        for place, element in enumerate(elements, start=1)
    ]
    if len(points) < 2:
        raise InputError(f"route {name!r} has fewer than two waypoints", where=origin.source)
    ids = [element.get("id", "") for element in elements]
    _check_ids(ids, elements, origin, reading)
    put_schedule(root, space, ids, points, origin, reading)
    return route_draft(origin, name, points, f"RTZ {edition}")


def _check_ids(ids: list[str], elements: list[Element], origin: Origin, reading: Reading) -> None:
    """Tell of waypoints that cannot be named; they stand in the route all the same."""
    for place, (one, element) in enumerate(zip(ids, elements, strict=True), start=1):
        revision = element.get("revision", "0")
        if not one:
            refuse(reading, origin, f"waypoint {place} has no id; it stands in the route without")
        elif ids.index(one) != place - 1:
            said = f"waypoint id {one[:20]!r} stands there twice: a schedule cannot tell them apart"
            refuse(reading, origin, said)
        if not revision.isdigit():
            refuse(
                reading,
                origin,
                f"waypoint {place} has the revision {revision[:20]!r}, which is none",
            )


def _waypoint(
    element: Element, space: str, where: str, origin: Origin, reading: Reading, usual: str
) -> dict[str, Any]:
    place = element.find(f"{space}position")
    try:
        at = place.attrib if place is not None else {}
        latitude, longitude = float(at["lat"]), float(at["lon"])
    except (KeyError, ValueError):
        raise InputError(
            "no position, or not a number", where=where, accepted="lat and lon in degrees"
        ) from None
    leg = element.find(f"{space}leg")
    # what a leg does not say the default waypoint says for all
    shape = (usual if leg is None else leg.get("geometryType", usual)).lower()
    if shape not in ("", "orthodrome", "loxodrome"):
        said = f"{where}: a leg of the shape {shape[:20]!r}; taken as a rhumb line"
        refuse(reading, origin, said)
    great = shape == "orthodrome"
    return waypoint(
        latitude,
        longitude,
        element.get("name", ""),
        "great circle" if great else "rhumb line",
        where,
    )
