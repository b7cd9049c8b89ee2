"""Map files, GeoJSON and KML: shapes that a person says the meaning of.

A line may be a route or the edge of something, a point a sighting or a buoy. The file does not
say; the reader asks: route, area or evidence. Meant as routes its lines are routes, as areas its
polygons areas; as evidence each point is a sighting that says itself, in its properties, what was
seen, by whom, how well placed and when.

References
----------
RFC 7946, The GeoJSON Format (2016): WGS 84, longitude first. OGC 12-007r2, KML 2.2: the same.
"""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from xml.etree.ElementTree import Element  # nosec B405 - the type; defusedxml parses

from layers.contract import Feed, Origin, Reading
from layers.contract.cells import plain_number
from layers.contract.feed import ASKS_WHAT, MEANT
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.journal.record import Draft, canonical
from layers.tracks.feeds.kml_tracks import put_tracks
from layers.tracks.feeds.route_files import parse_xml, refuse, route_draft, waypoint

MOST_SHAPES, MOST_POINTS = 2_000, 5_000
SEEN = ("what", "object_type", "sigma_m", "observer")
_ONE = {"Point": "point", "LineString": "line", "Polygon": "polygon"}
MANY = {"route": "routes", "area": "areas", "evidence": "evidence"}
HOLED, UNREAD = "polygon with holes", "shape of a kind that is not read"
_MANY = {"MultiPoint": "point", "MultiLineString": "line", "MultiPolygon": "polygon"}


@dataclass(frozen=True, slots=True)
class MapShape:
    """One shape: its sort, its name, its vertices (latitude, longitude), what is said of it."""

    sort: str  # "point", "line", "polygon", or what is not read
    name: str
    vertices: tuple[tuple[float, float], ...]
    said: dict[str, Any]
    fault: str = ""  # why it is none


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are GeoJSON or KML."""
    start = head[:4096]
    # the form had another namespace before it became a standard, with the same shapes in it
    if b"<kml" in start and b"/kml/2." in start:
        return 0.98
    bare = start.lstrip(b"\xef\xbb\xbf \t\r\n")
    if bare[:1] == b"{" and any(
        f'"{word}"'.encode() in start for word in ("FeatureCollection", "Feature", *_ONE, *_MANY)
    ):
        return 0.9 if b'"coordinates"' in head and b'"type"' in head else 0.0
    return 0.0


def _without_shapes(data: bytes) -> str:
    """Return what a map file holds that has no shape, and what to do (OGC 12-007r2, KML 2.3)."""
    said = "no point, line or polygon in it"
    if b"<NetworkLink" in data:
        return f"{said}: it only points to another file (NetworkLink); save that one"
    return said


def read(data: bytes, origin: Origin) -> Reading:
    """Return what the shapes of a file are, as a person has said; or ask."""
    reading = Reading()
    try:
        kml = b"<kml" in data[:4096]
        if kml:
            root = parse_xml(data, origin)
            put_tracks(root, origin, reading)
        shapes = list(_kml(root) if kml else _geojson(data, origin))
        for shape in shapes:
            if shape.fault:
                refuse(reading, origin, f"{origin.source}, {shape.fault}", shape.name)
        shapes = [shape for shape in shapes if not shape.fault]
        if all(shape.sort == UNREAD for shape in shapes):
            if reading.drafts or reading.rejects:
                return reading
            raise InputError(_without_shapes(data), where=origin.source)
        if len(shapes) > MOST_SHAPES:
            raise InputError(f"{len(shapes)} shapes", where=origin.source,
                             accepted=f"at most {MOST_SHAPES}: cut the file")  # fmt: skip
    except InputError as failure:
        refuse(reading, origin, str(failure))
        return reading
    counted = Counter(shape.sort for shape in shapes)
    words = ", ".join(f"{n} {sort}{'s' if n != 1 else ''}" for sort, n in sorted(counted.items()))
    if origin.meant not in MEANT:
        reading.asks = f"{ASKS_WHAT}? {words}: say whether they are {', '.join(MEANT)}"
        reading.passed_over[f"shapes that wait for what they are: {words}"] = 1
        return reading
    form = "KML" if kml else "GeoJSON"
    for shape in shapes:
        try:
            draft = _draft(shape, origin, form)
        except InputError as failure:
            refuse(reading, origin, str(failure), shape.name)
            continue
        if draft is None:
            said = f"{shape.sort} in a file of {MANY[origin.meant]}"
            reading.passed_over[said] = reading.passed_over.get(said, 0) + 1
        else:
            reading.drafts.append(draft)
    return reading


def _draft(shape: MapShape, origin: Origin, form: str) -> Draft | None:
    """Return the record that a shape is, None where it is none of what was meant."""
    where = f"{origin.source}, {shape.name or shape.sort}"
    if len(shape.vertices) > MOST_POINTS:
        raise InputError(f"{len(shape.vertices)} vertices", where=where,
                         accepted=f"at most {MOST_POINTS}")  # fmt: skip
    points = [waypoint(lat, lon, "", "rhumb line", where) for lat, lon in shape.vertices]
    if origin.meant == "route" and shape.sort == "line" and len(points) > 1:
        return route_draft(origin, shape.name or origin.source, points, form)
    if origin.meant == "area" and shape.sort == HOLED:
        raise InputError("the polygon has a hole, which would be taken for a part of the area",
                         where=where, accepted="areas without holes")  # fmt: skip
    if origin.meant == "area" and shape.sort == "polygon":
        return _area(shape, origin, form)
    if origin.meant == "evidence" and shape.sort == "point":
        return _sighting(shape, origin, where)
    return None


def _area(shape: MapShape, origin: Origin, form: str) -> Draft:
    payload = {
        "name": (shape.name or origin.source)[:200],
        "vertices": [[lat, lon] for lat, lon in shape.vertices],
        "from_format": form,
    }
    ring = {"name": payload["name"], "ring": _ring(shape.vertices)}
    said = hashlib.sha256(canonical(ring).encode("utf-8", "surrogatepass")).hexdigest()
    return origin.draft("tracks.area", payload, identity=f"area:{said}")


def _ring(vertices: tuple[tuple[float, float], ...]) -> list[tuple[float, float]]:
    """Return a polygon's corners as they are the same from any corner on, round either way."""
    corners = [(round(lat, 5), round(lon, 5)) for lat, lon in vertices]
    corners = corners[:-1] if corners[0] == corners[-1] else corners
    first = corners.index(min(corners))
    turned = corners[first:] + corners[:first]
    return min(turned, [turned[0], *reversed(turned[1:])])


