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

from layers.earth.arrays import Bools, Floats
from layers.earth.errors import InputError

LEVEL_M_S = 1e-6  # a change of speed this small over a layer is none: the error is below 1e-15
TINY = 1e-30
LEVEL_SWING_M = 1e9  # a swing this long moves a ray by centimetres in 20 km


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """Rays from one source; arrays are (rays,), (nodes,) or (rays, nodes).

    ``upper_m`` and ``lower_m`` are where each ray turns; ``off_surface`` and ``off_bottom`` say
    that it is reflected there. ``along_m`` and ``taken_s`` are horizontal distance and time from
    the upper depth down to each node, 0 above the swing and the whole of it below.
    """

    source_depth_m: float
    source_node: int
    angle_deg: Floats  # (rays,) at the source, down positive
    parameter_s_m: Floats  # (rays,) cos θ / c, kept along a ray (Snell)
    upper_m: Floats  # (rays,)
    lower_m: Floats  # (rays,)
    off_surface: Bools  # (rays,)
    off_bottom: Bools  # (rays,)
    node_m: Floats  # (nodes,)
    speed_m_s: Floats  # (nodes,)
    sine: Floats  # (rays, nodes)
    along_m: Floats  # (rays, nodes)
    taken_s: Floats  # (rays, nodes)


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
    upper, above = _turning(z[place::-1], c[place::-1], parameter)
    lower, below = _turning(z[place:], c[place:], parameter)
    return _swing(z, c, source_depth_m, angle, parameter, (upper, above), (lower, below))


def _turning(z: Floats, c: Floats, parameter: Floats) -> tuple[Floats, Bools]:
    """Return where each ray turns going along ``z`` from the source, and whether it is reflected.

    A ray that leaves horizontally turns at once on the side where sound runs faster.
    """
    if len(z) == 1:
        return np.full(len(parameter), z[0]), np.ones(len(parameter), dtype=bool)
    turn = 1.0 / parameter
    fastest = np.maximum.accumulate(c[1:])
    first = 1 + np.searchsorted(fastest, turn * (1.0 + 1e-15), side="right")
    reflected = first > len(z) - 1
    first = np.minimum(first, len(z) - 1)
    before = first - 1
    rise = c[first] - c[before]
    share = np.where(reflected, 1.0, (turn - c[before]) / np.where(rise == 0.0, 1.0, rise))
    return z[before] + np.clip(share, 0.0, 1.0) * (z[first] - z[before]), reflected


def _swing(
    z: Floats,
    c: Floats,
    source_depth_m: float,
    angle: Floats,
    parameter: Floats,
    up: tuple[Floats, Bools],
    down: tuple[Floats, Bools],
) -> Fan:
    sine = _sine(c[None, :], parameter[:, None])
    along, taken = layer_steps(z, c, sine, parameter[:, None])
    first = np.searchsorted(z, up[0])  # the uppermost node within the swing, and the lowest
    last = np.searchsorted(z, down[0], side="right") - 1
    layer = np.arange(len(z) - 1)[None, :]
    outside = layer < first[:, None]
    outside |= layer >= last[:, None]
    along[outside] = 0.0
    taken[outside] = 0.0
    for turn, node, beyond in ((up[0], first, first - 1), (down[0], last, last)):
        _last_arc(along, taken, z, c, sine, parameter, turn, node, beyond)
    return Fan(
        source_depth_m=source_depth_m,
        source_node=int(np.searchsorted(z, source_depth_m)),
        angle_deg=angle,
        parameter_s_m=parameter,
        upper_m=up[0],
        lower_m=down[0],
        off_surface=up[1],
        off_bottom=down[1],
        node_m=z,
        speed_m_s=c,
        sine=sine,
        along_m=_running(along),
        taken_s=_running(taken),
    )


