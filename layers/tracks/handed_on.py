"""What the tracks layer hands on: the ships taking part, and the ways of vehicles and carriers."""

from __future__ import annotations

from layers.earth.values import ShipState, TracksValue, WayOnSurface
from layers.tracks.model import ShipTrack, TracksResult

CARRIERS = ("support ship", "ship of opportunity", "rescue vehicle")


def hand(result: TracksResult) -> TracksValue:
    """Return the ships taking part as other layers need them."""
    ships = [ship for ship in result.ships if ship.role != "other"]
    return TracksValue(
        ships=tuple(_state(ship) for ship in ships),
        ways=tuple(_way(ship) for ship in ships if ship.role in CARRIERS and not ship.doubt),
    )


def _state(ship: ShipTrack) -> ShipState:
    return ShipState(
        name=ship.name,
        role=ship.role,
        position=ship.position,
        fixed_at=ship.fixed_at,
        course_true_deg=ship.course_true_deg,
        speed_kn=ship.speed_kn,
        heading_true_deg=ship.heading_true_deg,
        stale=ship.stale,
        doubt=ship.doubt,
    )


def _way(ship: ShipTrack) -> WayOnSurface:
    return WayOnSurface(
        name=ship.name,
        role=ship.role,
        at_us=ship.at_us,
        latitudes_deg=ship.latitudes_deg,
        longitudes_deg=ship.longitudes_deg,
        record=ship.record_id,
    )
