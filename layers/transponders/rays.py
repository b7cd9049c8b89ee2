"""Rays of sound through layers of constant gradient, all of them at once.

In each layer a ray is an arc of a circle, and in water that is the same along the way it swings
between one upper and one lower depth for ever. So one swing is worked out for all rays and
layers as arrays, and any range is found in it by unfolding: no stepping.

The differences of the textbook formulas are multiplied out so that they hold for a gradient of
zero too: with s = sin θ, s1 - s2 = p² (c2² - c1²) / (s1 + s2).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from layers.earth.errors import InputError

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """Rays from one source; arrays are (rays,) or (rays, nodes).

    ``upper_m`` and ``lower_m`` are where each ray turns; ``off_surface`` and ``off_bottom`` say
    that it is reflected there. ``along_m`` and ``taken_s`` accumulate from the upper depth down.
    """

    source_depth_m: float
    angle_deg: Floats  # at the source, down positive
    parameter_s_m: Floats  # cos θ / c, kept along a ray (Snell)
    upper_m: Floats
    lower_m: Floats
    off_surface: npt.NDArray[np.bool_]
    off_bottom: npt.NDArray[np.bool_]
    node_m: Floats
    speed_m_s: Floats
    sine: Floats
    along_m: Floats
    taken_s: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Paths:
    """Depth, travel time and reflections of rays at ranges; arrays (rays, ranges)."""

    range_m: Floats
    depth_m: Floats
    time_s: Floats
    bottom_hits: npt.NDArray[np.int64]
    surface_hits: npt.NDArray[np.int64]


def fan(depth_m: Floats, speed_m_s: Floats, source_depth_m: float, angle_deg: Floats) -> Fan:
    """Return rays leaving a source, in water whose speed is linear between the given depths.

    Parameters
    ----------
    depth_m, speed_m_s : ndarray, shape (n,)
        From the surface (0) to the seabed, ascending; the first and last reflect.
    source_depth_m : float
        Between them.
    angle_deg : ndarray, shape (rays,)
        Angle below the horizontal, -90 to 90 exclusive.

    References
    ----------
    Snell's law and the circular arc of a constant gradient: radius c / (g cos θ); the closed
    forms of range and time are checked in ``tests/published``.
    """
    angle = np.atleast_1d(np.asarray(angle_deg, dtype=np.float64))
    if not depth_m[0] <= source_depth_m <= depth_m[-1]:
        raise InputError(
            f"a source at {source_depth_m:g} m",
            where="source depth",
            accepted=f"{depth_m[0]:g} to {depth_m[-1]:g} m",
        )
    if np.any(np.abs(angle) >= 90.0):
        raise InputError("an angle of 90° or more", where="angle", accepted="-90 to 90 degrees")
    place = int(np.searchsorted(depth_m, source_depth_m))
    z, c = depth_m, speed_m_s
    if not (place < len(z) and z[place] == source_depth_m):
        c = np.insert(c, place, np.interp(source_depth_m, z, c))
        z = np.insert(z, place, source_depth_m)
    parameter = np.cos(np.radians(angle)) / c[place]
    upper, above = _turning(z[place::-1], c[place::-1], parameter, angle < 0)
    lower, below = _turning(z[place:], c[place:], parameter, angle > 0)
    return _swing(z, c, source_depth_m, angle, parameter, (upper, above), (lower, below))


def _turning(
    z: Floats, c: Floats, parameter: Floats, towards: npt.NDArray[np.bool_]
) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Return where each ray turns going along ``z`` from the source, and whether it is reflected.

    A ray that leaves horizontally turns at once on the side where sound runs faster.
    """
    fast = c[None, :] * parameter[:, None]
    beyond = fast > 1.0 + 1e-15
    beyond[:, 0] = False
    reaches = np.any(beyond, axis=1)
    first = np.where(reaches, np.argmax(beyond, axis=1), len(z) - 1)
    if len(z) == 1:
        return np.full(len(parameter), z[0]), np.ones(len(parameter), dtype=bool)
    before = np.maximum(first - 1, 0)
    rise = c[first] - c[before]
    share = np.where(reaches, (1.0 / parameter - c[before]) / np.where(rise == 0.0, 1.0, rise), 1.0)
    return z[before] + np.clip(share, 0.0, 1.0) * (z[first] - z[before]), ~reaches