def _sighting(shape: MapShape, origin: Origin, where: str) -> Draft:
    missing = [name for name in SEEN if shape.said.get(name) in (None, "")]
    if missing or not shape.said.get("time"):
        lacks = ", ".join([*missing, *([] if shape.said.get("time") else ["time"])])
        raise InputError(f"the point does not say {lacks}", where=where,
                         accepted=f"properties {', '.join(SEEN)}, time with its zone")  # fmt: skip
    at: datetime = parse_time(str(shape.said["time"])[:60], f"{where}, time")
    ((lat, lon),) = shape.vertices
    try:
        sigma_m = plain_number(str(shape.said["sigma_m"]))
    except ValueError:
        sigma_m = math.nan
    if not 0.0 < sigma_m < math.inf:
        raise InputError(f"sigma_m {str(shape.said['sigma_m'])[:40]!r} is no error in metres",
                         where=where, accepted="a number above 0")  # fmt: skip
    payload = {
        "latitude_deg": lat,
        "longitude_deg": lon,
        "what": str(shape.said["what"])[:200],
        "object_type": str(shape.said["object_type"])[:80],
        "sigma_m": sigma_m,
        "observer": str(shape.said["observer"])[:80],
    }
    return origin.draft("datum.sighting", payload, at)


def _geojson(data: bytes, origin: Origin) -> Iterator[MapShape]:
    try:
        whole = json.loads(data.decode("utf-8-sig", "replace"))
    except (ValueError, RecursionError) as failure:
        line = getattr(failure, "lineno", 1)
        raise InputError(f"it is not whole JSON from line {line} on: cut short or damaged",
                         where=origin.source) from None  # fmt: skip
    _refuse_other_system(whole, origin)
    features = whole.get("features") if isinstance(whole, dict) and "features" in whole else [whole]
    for feature in features if isinstance(features, list) else []:
        if not isinstance(feature, dict):
            continue
        said = feature.get("properties")
        said = said if isinstance(said, dict) else {}
        geometry = feature.get("geometry", feature)
        if isinstance(geometry, dict):
            yield from _shapes(geometry, str(said.get("name") or "")[:200], said, origin)


