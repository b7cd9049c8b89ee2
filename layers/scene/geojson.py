"""Marks as GeoJSON (RFC 7946): WGS 84, longitude first, cut at the date line."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from layers.earth.arrays import Floats
from layers.earth.chart.marks import AnyMark, AreaMark, GridMark, LineMark, PointMark
from layers.earth.clock import iso
from layers.earth.geodesy import densify
from layers.scene.release import Stamp

STEP_M = 20_000.0
DECIMALS = 7  # a centimetre


def geojson(marks: Iterable[tuple[str, AnyMark]], stamp: Stamp) -> str:
    """Return the marks as one FeatureCollection; the stamp is a foreign member.

    Grids are one polygon a cell with its value. RFC 7946 section 3.1.9: what crosses the date
    line is cut there; section 3.1.6: outer rings run counter-clockwise.
    """
    features = [feature for layer, mark in marks for feature in _features(layer, mark)]
    collection = {
        "type": "FeatureCollection",
        "musterplot": stamp.as_dict(),
        "features": features,
    }
    return json.dumps(collection, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def _features(layer: str, mark: AnyMark) -> Iterator[dict[str, Any]]:
    properties = _properties(layer, mark)
    if isinstance(mark, PointMark):
        place = [_round(mark.position.longitude_deg), _round(mark.position.latitude_deg)]
        yield _feature({"type": "Point", "coordinates": place}, properties)
    elif isinstance(mark, LineMark):
        lines = [part for run in runs(mark) for part in cut_line(run)]
        if lines:
            yield _feature({"type": "MultiLineString", "coordinates": lines}, properties)
    elif isinstance(mark, AreaMark):
        polygons = [part for run in runs(mark) for part in cut_area(run)]
        if polygons:
            yield _feature({"type": "MultiPolygon", "coordinates": polygons}, properties)
    else:
        yield from _cells(mark, properties)


def _cells(mark: GridMark, properties: dict[str, Any]) -> Iterator[dict[str, Any]]:
    corners = np.stack([mark.longitudes_deg, mark.latitudes_deg], axis=-1)
    rows, columns = np.nonzero(np.isfinite(mark.values) & (mark.values > 0))
    for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
        ring = corners[[row, row, row + 1, row + 1], [column, column + 1, column + 1, column]]
        polygons = cut_area(ring)
        if polygons:
            value = float(mark.values[row, column])
            yield _feature(
                {"type": "MultiPolygon", "coordinates": polygons},
                {**properties, "value": value, "unit": mark.unit},
            )


def _feature(geometry: dict[str, Any], properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def _properties(layer: str, mark: AnyMark) -> dict[str, Any]:
    return {
        "layer": layer,
        "key": mark.key,
        "style": str(mark.style),
        "label": mark.label,
        "text": mark.tooltip,
        "source": mark.source,
        "at": None if mark.at is None else iso(mark.at),
        "freshness": mark.freshness.value,
        "disputed": mark.disputed,
    }


def runs(mark: LineMark | AreaMark) -> list[Floats]:
    """Return the dense runs of a path as arrays (n, 2), longitude first."""
    latitudes, longitudes = densify(
        mark.latitudes_deg, mark.longitudes_deg, mark.path, max_step_m=STEP_M
    )
    points = np.column_stack([longitudes, latitudes])
    gaps = np.flatnonzero(~np.isfinite(points).all(axis=1))
    pieces = (piece[np.isfinite(piece).all(axis=1)] for piece in np.split(points, gaps))
    return [piece for piece in pieces if len(piece) > 1]


def _unwrapped(run: Floats) -> Floats:
    out = run.copy()
    out[:, 0] = np.unwrap(run[:, 0], period=360.0)
    return out


def _turns(geometry: BaseGeometry) -> Iterator[BaseGeometry]:
    """Yield the parts of an unwrapped geometry, each moved into -180 to 180."""
    west, _, east, _ = geometry.bounds
    for turn in range(int(np.floor((west + 180) / 360)), int(np.floor((east + 180) / 360)) + 1):
        window = box(turn * 360 - 180, -90, turn * 360 + 180, 90)
        part = geometry.intersection(window)
        if not part.is_empty:
            from shapely.affinity import translate

            yield translate(part, xoff=-360.0 * turn)


def cut_line(run: Floats) -> list[list[list[float]]]:
    """Return a run as lines of [longitude, latitude], cut at the date line."""
    parts: list[list[list[float]]] = []
    for part in _turns(LineString(_unwrapped(run))):
        lines = part.geoms if isinstance(part, MultiLineString) else [part]
        parts += [_coordinates(line.coords) for line in lines if line.geom_type == "LineString"]
    return parts


def cut_area(ring: Floats) -> list[list[list[list[float]]]]:
    """Return a ring as polygons of rings of [longitude, latitude], cut at the date line."""
    if len(ring) < 3:
        return []
    polygon = Polygon(_unwrapped(ring)).buffer(0)
    parts: list[list[list[list[float]]]] = []
    for part in _turns(polygon):
        polygons = part.geoms if isinstance(part, MultiPolygon) else [part]
        for one in polygons:
            if isinstance(one, Polygon) and not one.is_empty:
                turned = orient(one)
                parts.append(
                    [_coordinates(edge.coords) for edge in (turned.exterior, *turned.interiors)]
                )
    return parts


def _coordinates(coordinates: Iterable[tuple[float, ...]]) -> list[list[float]]:
    return [[_round(place[0]), _round(place[1])] for place in coordinates]


def _round(value: float) -> float:
    return round(float(value), DECIMALS)