def _swing(
    z: Floats,
    c: Floats,
    source_depth_m: float,
    angle: Floats,
    parameter: Floats,
    up: tuple[Floats, npt.NDArray[np.bool_]],
    down: tuple[Floats, npt.NDArray[np.bool_]],
) -> Fan:
    upper, lower = up[0][:, None], down[0][:, None]
    turn = 1.0 / parameter[:, None]
    node = np.clip(z[None, :], upper, lower)
    speed = np.broadcast_to(c[None, :], node.shape).copy()
    np.minimum(speed, turn, out=speed)
    for edge, reflected in ((upper, up[1]), (lower, down[1])):
        at_edge = node == edge
        value = np.where(reflected, np.interp(edge[:, 0], z, c), turn[:, 0])
        speed = np.where(at_edge, np.minimum(value, turn[:, 0])[:, None], speed)
    sine = np.sqrt(
        np.maximum(0.0, (1.0 - parameter[:, None] * speed) * (1.0 + parameter[:, None] * speed))
    )
    for edge, reflected in ((upper, up[1]), (lower, down[1])):
        sine[(node == edge) & ~reflected[:, None]] = 0.0
    along, taken = layer_steps(node, speed, sine, parameter[:, None])
    zero = np.zeros((len(parameter), 1))
    return Fan(
        source_depth_m=source_depth_m,
        angle_deg=angle,
        parameter_s_m=parameter,
        upper_m=up[0],
        lower_m=down[0],
        off_surface=up[1],
        off_bottom=down[1],
        node_m=node,
        speed_m_s=speed,
        sine=sine,
        along_m=np.concatenate((zero, np.cumsum(along, axis=1)), axis=1),
        taken_s=np.concatenate((zero, np.cumsum(taken, axis=1)), axis=1),
    )


def layer_steps(
    node_m: Floats, speed_m_s: Floats, sine: Floats, parameter: Floats
) -> tuple[Floats, Floats]:
    """Return horizontal distance and time across each layer, one fewer than nodes."""
    dz = np.diff(node_m, axis=-1)
    c1, c2 = speed_m_s[..., :-1], speed_m_s[..., 1:]
    s1, s2 = sine[..., :-1], sine[..., 1:]
    return _arc(dz, c1, c2, s1, s2, parameter)


def _arc(
    dz: Floats, c1: Floats, c2: Floats, s1: Floats, s2: Floats, parameter: Floats
) -> tuple[Floats, Floats]:
    """Return the horizontal distance and the time of an arc between two depths of one layer."""
    both = s1 + s2
    empty = (dz == 0.0) | (both == 0.0)
    both = np.where(empty, 1.0, both)
    along = np.where(empty, 0.0, dz * parameter * (c1 + c2) / both)
    dc = c2 - c1
    level = np.abs(dc) < 1e-9
    safe = np.where(level, 1.0, dc)
    turned = parameter**2 * (c1 + c2) / (both * (1.0 + s2))  # (s1 - s2) / (1 + s2) / dc
    bent = (np.log1p(safe / c1) + np.log1p(safe * turned)) / safe
    taken = np.where(empty, 0.0, dz * np.where(level, 1.0 / c1 + turned, bent))
    return along, taken


