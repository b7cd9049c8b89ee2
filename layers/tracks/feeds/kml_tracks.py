"""Tracks in KML: places with the time at each, which say by themselves what they are.

References
----------
OGC 12-007r2, KML 2.3, ``Track`` (from memory): as many ``when`` as ``coord``, the first to the
first; a ``coord`` is longitude, latitude and height with spaces between. Before 2.3 both stood in
a namespace of their own (``gx:``).
"""

from __future__ import annotations

from xml.etree.ElementTree import Element  # nosec B405 - the type; defusedxml parses

from layers.contract import Origin, Reading
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.tracks.feeds.route_files import clock_set, fix_draft, refuse, waypoint

MOST_FIXES = 100_000


def put_tracks(root: Element, origin: Origin, reading: Reading) -> None:
    """Put the fixes of a file's tracks into a reading; a fix that is none costs itself."""
    whose: dict[str, str] = {}
    for mark in root.iterfind(".//{*}Placemark"):
        name = (mark.findtext("{*}name") or "").strip() or origin.source
        for number, track in enumerate(mark.iterfind(".//{*}Track"), start=1):
            where = f"{origin.source}, {name[:80]}, track {number}"
            times = [(one.text or "").strip() for one in track.iterfind("{*}when")]
            places = [(one.text or "").split() for one in track.iterfind("{*}coord")]
            if len(times) != len(places) or len(reading.drafts) + len(times) > MOST_FIXES:
                said = f"{where}: {len(times)} times and {len(places)} places; accepted: a time"
                refuse(reading, origin, f"{said} for each place, at most {MOST_FIXES}")
                continue
            for point, (time, place) in enumerate(zip(times, places, strict=True), start=1):
                here = f"{where}, point {point}"
                try:
                    at = clock_set(parse_time(time, here), here)
                    fix = waypoint(*_degrees(place, here), "", "rhumb line", here)
                    reading.drafts.append(fix_draft(origin, name, fix, at, "KML track", whose))
                except InputError as failure:
                    refuse(reading, origin, str(failure))


def _degrees(place: list[str], where: str) -> tuple[float, float]:
    try:
        longitude, latitude = (float(figure) for figure in place[:2])
    except ValueError:
        raise InputError(f"{' '.join(place)[:60]!r} is not a place", where=where,
                         accepted="longitude and latitude in degrees") from None  # fmt: skip
    return latitude, longitude
