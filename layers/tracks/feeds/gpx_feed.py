"""GPX: tracks become positions, routes become routes.

References
----------
Topografix, GPX 1.0 (2002) and GPX 1.1 (2004) schema documentation. Its times are UTC.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import gpxpy
from gpxpy.gpx import GPXException

from layers.contract import Feed, Origin, Reading
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.tracks.feeds.log_dates import FIRST
from layers.tracks.feeds.route_files import parse_xml, refuse, route_draft, waypoint
from layers.tracks.feeds.same_fix import fix_identity


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are GPX."""
    return 0.98 if b"<gpx" in head[:4096].lower() else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return the positions of its tracks and the routes of a GPX file."""
    reading = Reading()
    try:
        parse_xml(data, origin)  # refuses entities before gpxpy sees them
        document = gpxpy.parse(data.decode("utf-8-sig", "replace"))
    except (InputError, GPXException, ValueError) as failure:
        refuse(reading, origin, f"a GPX file that cannot be read: {_plain(failure)}")
        return reading
    form = f"GPX {document.version or '1.1'}"
    whose: dict[str, str] = {}
    for number, track in enumerate(document.tracks):
        _track(reading, origin, number, track, form, whose)
    for number, route in enumerate(document.routes):
        _route(reading, origin, number, route, form)
    if document.waypoints:
        reading.passed_over["single waypoint, on no track or route"] = len(document.waypoints)
    return reading


FEED = Feed(
    key="gpx",
    title="GPX tracks and routes",
    recognise=recognise,
    read=read,
    stale_after_s=86_400.0,
)


def _track(
    reading: Reading, origin: Origin, number: int, track: Any, form: str, whose: dict[str, str]
) -> None:
    subject = f"gpx:{track.name or origin.source}"[:120]
    for segment in track.segments:
        for p, point in enumerate(segment.points):
            where = f"{origin.source}, track {number + 1}, point {p + 1}"
            if point.time is None:
                refuse(reading, origin, f"{where}: no time; a track needs one at every point")
                continue
            at_utc = _utc(point.time)
            if at_utc < FIRST:
                refuse(reading, origin, f"{where}: a time of {at_utc.year}, from a clock not set")
                continue
            try:
                at = waypoint(point.latitude, point.longitude, "", "rhumb line", where)
            except InputError as failure:
                refuse(reading, origin, str(failure))
                continue
            payload = {
                "subject": subject,
                "latitude_deg": at["latitude_deg"],
                "longitude_deg": at["longitude_deg"],
                "time_from": "file",
                "said_by": form,
            }
            identity = fix_identity(subject, to_us(at_utc), payload)
            # two names of one file at one place and time are two: a boat on board, rounded places
            if whose.setdefault(identity, subject) != subject:
                identity = f"{identity}:{subject}"
            reading.drafts.append(
                origin.draft("tracks.position", payload, at_utc, identity=identity)
            )


def _route(reading: Reading, origin: Origin, number: int, route: Any, form: str) -> None:
    name = route.name or f"{origin.source} route {number + 1}"
    try:
        points = [
            waypoint(
                point.latitude,
                point.longitude,
                point.name or "",
                "rhumb line",
                f"{origin.source}, route {number + 1}, point {place}",
            )
            for place, point in enumerate(route.points, start=1)
        ]
    except InputError as failure:
        refuse(reading, origin, str(failure), name)
        return
    if len(points) < 2:
        refuse(reading, origin, f"route {name!r} has fewer than two points")
        return
    reading.drafts.append(route_draft(origin, name, points, form))


def _plain(failure: Exception) -> str:
    """Return the reason of our own refusal; a library's words say nothing to who sent the file."""
    return str(failure) if isinstance(failure, InputError) else "it is not whole GPX"


def _utc(at: datetime) -> datetime:
    # GPX times are UTC by the schema even where the Z is left out.
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
