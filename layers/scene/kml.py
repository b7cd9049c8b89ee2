"""Marks as KML 2.2 (OGC 07-147r2) and as GPX 1.1, written with the standard library."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from html import escape
from itertools import groupby
from xml.etree import ElementTree as Xml  # nosec B405  only writes; XML is read with defusedxml

from layers.catalogue import LAYERS
from layers.earth.chart.marks import AnyMark, AreaMark, GridMark, LineMark, PointMark
from layers.earth.clock import iso_s
from layers.scene.geojson import cut_area, cut_line, runs
from layers.scene.ink import Ink
from layers.scene.release import Stamp
from layers.scene.scene import source_words

LONGEST_NAME = 80
TITLES = {layer.key: layer.title for layer in LAYERS}
KML = "http://www.opengis.net/kml/2.2"
GPX = "http://www.topografix.com/GPX/1/1"


def kml(
    marks: Iterable[tuple[str, AnyMark]], stamp: Stamp, ink: Ink,
    cited: Mapping[str, int] | None = None,
) -> str:  # fmt: skip
    """Return the marks as one KML document, a folder a layer; grids are left out.

    ``cited`` holds the numbers of the records that marks rest on, by id.

    Colours are written aabbggrr, as OGC 07-147r2 has them.
    """
    root = Xml.Element("kml", xmlns=KML)
    document = _child(root, "Document")
    _child(document, "name", " · ".join(part for part in (stamp.banner, stamp.title) if part))
    _child(document, "description", _shown("\n".join((*stamp.lines(), stamp.attribution))))
    held = list(marks)
    for style in sorted({mark.style for _, mark in held}):
        entry = _child(document, "Style", id=str(style))
        colour = ink.of(style)
        written = f"ff{colour[5:7]}{colour[3:5]}{colour[1:3]}"
        _child(_child(entry, "IconStyle"), "color", written)
        line = _child(entry, "LineStyle")
        _child(line, "color", written)
        _child(line, "width", "2")
        fill = _child(entry, "PolyStyle")
        _child(fill, "color", "30" + written[2:])
    for layer, group in groupby(held, key=lambda pair: pair[0]):
        folder = _child(document, "Folder")
        _child(folder, "name", TITLES.get(layer, layer))
        for _, mark in group:
            if not isinstance(mark, GridMark):
                _placemark(folder, mark, cited or {})
    return _text(root)


def _placemark(
    folder: Xml.Element, mark: PointMark | LineMark | AreaMark, cited: Mapping[str, int]
) -> None:
    place = _child(folder, "Placemark")
    _child(place, "name", name_of(mark))
    _child(
        place,
        "description",
        _shown("\n".join(filter(None, (mark.tooltip, source_words(mark, cited))))),
    )
    if mark.at is not None:
        _child(_child(place, "TimeStamp"), "when", iso_s(mark.at))
    _child(place, "styleUrl", f"#{mark.style}")
    if isinstance(mark, PointMark):
        point = _child(place, "Point")
        where = f"{mark.position.longitude_deg:.7f},{mark.position.latitude_deg:.7f}"
        _child(point, "coordinates", where)
        return
    many = _child(place, "MultiGeometry")
    for run in runs(mark):
        if isinstance(mark, LineMark):
            for part in cut_line(run):
                line = _child(many, "LineString")
                _child(line, "tessellate", "1")
                _child(line, "coordinates", _places(part))
        else:
            for polygon in cut_area(run):
                area = _child(many, "Polygon")
                for number, ring in enumerate(polygon):
                    side = "innerBoundaryIs" if number else "outerBoundaryIs"
                    edge = _child(_child(area, side), "LinearRing")
                    _child(edge, "coordinates", _places(ring))


def gpx(marks: Iterable[tuple[str, AnyMark]], stamp: Stamp) -> str:
    """Return points as waypoints and lines as tracks, GPX 1.1; areas as closed tracks."""
    root = Xml.Element("gpx", xmlns=GPX, version="1.1", creator="Musterplot")
    about = _child(root, "metadata")
    _child(about, "name", stamp.title)
    _child(about, "desc", "\n".join((*stamp.lines(), stamp.attribution)))
    _child(about, "time", iso_s(stamp.moment.at))
    held = [mark for _, mark in marks if not isinstance(mark, GridMark)]
    for mark in held:
        if isinstance(mark, PointMark):
            point = _child(
                root,
                "wpt",
                lat=f"{mark.position.latitude_deg:.7f}",
                lon=f"{mark.position.longitude_deg:.7f}",
            )
            if mark.at is not None:
                _child(point, "time", iso_s(mark.at))
            _child(point, "name", name_of(mark))
            _child(point, "desc", mark.tooltip)
    for mark in held:
        if not isinstance(mark, PointMark):
            track = _child(root, "trk")
            _child(track, "name", name_of(mark))
            _child(track, "desc", mark.tooltip)
            for run in runs(mark):
                for part in cut_line(run):
                    segment = _child(track, "trkseg")
                    for longitude, latitude in part:
                        _child(segment, "trkpt", lat=f"{latitude:.7f}", lon=f"{longitude:.7f}")
    return _text(root)


def _child(
    parent: Xml.Element, tag: str, text: str | None = None, **attributes: str
) -> Xml.Element:
    element = Xml.SubElement(parent, tag, attributes)
    element.text = None if text is None else _clean(text)
    return element


def name_of(mark: AnyMark) -> str:
    """Return the name a person reads: its label, else how its tooltip begins, never a key."""
    told = mark.label or mark.tooltip.split("\n", 1)[0].partition(", ")[0].partition(": ")[0]
    return told[:LONGEST_NAME] or mark.key


def _shown(text: str) -> str:
    """Return text for a balloon, which KML 2.2 lets a viewer show as HTML (its 9.1.3.10.1)."""
    return escape(_clean(text), quote=False)


def _clean(text: str) -> str:
    """Return text without the characters that XML 1.0 cannot carry (its section 2.2)."""
    return "".join(c for c in text if c in "\t\n\r" or (ord(c) >= 32 and ord(c) not in _NOT_XML))


_NOT_XML = frozenset((*range(0xD800, 0xE000), 0xFFFE, 0xFFFF))


def _places(part: list[list[float]]) -> str:
    return " ".join(f"{longitude:.7f},{latitude:.7f}" for longitude, latitude in part)


def _text(root: Xml.Element) -> str:
    Xml.indent(root, space=" ")
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n' + Xml.tostring(root, encoding="unicode") + "\n"
    )
