"""XML that people send: read without entities, and the routes and tracks in it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, Literal
from xml.etree.ElementTree import Element  # nosec B405 - the type; defusedxml parses

from defusedxml import ElementTree
from defusedxml.common import DefusedXmlException

from layers.contract import Origin, Reading
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.journal.record import Draft, Reject, canonical
from layers.tracks.feeds.log_dates import FIRST
from layers.tracks.feeds.same_fix import fix_identity


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

    The same route from another file is the same route: its identity is its name and waypoints, to
    about a metre as a fix's.
    """
    points = list(waypoints)
    round_places = [
        {**point, **{key: round(point[key], 5) for key in ("latitude_deg", "longitude_deg")}}
        for point in points
    ]
    said = canonical({"name": name[:200], "waypoints": round_places})
    return origin.draft(
        "tracks.route",
        {"name": name[:200], "waypoints": points, "from_format": form},
        identity=f"route:{hashlib.sha256(said.encode('utf-8', 'surrogatepass')).hexdigest()}",
    )


def clock_set(at: datetime, where: str) -> datetime:
    """Return a time as it is.

    Raises
    ------
    InputError
        It is that of a clock which is not set.
    """
    if at < FIRST:
        raise InputError(f"a time of {at.year}, from a clock that is not set", where=where)
    return at


def fix_draft(
    origin: Origin,
    name: str,
    place: Mapping[str, Any],
    at: datetime,
    form: str,
    whose: dict[str, str],
) -> Draft:
    """Return one fix of a named track.

    Parameters
    ----------
    origin : Origin
        Its file.
    name : str
        Whose track it is.
    place : mapping
        As `waypoint` gives it.
    at : datetime
        When, UTC.
    form : str
        The form of the file, which said it.
    whose : dict
        The identities of the fixes taken before, and whose they were. Two names of one file at one
        place and time are two: a boat on board, rounded places.
    """
    payload = {
        "subject": (subject := f"gpx:{name}"[:120]),
        "latitude_deg": place["latitude_deg"],
        "longitude_deg": place["longitude_deg"],
        "time_from": "file",
        "said_by": form,
    }
    identity = fix_identity(subject, to_us(at), payload)
    if whose.setdefault(identity, subject) != subject:
        identity = f"{identity}:{subject}"
    return origin.draft("tracks.position", payload, at, identity=identity)


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
