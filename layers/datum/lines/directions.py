"""Bearings of every sense turned into degrees true."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from layers.datum.model import Bearing
from layers.earth.position import Position
from layers.earth.units import bearing_0_360
from layers.earth.variation import variation


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueBearing:
    """A bearing in degrees true and, in words, how it came about.

    ``sigma_deg`` is what the variation itself is uncertain by; ``instrument`` is what the
    observer's own constant error belongs to.
    """

    bearing_true_deg: float
    words: str
    sigma_deg: float
    instrument: str


def true_bearing(value: Bearing, at: datetime) -> TrueBearing:
    """Return the true bearing of an observation at a date.

    Notes
    -----
    true = magnetic + variation + deviation; true = grid + convergence;
    true = heading + relative. A true bearing or heading comes from a gyro and has its error
    added; all corrections are east (clockwise) positive.
    """
    place = Position(value.latitude_deg, value.longitude_deg)
    compass_deg, model, sigma_deg = value.deviation_deg, "", 0.0
    by_compass = value.sense == "magnetic" or (
        value.sense == "relative" and value.heading_sense == "magnetic"
    )
    if by_compass:
        found = variation(place, at)
        compass_deg += found.variation_deg
        sigma_deg = found.uncertainty_deg
        model = f" by {found.model} for {at:%d %b %Y}" + (
            f"; {found.warning}" if found.warning else ""
        )
    said = f"{value.bearing_deg:05.1f}°"
    if value.sense == "true":
        turned, words = value.bearing_deg + value.gyro_error_deg, f"{said}T"
    elif value.sense == "magnetic":
        turned = value.bearing_deg + compass_deg
        words = f"{said}M, variation and deviation {compass_deg:+.1f}°{model}"
    elif value.sense == "grid":
        convergence = value.grid_convergence_deg or 0.0
        turned = value.bearing_deg + convergence
        words = f"{said}G, convergence {convergence:+.1f}°"
    else:
        correction = compass_deg if value.heading_sense == "magnetic" else value.gyro_error_deg
        heading = (value.heading_deg or 0.0) + correction
        turned = heading + value.bearing_deg
        words = f"{said} relative on heading {bearing_0_360(heading):05.1f}°T{model}"
    return TrueBearing(
        bearing_true_deg=bearing_0_360(turned),
        words=words,
        sigma_deg=sigma_deg,
        instrument="compass" if by_compass else "grid" if value.sense == "grid" else "gyro",
    )
