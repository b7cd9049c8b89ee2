"""Flying time along great circles with wind.

Notes
-----
The wind triangle: with wind from W at w and track T, headwind h = w cos(W − T) and crosswind
c = w sin(W − T); ground speed is √(V² − c²) − h. The track of a great circle turns, so it is
worked in pieces of at most 60 nmi.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from layers.earth import geodesy
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI

_PIECE_NMI = 60.0


def ground_speed_kn(
    true_airspeed_kn: float, track_true_deg: float, wind_from_true_deg: float, wind_kn: float
) -> float | None:
    """Return the ground speed on a track; None when the wind cannot be stemmed."""
    angle = math.radians(wind_from_true_deg - track_true_deg)
    across, ahead = wind_kn * math.sin(angle), wind_kn * math.cos(angle)
    if abs(across) >= true_airspeed_kn:
        return None
    speed = math.sqrt(true_airspeed_kn**2 - across**2) - ahead
    return speed if speed > 0.0 else None


def flight_h(
    points: Sequence[Position],
    true_airspeed_kn: float,
    wind_from_true_deg: float | None,
    wind_kn: float | None,
    where: str,
) -> tuple[float, float]:
    """Return (distance in nmi, hours in the air) by great circle through the points.

    Raises
    ------
    InputError
        The wind is stronger than the aircraft, or only half of the wind is given.
    """
    if (wind_from_true_deg is None) != (wind_kn is None):
        raise InputError(
            "half a wind", where=where, accepted="a direction it comes from and a speed, or none"
        )
    total_nmi, hours = 0.0, 0.0
    for start, goal in pairwise(points):
        distance_m, bearing, _ = geodesy.between(start, goal)
        count = max(1, math.ceil(distance_m / M_PER_NMI / _PIECE_NMI))
        run = (np.arange(count) + 0.5) * distance_m / count
        if distance_m < geodesy.SAME_PLACE_M:
            continue
        middle = geodesy.forward(start.latitude_deg, start.longitude_deg, bearing, run)
        tracks = (middle.back_bearing_true_deg + 180.0) % 360.0
        for track in tracks.tolist():
            speed = ground_speed_kn(
                true_airspeed_kn, track, wind_from_true_deg or 0.0, wind_kn or 0.0
            )
            if speed is None:
                raise InputError(
                    f"{true_airspeed_kn:g} kn cannot be flown against a wind of {wind_kn:g} kn",
                    where=where,
                )
            hours += distance_m / count / M_PER_NMI / speed
        total_nmi += distance_m / M_PER_NMI
    return total_nmi, hours
