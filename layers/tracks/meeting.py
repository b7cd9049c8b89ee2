"""Closest approach, the current triangle and times of arrival.

Closest approach is worked on a plane that touches the earth at the first of the two, which
is right to 0.1 % within 100 nmi; both are taken to hold course and speed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

from layers.earth import geodesy, rhumb
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.tracks.model import Arrival


@dataclass(frozen=True, slots=True)
class Moving:
    """A position with a course and speed held from it."""

    position: Position
    course_true_deg: float
    speed_kn: float

    def velocity_kn(self) -> tuple[float, float]:
        """Return the east and north components of the velocity."""
        course = math.radians(self.course_true_deg)
        return self.speed_kn * math.sin(course), self.speed_kn * math.cos(course)


def closest_approach(first: Moving, second: Moving) -> tuple[float, float]:
    """Return (CPA in nmi, time to it in hours; 0 when they are already opening).

    Notes
    -----
    With relative position r and relative velocity v, t = −r·v / v·v and CPA = |r + v t|.
    Two that do not move relative to each other keep their range: the time is 0.
    """
    distance_m, bearing_deg, _ = geodesy.between(first.position, second.position)
    if distance_m < geodesy.SAME_PLACE_M:
        return 0.0, 0.0
    bearing = math.radians(bearing_deg)
    east = distance_m / M_PER_NMI * math.sin(bearing)
    north = distance_m / M_PER_NMI * math.cos(bearing)
    u_1, v_1 = first.velocity_kn()
    u_2, v_2 = second.velocity_kn()
    u, v = u_2 - u_1, v_2 - v_1
    square = u * u + v * v
    hours = max(0.0, -(east * u + north * v) / square) if square > 1e-12 else 0.0
    return math.hypot(east + u * hours, north + v * hours), hours


def over_ground(
    steered_true_deg: float, speed_kn: float, set_true_deg: float, drift_kn: float
) -> tuple[float, float]:
    """Return (course made good °T, speed made good kn) of a ship steering in a current.

    Parameters
    ----------
    steered_true_deg, speed_kn : float
        Course steered and speed through the water.
    set_true_deg, drift_kn : float
        The current sets **towards** this direction at this speed.
    """
    east = speed_kn * _sin(steered_true_deg) + drift_kn * _sin(set_true_deg)
    north = speed_kn * _cos(steered_true_deg) + drift_kn * _cos(set_true_deg)
    return math.degrees(math.atan2(east, north)) % 360.0, math.hypot(east, north)


def to_steer(
    course_true_deg: float, speed_kn: float, set_true_deg: float, drift_kn: float
) -> tuple[float, float] | None:
    """Return (course to steer °T, speed made good kn) to make good a course in a current.

    None when the current across the course is stronger than the ship.
    """
    across = drift_kn * _sin(set_true_deg - course_true_deg)
    along = drift_kn * _cos(set_true_deg - course_true_deg)
    if abs(across) > speed_kn:
        return None
    offset = math.asin(-across / speed_kn) if speed_kn > 0 else 0.0
    made_good = speed_kn * math.cos(offset) + along
    return (course_true_deg + math.degrees(offset)) % 360.0, made_good


def arrival(
    start: Position, left_at: datetime, goal: Position, speed_kn: float, speed_from: str
) -> Arrival:
    """Return when a ship that is at ``start`` at ``left_at`` reaches ``goal`` at this speed."""
    great_m, great_bearing, _ = geodesy.between(start, goal)
    line = rhumb.inverse(
        start.latitude_deg, start.longitude_deg, goal.latitude_deg, goal.longitude_deg
    )
    rhumb_m, rhumb_bearing = float(line.distance_m), float(line.bearing_true_deg)
    return Arrival(
        speed_kn=speed_kn,
        speed_from=speed_from,
        great_circle_nmi=great_m / M_PER_NMI,
        great_circle_bearing_true_deg=great_bearing,
        rhumb_nmi=rhumb_m / M_PER_NMI,
        rhumb_bearing_true_deg=rhumb_bearing,
        by_great_circle=left_at + timedelta(hours=great_m / M_PER_NMI / speed_kn),
        by_rhumb=left_at + timedelta(hours=rhumb_m / M_PER_NMI / speed_kn),
    )


def _sin(angle_deg: float) -> float:
    return math.sin(math.radians(angle_deg))


def _cos(angle_deg: float) -> float:
    return math.cos(math.radians(angle_deg))
