"""Range and bearing over two or more points: legs, running total, area, time at a speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from layers.earth import rhumb
from layers.earth.errors import InputError
from layers.earth.geodesy import area_m2, between
from layers.earth.position import Position
from layers.earth.units import M_PER_KM, bearing_0_360, kn_to_m_s, m_to_nmi
from layers.earth.variation import variation

SOURCE = (
    "geodesic on WGS 84 (Karney 2013); rhumb line on WGS 84; variation World Magnetic Model 2025"
)
CAUTION = "Not for navigation."


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredLeg:
    """From one point to the next.

    A bearing is None where both points are the same place: there is none. ``total_m`` runs to
    the end of this leg; ``time_s`` is at the speed asked for, None without one.
    """

    start: Position
    end: Position
    distance_m: float
    bearing_true_deg: float | None
    bearing_magnetic_deg: float | None
    back_bearing_true_deg: float | None
    rhumb_distance_m: float
    rhumb_bearing_true_deg: float | None
    variation_deg: float
    total_m: float
    time_s: float | None

    @property
    def distance_nmi(self) -> float:
        """Length in nautical miles."""
        return m_to_nmi(self.distance_m)

    @property
    def distance_km(self) -> float:
        """Length in kilometres."""
        return self.distance_m / M_PER_KM


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """What was measured.

    Parameters
    ----------
    legs : tuple of MeasuredLeg
        In order; the last one goes home when the figure is closed.
    total_m, total_rhumb_m : float
        Along the geodesics and along the rhumb lines.
    total_time_s : float or None
        At the speed asked for.
    area_m2 : float or None
        Inside the closed figure of three points or more.
    variation_at : datetime
        The date that the magnetic variation is for, UTC.
    warning : str
        What is doubtful about the variation; may be empty.
    """

    legs: tuple[MeasuredLeg, ...]
    total_m: float
    total_rhumb_m: float
    total_time_s: float | None
    area_m2: float | None
    variation_at: datetime
    warning: str

    @property
    def total_nmi(self) -> float:
        """Total along the geodesics, nautical miles."""
        return m_to_nmi(self.total_m)


def measure(
    points: Sequence[Position],
    at: datetime,
    *,
    speed_kn: float | None = None,
    closed: bool = False,
) -> Measurement:
    """Return legs, totals and area for two or more points.

    Parameters
    ----------
    points : sequence of Position
        In order.
    at : datetime
        For the magnetic variation, UTC.
    speed_kn : float, optional
        For the time that each leg takes.
    closed : bool
        Add the leg from the last point home to the first.

    Raises
    ------
    InputError
        Fewer than two points, or a speed that is not above zero.
    """
    if len(points) < 2:
        raise InputError(
            f"{len(points)} point given", where="measure", accepted="two points or more"
        )
    if speed_kn is not None and not (math.isfinite(speed_kn) and 0.0 < speed_kn <= 1_000.0):
        raise InputError(
            f"{speed_kn:g} kn is not a speed to measure by",
            where="speed",
            accepted="above 0 to 1,000 knots",
        )
    stops = [*points, points[0]] if closed and len(points) > 2 else list(points)
    legs: list[MeasuredLeg] = []
    warnings: list[str] = []
    total = 0.0
    for start, end in pairwise(stops):
        leg, warning = _leg(start, end, at, speed_kn, total)
        legs.append(leg)
        total = leg.total_m
        if warning and warning not in warnings:
            warnings.append(warning)
    area = (
        area_m2([p.latitude_deg for p in points], [p.longitude_deg for p in points])
        if len(points) > 2
        else None
    )
    return Measurement(
        legs=tuple(legs),
        total_m=total,
        total_rhumb_m=sum(leg.rhumb_distance_m for leg in legs),
        total_time_s=None if speed_kn is None else total / kn_to_m_s(speed_kn),
        area_m2=area,
        variation_at=at,
        warning=" ".join(warnings),
    )


def _leg(
    start: Position, end: Position, at: datetime, speed_kn: float | None, before_m: float
) -> tuple[MeasuredLeg, str]:
    distance, bearing, back = between(start, end)
    line = rhumb.inverse(
        start.latitude_deg, start.longitude_deg, end.latitude_deg, end.longitude_deg
    )
    field = variation(start, at)
    true = _known(bearing)
    leg = MeasuredLeg(
        start=start,
        end=end,
        distance_m=distance,
        bearing_true_deg=true,
        bearing_magnetic_deg=None if true is None else bearing_0_360(true - field.variation_deg),
        back_bearing_true_deg=_known(back),
        rhumb_distance_m=float(line.distance_m),
        rhumb_bearing_true_deg=_known(float(line.bearing_true_deg)),
        variation_deg=field.variation_deg,
        total_m=before_m + distance,
        time_s=None if speed_kn is None else distance / kn_to_m_s(speed_kn),
    )
    return leg, field.warning


def _known(bearing_deg: float) -> float | None:
    return None if math.isnan(bearing_deg) else bearing_deg


def bearing_words(bearing_deg: float | None, sense: str = "T") -> str:
    """Return ``065.3°T``, or ``no bearing`` for the same place; never ``360.0``."""
    if bearing_deg is None:
        return "no bearing"
    return f"{round(bearing_deg, 1) % 360.0:05.1f}°{sense}"


def range_words(distance_m: float) -> str:
    """Return a range as it is read at the line: miles, and metres under two miles."""
    nmi = m_to_nmi(distance_m)
    if nmi < 2.0:
        return f"{nmi:.2f} nmi ({distance_m:.0f} m)"
    return f"{nmi:.1f} nmi"
