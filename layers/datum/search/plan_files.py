"""A pattern to send: GPX 1.1, RTZ 1.2, CSV and plain text.

References
----------
GPX 1.1 schema, topografix.com/GPX/1/1. RTZ route exchange format, IEC 61174 annex S, schemas
1.0 and 1.2 as CIRM publishes them (copies seen; a longitude is at least -180 and below 180).
"""

from __future__ import annotations

import csv
import io
from datetime import datetime
from xml.etree.ElementTree import Element, SubElement, indent, tostring  # nosec B405 - only writes

from layers.datum.search.patterns import Pattern
from layers.earth.clock import dtg
from layers.earth.said.quantity import figure
from layers.earth.said.written import dm_text
from layers.earth.units import M_PER_NMI

GPX_SPACE = "http://www.topografix.com/GPX/1/1"
RTZ_SPACES = {"1.0": "http://www.cirm.org/RTZ/1/0", "1.2": "http://www.cirm.org/RTZ/1/2"}
WARNING = "Not for navigation. Check every leg against the chart before steering it."


def _iso(at: datetime) -> str:
    return f"{at:%Y-%m-%dT%H:%M:%SZ}"


def _below_180(longitude_deg: float) -> str:
    """Return a longitude as RTZ takes it: the date line is -180."""
    said = f"{longitude_deg:.6f}"
    return "-180.000000" if said == "180.000000" else said


def _xml(root: Element) -> bytes:
    indent(root)
    body: str = tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'.encode()


def title(found: Pattern, exercise: str = "") -> str:
    """Return the name of a plan: exercise, searcher, pattern and start."""
    said = f"{found.searcher} {found.code} {dtg(found.turns[0].at)}"
    return f"{exercise} {said}" if exercise else said


def gpx(found: Pattern, exercise: str = "") -> bytes:
    """Return a GPX 1.1 route with the time of each corner."""
    root = Element("gpx", {"version": "1.1", "creator": "Musterplot", "xmlns": GPX_SPACE})
    head = SubElement(root, "metadata")
    SubElement(head, "name").text = title(found, exercise)
    SubElement(head, "desc").text = WARNING
    route = SubElement(root, "rte")
    SubElement(route, "name").text = title(found, exercise)
    for turn in found.turns:
        point = SubElement(
            route,
            "rtept",
            {
                "lat": f"{turn.position.latitude_deg:.6f}",
                "lon": f"{turn.position.longitude_deg:.6f}",
            },
        )
        SubElement(point, "time").text = _iso(turn.at)
        SubElement(point, "name").text = turn.name
    return _xml(root)


def rtz(found: Pattern, exercise: str = "", version: str = "1.2") -> bytes:
    """Return an RTZ route with a calculated schedule, in either public version.

    A waypoint carries its revision number, which the later copy of the 1.2 schema asks for.
    """
    root = Element("route", {"version": version, "xmlns": RTZ_SPACES[version]})
    SubElement(root, "routeInfo", {"routeName": title(found, exercise), "vesselName":
                                   found.searcher, "routeStatus": "planned"})  # fmt: skip
    points = SubElement(root, "waypoints")
    for number, turn in enumerate(found.turns, start=1):
        point = SubElement(
            points, "waypoint", {"id": str(number), "revision": "0", "name": turn.name}
        )
        SubElement(
            point,
            "position",
            {
                "lat": f"{turn.position.latitude_deg:.6f}",
                "lon": _below_180(turn.position.longitude_deg),
            },
        )
        if number > 1:
            SubElement(point, "leg", {"geometryType": "Orthodrome"})
    schedules = SubElement(root, "schedules")
    schedule = SubElement(schedules, "schedule", {"id": "1", "name": "as planned"})
    calculated = SubElement(schedule, "calculated")
    for number, turn in enumerate(found.turns, start=1):
        element = {"waypointId": str(number), "eta": _iso(turn.at)}
        if number == 1:
            element = {"waypointId": "1", "etd": _iso(turn.at)}
        else:
            element["speed"] = f"{found.speed_kn:.1f}"
        SubElement(calculated, "scheduleElement", element)
    return _xml(root)


def csv_text(found: Pattern, exercise: str = "") -> bytes:
    """Return the corners as CSV, one a row, units in the heads."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        ("number", "time_utc", "latitude_deg", "longitude_deg", "leg_nmi", "leg_searches", "plan")
    )
    lengths, flags = [0.0, *found.lengths_m()], (False, *found.searching)
    for turn, metres, searches in zip(found.turns, lengths, flags, strict=True):
        writer.writerow(
            (
                turn.name,
                _iso(turn.at),
                f"{turn.position.latitude_deg:.6f}",
                f"{turn.position.longitude_deg:.6f}",
                f"{metres / M_PER_NMI:.4f}",
                "yes" if searches else "no",
                title(found, exercise),
            )
        )
    return out.getvalue().encode()


def plain_text(found: Pattern, exercise: str = "") -> bytes:
    """Return the plan as text to be read out or sent by signal."""
    first, last = found.turns[0], found.turns[-1]
    hours = (last.at - first.at).total_seconds() / 3_600.0
    lines = [
        exercise,
        f"{found.searcher}: {found.title}",
        f"start {dtg(first.at)}, end {dtg(last.at)} ({hours:.1f} h) at {found.speed_kn:g} kn",
        f"track spacing {figure(found.spacing_m, 0)} m, track {found.track_m / M_PER_NMI:.1f} nmi",
        "",
        *(f"{turn.name:>3}  {dm_text(turn.position)}  {dtg(turn.at)}" for turn in found.turns),
        "",
        WARNING,
    ]
    return ("\n".join(line for number, line in enumerate(lines) if line or number) + "\n").encode()


def rtz_1_0(found: Pattern, exercise: str = "") -> bytes:
    """Return the route in RTZ 1.0, which older bridge equipment reads."""
    return rtz(found, exercise, "1.0")


FORMATS = {
    "gpx": (gpx, "application/gpx+xml"),
    "rtz": (rtz, "application/xml"),
    "rtz 1.0": (rtz_1_0, "application/xml"),
    "csv": (csv_text, "text/csv"),
    "txt": (plain_text, "text/plain"),
}