def _last_arc(
    along: Floats,
    taken: Floats,
    z: Floats,
    c: Floats,
    sine: Floats,
    parameter: Floats,
    turn_m: Floats,
    node: npt.NDArray[np.intp],
    layer: npt.NDArray[np.intp],
) -> None:
    """Put in the part of a layer between the last node within a swing and where a ray turns."""
    rows = np.flatnonzero(z[node] != turn_m)
    if not len(rows):
        return
    at, p = node[rows], parameter[rows]
    rise = np.abs(turn_m[rows] - z[at])
    ends = np.column_stack((np.zeros(len(rows)), rise))
    speeds = np.column_stack((c[at], 1.0 / p))
    sines = np.column_stack((sine[rows, at], np.zeros(len(rows))))
    part_along, part_taken = layer_steps(ends, speeds, sines, p[:, None])
    along[rows, layer[rows]] = part_along[:, 0]
    taken[rows, layer[rows]] = part_taken[:, 0]


def _sine(speed_m_s: Floats, parameter: Floats) -> Floats:
    """Return sin θ where sound runs at this speed; 0 where the ray does not come."""
    cosine = parameter * speed_m_s
    square = 1.0 - cosine
    cosine += 1.0
    square *= cosine
    return np.sqrt(np.maximum(square, 0.0, out=square), out=square)


def _running(steps: Floats) -> Floats:
    """Return the running sum along the nodes, from zero at the first."""
    total = np.empty((steps.shape[0], steps.shape[1] + 1))
    total[:, 0] = 0.0
    np.cumsum(steps, axis=1, out=total[:, 1:])
    return total


def layer_steps(
    node_m: Floats, speed_m_s: Floats, sine: Floats, parameter: Floats
) -> tuple[Floats, Floats]:
    """Return horizontal distance and time across each layer, one fewer than nodes.

    ``node_m`` and ``speed_m_s`` may be shared by all rays, (nodes,), or each ray's own.
    """
    dz, dc = np.diff(node_m, axis=-1), np.diff(speed_m_s, axis=-1)
    twice = speed_m_s[..., :-1] + speed_m_s[..., 1:]
    slow = sine[..., :-1] + sine[..., 1:]
    np.maximum(slow, TINY, out=slow)  # a level ray in an empty layer: 0 / TINY
    np.divide(dz, slow, out=slow)
    level = np.abs(dc) < LEVEL_M_S
    # ln(c2/c1 (1+s1)/(1+s2)) / g, one logarithm per node
    potential = np.log1p(sine)
    taken = potential[..., :-1] - potential[..., 1:]
    taken += np.diff(np.log(speed_m_s), axis=-1)
    taken *= dz / np.where(level, 1.0, dc)
    if np.any(level):  # c constant: the distance along the ray is dz / s
        np.copyto(taken, 4.0 * slow / twice, where=level)
    slow *= twice
    slow *= parameter
    return slow, taken


def paths(rays: Fan, range_m: Floats) -> Paths:
    """Return where rays are at ranges from the source, by unfolding their swings."""
    ranges = np.atleast_1d(np.asarray(range_m, dtype=np.float64))
    swing, swing_s = rays.along_m[:, -1:], rays.taken_s[:, -1:]
    # On the axis of a channel, or level in water of one speed, a ray keeps its depth.
    still = (swing <= 1e-9) | (swing > LEVEL_SWING_M)
    whole = np.where(still, 1.0, swing)
    start, start_s = (np.where(still, 0.0, part) for part in _at_source(rays))
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
    # The same node for all; clipping keeps the source within every ray's swing.
    at = np.full((len(rays.angle_deg), 1), rays.source_node)
    return np.take_along_axis(rays.along_m, at, 1), np.take_along_axis(rays.taken_s, at, 1)


