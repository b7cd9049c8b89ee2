"""XML that people send: read without entities, and the routes and tracks in it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Any, Literal
from xml.etree.ElementTree import Element  # nosec B405 - the type; defusedxml parses

from defusedxml import ElementTree
from defusedxml.common import DefusedXmlException

from layers.contract import Origin, Reading
from layers.earth.errors import InputError
from layers.journal.record import Draft, Reject, canonical


def parse_xml(data: bytes, origin: Origin) -> Element:
    """Return the root of an XML file; entities and outside references are refused.

    Raises
    ------
    InputError
        It is not whole XML, or it carries entities.
    """
    try:
        root: Element = ElementTree.fromstring(data, forbid_dtd=True)
    except DefusedXmlException:
        raise InputError(
            "it declares entities or a document type", where=origin.source, accepted="plain XML"
        ) from None
    except (ElementTree.ParseError, ValueError, LookupError) as failure:
        line = getattr(failure, "position", (None,))[0]
        at = f" from line {line} on" if line else ""
        raise InputError(
            f"it is not whole XML{at}: cut short or damaged", where=origin.source
        ) from None
    return root


def route_draft(origin: Origin, name: str, waypoints: Iterable[dict[str, Any]], form: str) -> Draft:
    """Return a route; its time is when it was received, since the file gives none.

    The same route from another file is the same route: its identity is its name and waypoints.
    """
    points = list(waypoints)
    said = canonical({"name": name[:200], "waypoints": points})
    return origin.draft(
        "tracks.route",
        {"name": name[:200], "waypoints": points, "from_format": form},
        identity=f"route:{hashlib.sha256(said.encode('utf-8', 'surrogatepass')).hexdigest()}",
    )


def waypoint(
    latitude: float,
    longitude: float,
    name: str,
    leg: Literal["great circle", "rhumb line"],
    where: str,
    speed_kn: float | None = None,
) -> dict[str, Any]:
    """Return one waypoint's payload.

    Raises
    ------
    InputError
        It is not on the earth.
    """
    if not (-90.0 <= latitude <= 90.0 and -180.0 <= longitude <= 180.0):
        raise InputError(
            f"{latitude}, {longitude} is not a position",
            where=where,
            accepted="latitude -90 to 90, longitude -180 to 180 degrees",
        )
    return {
        "latitude_deg": latitude,
        "longitude_deg": longitude,
        "name": name[:120],
        "leg": leg,
        "speed_kn": speed_kn,
    }


def refuse(reading: Reading, origin: Origin, reason: str, text: str = "") -> None:
    """Put a whole file, or a named piece of it, among the rejects."""
    reading.rejects.append(Reject(source=origin.source, line=None, text=text[:400], reason=reason))
