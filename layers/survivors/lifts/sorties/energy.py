"""The energy and the ballast of a sortie."""

from __future__ import annotations

from collections.abc import Mapping

from layers.earth.clock import US_PER_H
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.vehicle import Vehicle

MOVING = (Phase.DOWN, Phase.UP, Phase.RECOVER)


def transit_min(vehicle: Vehicle, depth_m: float) -> tuple[float, float]:
    """Return the minutes down and up to a depth in metres, at the entered speeds."""
    return depth_m / vehicle.speed_down_m_min, depth_m / vehicle.speed_up_m_min


def need_kwh(vehicle: Vehicle, walking: int, stretcher: int, depth_m: float) -> float:
    """Return the energy of a sortie at its most likely times, without the reserve.

    Parameters
    ----------
    vehicle : Vehicle
        Its powers (kW) and three-point times (min).
    walking, stretcher : int
        Whom it brings up.
    depth_m : float
        Depth of the rescue seat below the surface.
    """
    down, up = transit_min(vehicle, depth_m)
    moving = vehicle.launch.likely + down + up + vehicle.recover.likely
    at_seat = (
        vehicle.search.likely
        + vehicle.mate.likely
        + vehicle.away.likely
        + walking * vehicle.transfer_walking.likely
        + stretcher * vehicle.transfer_stretcher.likely
    )
    return (moving * vehicle.transit_kw + at_seat * vehicle.seat_kw) / 60.0


def power_kw(phase: Phase, vehicle: Vehicle) -> float:
    """Return what a vehicle draws in a phase, kW."""
    return vehicle.transit_kw if phase in MOVING else vehicle.seat_kw


def used_in(began_us: Mapping[Phase, int], vehicle: Vehicle, from_us: int, until_us: int) -> float:
    """Return the energy that phases told have used between two times, kWh.

    Parameters
    ----------
    began_us : mapping of Phase to int
        When each began, UTC microseconds.
    """
    told = sorted((us, phase) for phase, us in began_us.items())
    used = 0.0
    for number, (us, phase) in enumerate(told):
        until = told[number + 1][0] if number + 1 < len(told) else until_us
        used += max(until - max(us, from_us), 0) / US_PER_H * power_kw(phase, vehicle)
    return used


def ballast_kg(vehicle: Vehicle, walking: int, stretcher: int) -> float:
    """Return the water ballast given up, equal to the weight of those lifted.

    Common practice, no source.
    """
    return (walking + stretcher) * vehicle.person_kg
