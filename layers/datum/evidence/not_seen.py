"""A search that saw nothing, as it was told: by its track, or by its area and track spacing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Point, Polygon

from layers.datum.evidence.searched import RELIABLE, AreaNotSeenTerm, NotSeenTerm
from layers.datum.model import Waypoint
from layers.datum.search.detection import pod
from layers.datum.search.model import NegativeSearch
from layers.earth.arrays import Floats
from layers.earth.errors import InputError
from layers.earth.plane import Plane
from layers.earth.position import Position
from layers.earth.said.quantity import figure
from layers.earth.units import M_PER_NMI


@dataclass(frozen=True, slots=True, kw_only=True)
class NotSeen:
    """What a search adds: its term, words, and what is drawn of it."""

    term: NotSeenTerm | AreaNotSeenTerm
    says: str
    track: tuple[Position, ...]


def not_seen_term(value: NegativeSearch, plane: Plane) -> NotSeen:
    """Return the term of a search that saw nothing.

    Raises
    ------
    InputError
        An area that encloses nothing.
    """
    width = figure(value.sweep_width_m, 0)
    cut = ", cut short" if value.cut_short else ""
    if value.waypoints:
        x, y = _projected(value.waypoints, plane)
        length = float(np.hypot(np.diff(x), np.diff(y)).sum()) / M_PER_NMI
        return NotSeen(
            term=NotSeenTerm(
                x_m=x, y_m=y, sweep_width_m=value.sweep_width_m, curve=value.pod_curve
            ),
            says=f"{value.searcher} saw nothing along {length:.1f} nmi, sweep width {width} m{cut}",
            track=tuple(Position(p.latitude_deg, p.longitude_deg) for p in value.waypoints),
        )
    outline = area_outline(value, plane)
    assert value.spacing_m is not None  # the model refuses an area without it
    chance = float(pod(value.sweep_width_m / value.spacing_m, value.pod_curve)) * RELIABLE
    square_nmi = outline.area / M_PER_NMI**2
    corners = np.array(outline.exterior.coords)
    lat, lon = plane.unproject(corners[:, 0], corners[:, 1])
    return NotSeen(
        term=AreaNotSeenTerm(outline=outline, pod=chance),
        says=(
            f"{value.searcher} saw nothing in {square_nmi:.1f} nmi², tracks "
            f"{value.spacing_m / M_PER_NMI:.2f} nmi apart, sweep width {width} m{cut}"
        ),
        track=tuple(Position(float(a), float(o)) for a, o in zip(lat, lon, strict=True)),
    )


def area_outline(value: NegativeSearch, plane: Plane) -> Polygon:
    """Return the area of a search on the plane: a circle, a box by two corners, or a polygon."""
    x, y = _projected(value.area, plane)
    if len(x) == 1:
        found = Point(x[0], y[0]).buffer(value.radius_m or 0.0, quad_segs=32)
    elif len(x) == 2:
        lat = [point.latitude_deg for point in value.area]
        lon = [point.longitude_deg for point in value.area]
        if abs(lon[0] - lon[1]) > 180.0:  # the box lies across the date line
            lon = [degrees % 360.0 for degrees in lon]
        corners = plane.project(
            np.array([lat[0], lat[0], lat[1], lat[1]]), np.array([lon[0], lon[1], lon[1], lon[0]])
        )
        found = Polygon(np.column_stack(corners))
    else:
        found = Polygon(np.column_stack([x, y]))
    if not found.is_valid:
        found = found.convex_hull
    if found.area < 1.0:
        raise InputError(
            "an area that encloses nothing", where="search", accepted="corners that differ"
        )
    return found


def _projected(points: tuple[Waypoint, ...], plane: Plane) -> tuple[Floats, Floats]:
    lat = np.array([point.latitude_deg for point in points])
    lon = np.array([point.longitude_deg for point in points])
    return plane.project(lat, lon)