def _refuse_other_system(whole: Any, origin: Origin) -> None:
    """Refuse coordinates that an older edition of the form let be in other systems than WGS 84."""
    held = whole.get("crs") if isinstance(whole, dict) else None
    if held is None:
        return
    named = held.get("properties") if isinstance(held, dict) else None
    name = str(named.get("name") if isinstance(named, dict) else held)
    if not re.search(r"(CRS:?:?84|EPSG:?:?[\d.]*:?4326)$", name.strip(), re.IGNORECASE):
        raise InputError(f"its coordinates are in the system {name[:60]!r}", where=origin.source,
                         accepted="longitude and latitude of WGS 84")  # fmt: skip


def _shapes(
    geometry: dict[str, Any], name: str, said: dict[str, Any], origin: Origin
) -> Iterator[MapShape]:
    sort, held = geometry.get("type"), geometry.get("coordinates")
    try:
        if sort in _ONE:
            yield _shape(_ONE[sort], held, name, said)
        elif sort in _MANY:
            for one in held or ():
                yield _shape(_MANY[sort], one, name, said)
        elif sort == "GeometryCollection":
            for one in geometry["geometries"]:
                yield from _shapes(one, name, said, origin)
        else:
            yield MapShape(UNREAD, name, (), said)
    except (AttributeError, KeyError, TypeError, ValueError, IndexError):
        yield MapShape("", name, (), said,
                       f"the coordinates of {name or sort!r} are not pairs of numbers")  # fmt: skip


def _shape(sort: str, held: Any, name: str, said: dict[str, Any]) -> MapShape:
    if sort == "polygon" and len(held) > 1:
        return MapShape(HOLED, name, (), said)
    pairs = [held] if sort == "point" else held[0] if sort == "polygon" else held
    return MapShape(sort, name, tuple((float(p[1]), float(p[0])) for p in pairs), said)


def _kml(root: Element) -> Iterator[MapShape]:
    space = root.tag[: root.tag.index("}") + 1] if "}" in root.tag else ""
    for mark in root.iter(f"{space}Placemark"):
        name = (mark.findtext(f"{space}name") or "").strip()[:200]
        said: dict[str, Any] = {
            str(held.get("name")): (held.findtext(f"{space}value") or "").strip()
            for held in mark.iter(f"{space}Data")
        }
        said.setdefault("time", mark.findtext(f"{space}TimeStamp/{space}when"))
        known = False
        for tag, sort in _ONE.items():
            for shape in mark.iter(f"{space}{tag}"):
                text = next((c.text or "" for c in shape.iter(f"{space}coordinates")), "")
                try:
                    vertices = tuple(
                        (float(one.split(",")[1]), float(one.split(",")[0])) for one in text.split()
                    )
                except (ValueError, IndexError):
                    wrong = f"the coordinates of {name or tag!r} are not numbers"
                    yield MapShape(sort, name, (), said, wrong)
                    known = True
                    continue
                if vertices and (sort != "point" or len(vertices) == 1):
                    known = True
                    holed = shape.find(f"{space}innerBoundaryIs") is not None
                    yield MapShape(HOLED if holed else sort, name, vertices, said)
        if not known and mark.find(".//{*}Track") is None:
            yield MapShape(UNREAD, name, (), said)


FEED = Feed(
    key="map",
    title="map file (GeoJSON, KML): routes, areas or evidence",
    recognise=recognise,
    read=read,
    stale_after_s=86_400.0,
)