def paths(rays: Fan, range_m: Floats) -> Paths:
    """Return where rays are at ranges from the source, by unfolding their swings."""
    ranges = np.atleast_1d(np.asarray(range_m, dtype=np.float64))
    swing, swing_s = rays.along_m[:, -1:], rays.taken_s[:, -1:]
    still = swing <= 1e-9
    whole = np.where(still, 1.0, swing)
    start, start_s = _at_source(rays)
    down = rays.angle_deg[:, None] > 0
    down |= (rays.angle_deg[:, None] == 0) & (start <= 0.5 * swing)
    phase = np.where(down, start, 2.0 * whole - start) + ranges[None, :]
    turns = np.floor(phase / whole)
    rest = phase - turns * whole
    downward = np.mod(turns, 2.0) == 0.0
    place = np.where(downward, rest, whole - rest)
    depth, within = _inside(rays, np.clip(place, 0.0, whole))
    clock = turns * swing_s + np.where(downward, within, swing_s - within)
    time = clock - np.where(down, start_s, 2.0 * swing_s - start_s)
    first = np.where(down, 0.0, 1.0)
    bottoms = np.floor((turns + 1.0) / 2.0) - np.floor((first + 1.0) / 2.0)
    tops = np.floor(turns / 2.0) - np.floor(first / 2.0)
    flat = ranges[None, :] * rays.parameter_s_m[:, None]
    return Paths(
        range_m=ranges,
        depth_m=np.where(still, rays.source_depth_m, depth),
        time_s=np.where(still, flat, time),
        bottom_hits=np.where(rays.off_bottom[:, None], bottoms, 0).astype(np.int64),
        surface_hits=np.where(rays.off_surface[:, None], tops, 0).astype(np.int64),
    )


def _at_source(rays: Fan) -> tuple[Floats, Floats]:
    """Return the horizontal distance and time from the upper depth to the source, (rays, 1)."""
    at = np.argmax(rays.node_m >= rays.source_depth_m, axis=1)[:, None]
    return np.take_along_axis(rays.along_m, at, 1), np.take_along_axis(rays.taken_s, at, 1)


def _inside(rays: Fan, place_m: Floats) -> tuple[Floats, Floats]:
    """Return depth and time at horizontal distances (rays, k) from the upper depth."""
    n_rays, n_nodes = rays.along_m.shape
    # One sorted search for all rays: each ray's distances lifted above the last one's.
    step = 2.0 * float(np.max(rays.along_m)) + 1.0
    lift = np.arange(n_rays)[:, None] * step
    flat = (rays.along_m + lift).ravel()
    found = np.searchsorted(flat, (place_m + lift).ravel(), side="right").reshape(place_m.shape)
    at = np.clip(found - 1 - np.arange(n_rays)[:, None] * n_nodes, 0, n_nodes - 2)
    row = np.arange(n_rays)[:, None]
    z1, c1, s1 = rays.node_m[row, at], rays.speed_m_s[row, at], rays.sine[row, at]
    dz = rays.node_m[row, at + 1] - z1
    gradient = (rays.speed_m_s[row, at + 1] - c1) / np.where(dz == 0.0, 1.0, dz)
    p = rays.parameter_s_m[:, None]
    x = place_m - rays.along_m[row, at]
    s = s1 - p * gradient * x
    s = np.clip(s, 0.0, 1.0)
    c = np.sqrt((1.0 - s) * (1.0 + s)) / p
    depth = z1 + x * (s1 + s) / (p * (c + c1))
    _, taken = _arc(depth - z1, c1, c, s1, s, p)
    return np.clip(depth, rays.upper_m[:, None], rays.lower_m[:, None]), (
        rays.taken_s[row, at] + taken
    )


def lit(rays: Fan, range_m: Floats, depth_m: Floats, bottom_hits: int = 0) -> npt.NDArray[np.bool_]:
    """Return where direct sound comes, (depths, ranges): cells that some ray crosses.

    Cells are bounded by the given ranges and depths, so the answer is one smaller in each.
    ``bottom_hits`` is how many reflections at the seabed a ray may have and still count.
    """
    drawn = paths(rays, range_m)
    counts = drawn.bottom_hits <= bottom_hits
    out = np.zeros((len(depth_m) - 1, len(range_m) - 1), dtype=bool)
    for column in range(len(range_m) - 1):
        good = counts[:, column] & counts[:, column + 1]
        ends = np.sort(drawn.depth_m[good, column : column + 2], axis=1)
        first = np.searchsorted(depth_m, ends[:, 0], side="right") - 1
        last = np.searchsorted(depth_m, ends[:, 1], side="left")
        cover = np.zeros(len(depth_m) + 1)
        np.add.at(cover, np.clip(first, 0, len(depth_m) - 1), 1)
        np.add.at(cover, np.clip(last, 1, len(depth_m)), -1)
        out[:, column] = np.cumsum(cover)[: len(depth_m) - 1] > 0
    return out
