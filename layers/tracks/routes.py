"""Routes as they were planned or imported: their legs, their lengths, whole."""

from __future__ import annotations

from datetime import datetime

import numpy as np

from layers.earth import geodesy, rhumb
from layers.journal.known import Known
from layers.tracks.model import DrawnArea, PlannedRoute, Route


def routes_of(known: Known, at: datetime) -> tuple[PlannedRoute, ...]:
    """Return the routes recorded by the time shown, the newest first."""
    entries = [entry for entry in known.entries("tracks.route") if entry.record.valid_at <= at]
    return tuple(
        planned(entry.value, entry.id, entry.record.valid_at, disputed=bool(entry.disputed))
        for entry in reversed(entries)
    )


def areas_of(known: Known, at: datetime) -> tuple[DrawnArea, ...]:
    """Return the areas recorded by the time shown, the newest first, each edge closed."""
    found = []
    for entry in reversed(known.entries("tracks.area")):
        if entry.record.valid_at > at:
            continue
        edge = entry.value.vertices
        edge = edge if edge[0] == edge[-1] else (*edge, edge[0])
        found.append(
            DrawnArea(
                name=entry.value.name,
                from_format=entry.value.from_format,
                latitudes_deg=np.array([lat for lat, _ in edge]),
                longitudes_deg=np.array([lon for _, lon in edge]),
                at=entry.record.valid_at,
                disputed=bool(entry.disputed),
                record_id=entry.id,
            )
        )
    return tuple(found)


def planned(route: Route, record_id: str, at: datetime, *, disputed: bool = False) -> PlannedRoute:
    """Return a route with the length of each leg by its own sailing, on WGS 84."""
    places = route.waypoints
    latitudes = np.array([place.latitude_deg for place in places])
    longitudes = np.array([place.longitude_deg for place in places])
    ends = (latitudes[:-1], longitudes[:-1], latitudes[1:], longitudes[1:])
    by_rhumb = rhumb.inverse(*ends)
    by_circle = geodesy.inverse(*ends)
    great = np.array([place.leg == "great circle" for place in places[1:]])
    return PlannedRoute(
        name=route.name,
        from_format=route.from_format,
        names=tuple(place.name for place in places),
        latitudes_deg=latitudes,
        longitudes_deg=longitudes,
        great_circle=great,
        leg_m=np.where(great, by_circle.distance_m, by_rhumb.distance_m),
        at=at,
        disputed=disputed,
        record_id=record_id,
    )