def _inside(rays: Fan, place_m: Floats) -> tuple[Floats, Floats]:
    """Return depth and time at horizontal distances (rays, k) from the upper depth."""
    at = _layer(rays.along_m, place_m)
    row = np.arange(len(at))[:, None]
    p, upper, lower = rays.parameter_s_m[:, None], rays.upper_m[:, None], rays.lower_m[:, None]
    z1 = np.clip(rays.node_m[at], upper, lower)
    c1, s1 = np.minimum(rays.speed_m_s[at], 1.0 / p), rays.sine[row, at]
    gradient = (np.diff(rays.speed_m_s) / np.diff(rays.node_m))[at]
    x = place_m - rays.along_m[row, at]
    s = np.clip(s1 - p * gradient * x, 0.0, 1.0)
    # a level ray in even water stands outside of its own swing here, and is put right by `paths`
    c = np.sqrt(np.maximum((1.0 - s) * (1.0 + s), TINY)) / p
    depth = np.clip(z1 + x * (s1 + s) / (p * (c + c1)), upper, lower)
    pair = np.stack((z1, depth), -1), np.stack((c1, c), -1), np.stack((s1, s), -1)
    _, taken = layer_steps(*pair, p[..., None])
    return depth, rays.taken_s[row, at] + taken[..., 0]


def _layer(along_m: Floats, place_m: Floats) -> npt.NDArray[np.intp]:
    """Return the layer that holds each distance, (rays, k)."""
    n_rays, n_nodes = along_m.shape
    if place_m.shape[1] == 1:
        found = np.count_nonzero(along_m <= place_m, axis=1)[:, None] - 1
        return np.asarray(np.clip(found, 0, n_nodes - 2))
    # One sorted search for all rays: each ray's distances lifted above the last one's.
    lift = np.arange(n_rays)[:, None] * (2.0 * float(np.max(along_m)) + 1.0)
    flat = np.searchsorted((along_m + lift).ravel(), (place_m + lift).ravel(), side="right")
    found = flat.reshape(place_m.shape) - 1 - np.arange(n_rays)[:, None] * n_nodes
    return np.asarray(np.clip(found, 0, n_nodes - 2))


def lit(rays: Fan, range_m: Floats, depth_m: Floats) -> Bools:
    """Return where direct sound comes, (depths, ranges): cells that rays cross or lie between.

    Cells are bounded by the given ranges and depths, so the answer is one smaller in each. A ray
    counts until it meets the seabed; neighbouring rays further apart than a tenth of the water
    leave a shadow between them.

    Parameters
    ----------
    rays : Fan
        Dense, in order of angle.
    range_m, depth_m : ndarray
        Edges of the cells.
    """
    drawn = paths(rays, range_m)
    part = 0.1 * float(depth_m[-1] - depth_m[0])
    good = drawn.bottom_hits == 0
    # A pair of neighbours lights what lies between them while both have come the same way.
    pair = good[:-1] & good[1:] & (drawn.surface_hits[:-1] == drawn.surface_hits[1:])
    pair &= np.abs(np.diff(drawn.depth_m, axis=0)) <= part
    upper = np.minimum(drawn.depth_m[:-1], drawn.depth_m[1:])
    lower = np.maximum(drawn.depth_m[:-1], drawn.depth_m[1:])
    cells, columns = len(depth_m) - 1, len(range_m) - 1
    out = np.zeros((cells, columns), dtype=bool)
    for column in range(columns):
        tops, ends = [], []
        for rows, high, low in ((good, drawn.depth_m, drawn.depth_m), (pair, upper, lower)):
            both = rows[:, column] & rows[:, column + 1]
            span = slice(column, column + 2)
            tops.append(np.min(high[both, span], axis=1))
            ends.append(np.max(low[both, span], axis=1))
        first = np.searchsorted(depth_m, np.concatenate(tops), side="right") - 1
        last = np.searchsorted(depth_m, np.concatenate(ends), side="left")
        cover = np.bincount(np.clip(first, 0, cells), minlength=cells + 1)
        cover = cover - np.bincount(np.clip(last, 1, cells), minlength=cells + 1)
        out[:, column] = np.cumsum(cover)[:cells] > 0
    return out
