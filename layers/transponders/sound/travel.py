"""Travel time between two depths at a horizontal distance: the direct ray, and a table of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layers.earth.arrays import Floats
from layers.transponders.sound.rays import layer_steps
from layers.transponders.sound.water import harmonic_mean

if TYPE_CHECKING:
    from scipy.interpolate import RectBivariateSpline

ROUND_M = 40.0  # of depth about the far end that a table holds


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectRays:
    """Direct rays between two depths: horizontal distance and time for many angles, (n,).

    ``range_m`` ascends; its last value is as far as a direct ray reaches without turning.
    """

    range_m: Floats
    time_s: Floats
    rise_m: float


def direct_rays(
    depth_m: Floats, speed_m_s: Floats, a_m: float, b_m: float, n: int = 400
) -> DirectRays:
    """Return the direct rays between depths ``a_m`` and ``b_m``; they never turn on the way."""
    top, bottom = min(a_m, b_m), max(a_m, b_m)
    if bottom - top < 0.01:
        bottom = top + 0.01  # level: rays need some depth to cross; 1 cm changes nothing
    inside = depth_m[(depth_m > top) & (depth_m < bottom)]
    z = np.concatenate(([top], inside, [bottom]))
    c = np.interp(z, depth_m, speed_m_s)
    # The grazing angle where sound runs fastest, dense near the horizontal
    grazing = np.radians(90.0) * np.linspace(0.0, 1.0, n) ** 2 + 1e-5
    parameter = (np.cos(np.minimum(grazing, np.radians(90.0))) / np.max(c))[::-1, None]
    speed = np.broadcast_to(c[None, :], (n, len(z)))
    sine = np.sqrt(np.maximum(0.0, 1.0 - (parameter * speed) ** 2))
    along, taken = layer_steps(np.broadcast_to(z, speed.shape), speed, sine, parameter)
    return DirectRays(
        range_m=np.sum(along, axis=1), time_s=np.sum(taken, axis=1), rise_m=bottom - top
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelTable:
    """Mean speed along the direct ray, by horizontal distance and depth of the far end."""

    spline: RectBivariateSpline
    reach_m: float  # beyond it no direct ray comes
    shallow_m: float
    deep_m: float

    def speed(self, range_m: Floats, depth_m: Floats) -> Floats:
        """Return slant range over travel time, m/s; any shapes that match."""
        r = np.clip(range_m, 0.0, self.reach_m)
        z = np.clip(depth_m, self.shallow_m, self.deep_m)
        return np.asarray(self.spline.ev(r, z))


def travel_table(
    depth_m: Floats,
    speed_m_s: Floats,
    near_depth_m: float,
    far_depth_m: float,
    reach_m: float,
) -> TravelTable:
    """Return the mean speed of direct rays from one depth to depths round another."""
    from scipy.interpolate import RectBivariateSpline  # imported here: slow to start

    shallow = max(far_depth_m - ROUND_M, float(depth_m[0]) + 0.5)
    deep = max(min(far_depth_m + ROUND_M, 12_000.0), shallow + 4.0)
    z = np.append(depth_m, deep) if deep > depth_m[-1] else depth_m
    c = np.append(speed_m_s, speed_m_s[-1]) if deep > depth_m[-1] else speed_m_s
    depths = np.linspace(shallow, deep, 9)
    cast = [direct_rays(z, c, near_depth_m, float(depth)) for depth in depths]
    reach = min(reach_m, *(float(rays.range_m[-1]) for rays in cast))
    ranges = np.linspace(0.0, reach, 48)
    table = np.stack([_mean_speed(rays, ranges) for rays in cast], axis=1)
    return TravelTable(
        spline=RectBivariateSpline(ranges, depths, table, kx=3, ky=3, s=0),
        reach_m=reach,
        shallow_m=shallow,
        deep_m=deep,
    )


def _mean_speed(rays: DirectRays, range_m: Floats) -> Floats:
    speed = np.hypot(rays.range_m, rays.rise_m) / rays.time_s
    return np.asarray(np.interp(range_m, rays.range_m, speed))


def horizontal_range(
    depth_m: Floats, speed_m_s: Floats, a_m: float, b_m: float, time_s: float
) -> float | None:
    """Return the horizontal distance whose direct ray takes ``time_s`` one way, m.

    None when the time is too short for the depths, or no direct ray comes that far.
    """
    rays = direct_rays(depth_m, speed_m_s, a_m, b_m, 2000)
    if not rays.time_s[0] <= time_s <= rays.time_s[-1]:
        return None
    # r² is nearly linear in t², so interpolating there is exact to a millimetre
    squared = np.interp(time_s**2, rays.time_s**2, rays.range_m**2)
    return float(np.sqrt(squared))


def reached_m(
    depth_m: Floats, speed_m_s: Floats, a_m: float, b_m: float, depression_deg: float
) -> float | None:
    """Return the horizontal distance at which a ray that leaves ``a_m`` downwards meets ``b_m``.

    Snell's law through the profile. None when the ray turns before it is so deep.
    """
    if b_m <= a_m:
        return None
    inside = depth_m[(depth_m > a_m) & (depth_m < b_m)]
    z = np.concatenate(([a_m], inside, [b_m]))
    c = np.interp(z, depth_m, speed_m_s)
    parameter = np.cos(np.radians(depression_deg)) / c[0]
    if parameter * np.max(c) >= 1.0:
        return None
    sine = np.sqrt(np.maximum(0.0, 1.0 - (parameter * c) ** 2))
    along, _ = layer_steps(z[None, :], c[None, :], sine[None, :], np.array([[parameter]]))
    return float(np.sum(along))


def straight_error_m(
    depth_m: Floats, speed_m_s: Floats, a_m: float, b_m: float, time_s: float
) -> float | None:
    """Return horizontal distance by a straight ray at the harmonic mean, less the true one, m."""
    true = horizontal_range(depth_m, speed_m_s, a_m, b_m, time_s)
    if true is None:
        return None
    slant = time_s * harmonic_mean(depth_m, speed_m_s, a_m, b_m)
    level = np.sqrt(max(0.0, slant**2 - (a_m - b_m) ** 2))
    return float(level) - true
