"""Water that changes along the way: rays stepped through the profiles about a place.

With one profile a ray swings alike for ever and is unfolded (``rays``). With several, each at its
own place, sound speed changes with range too, and a ray is stepped through it. Between profiles
the speed at a depth is their mean by inverse square of distance.

References
----------
The ray equation in range, dz/dx = tan θ, dθ/dx = (∂c/∂x tan θ - ∂c/∂z) / c: Jensen, Kuperman,
Porter and Schmidt (2011), Computational Ocean Acoustics, 2nd ed., section 3.2. Shepard, D. (1968),
A two-dimensional interpolation function for irregularly-spaced data, ACM National Conference.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.geodesy import forward, inverse
from layers.earth.position import Position
from layers.transponders.sound.terrain import (
    RAYS,
    STEP_M,
    Cast,
    SoundGround,
    cast,
    down_to,
    hits,
    turning_angles,
)
from layers.transponders.sound.water import Water

WITHIN_M = 25_000.0  # a profile further off says nothing of the water here; ours, no source
NEAR_M = 500.0  # closer to a profile its own speed is taken; ours, no source
PARTS, SECTIONS, LEVEL_M, STEEPEST = 8, 12, 1.0, np.radians(88.0)


def cast_about(
    made: Water,
    around: Sequence[Water],
    centre: Position,
    source_depth_m: float,
    over: SoundGround,
) -> Cast:
    """Return the rays of a source over the ground, through the profiles about it.

    Parameters
    ----------
    made : Water
        The profile in use; alone where it tells no place or no other lies near.
    around : sequence of Water
        All recent ones, the one in use among them or not.
    """
    near = profiles_near(made, around, centre)
    if len(near) < 2:
        return cast(made, source_depth_m, over)
    deep = float(np.max(over.depth_m)) + 5.0
    level = np.arange(0.0, deep + 2.0 * LEVEL_M, LEVEL_M)
    speed = np.array([np.interp(level, *down_to(water, float(level[-1]))) for water in near])
    source = float(np.clip(source_depth_m, 0.5, deep - 0.5))
    spread = np.linspace(-1.0, 1.0, RAYS)
    steep = float(np.degrees(np.arctan2(deep, 0.5 * STEP_M)))
    angles = steep * np.sign(spread) * np.abs(spread) ** 2
    angles = np.concatenate((angles, *(turning_angles(level, c, source) for c in speed)))
    rows = len(over.azimuth_deg)  # the water changes more slowly with bearing than the ground does
    each = rows // SECTIONS if rows % SECTIONS == 0 else 1
    weight = _weights(near, centre, over.azimuth_deg[each // 2 :: each], over.range_m)
    angles = np.unique(angles)
    shapes = (speed.shape, weight.shape)
    depth = _kept(speed.tobytes(), weight.tobytes(), shapes, source, angles.tobytes(),
                  over.range_m.tobytes())  # fmt: skip
    hit = np.stack([hits(depth[row // each], bed) for row, bed in enumerate(over.depth_m)])
    return Cast(ground=over, depth_m=depth, hit=hit)


def profiles_near(made: Water, around: Sequence[Water], centre: Position) -> list[Water]:
    """Return the profiles that rays about a place go through, the one in use first."""
    if made.position is None:
        return [made]
    others = [
        water
        for water in around
        if water.position is not None and water.record_id != made.record_id
    ]
    near = [water for water in (made, *others) if _off_m(water, centre) <= WITHIN_M]
    return near if near and near[0] is made else [made]


def _off_m(water: Water, centre: Position) -> float:
    assert water.position is not None
    place = water.position
    away = inverse(
        centre.latitude_deg, centre.longitude_deg, place.latitude_deg, place.longitude_deg
    )
    return float(away.distance_m)


def _weights(
    near: Sequence[Water], centre: Position, azimuth_deg: Floats, range_m: Floats
) -> Floats:
    """Return how much each profile counts, (profiles, azimuths, ranges), in all 1."""
    places = forward(
        centre.latitude_deg, centre.longitude_deg,
        azimuth_deg[:, None], range_m[None, :],
    )  # fmt: skip
    found = []
    for water in near:
        assert water.position is not None
        off = inverse(
            water.position.latitude_deg, water.position.longitude_deg,
            np.asarray(places.latitude_deg), np.asarray(places.longitude_deg),
        ).distance_m  # fmt: skip
        found.append(1.0 / (np.asarray(off) ** 2 + NEAR_M**2))
    weight = np.stack(found)
    return np.asarray(weight / weight.sum(axis=0))


@lru_cache(maxsize=4)
def _kept(
    speed: bytes, weight: bytes, shapes: tuple[tuple[int, ...], tuple[int, ...]],
    source_m: float, angle_deg: bytes, range_m: bytes,
) -> Floats:  # fmt: skip
    """Return `_stepped`, kept: profiles change a few times a day, the picture every minute."""
    return _stepped(
        np.frombuffer(speed).reshape(shapes[0]), np.frombuffer(weight).reshape(shapes[1]),
        source_m, np.frombuffer(angle_deg), np.frombuffer(range_m),
    )  # fmt: skip


def _stepped(
    speed: Floats, weight: Floats, source_m: float, angle_deg: Floats, range_m: Floats
) -> Floats:
    """Return the depth of rays, (azimuths, rays, ranges), by steps of the midpoint rule."""
    slope = np.diff(speed, axis=1) / LEVEL_M
    last = slope.shape[1] - 1
    step = (range_m[1] - range_m[0]) / PARTS
    change = np.gradient(weight, range_m, axis=2)
    shape = (weight.shape[1], len(angle_deg))
    z = np.full(shape, source_m)
    angle = np.broadcast_to(np.radians(angle_deg), shape).copy()
    out = np.full((*shape, len(range_m)), last * LEVEL_M)
    out[..., 0] = z
    live = np.arange(len(angle_deg))  # what has come under all ground is stepped no further

    def turn(z: Floats, angle: Floats, w: Floats, dw: Floats) -> Floats:
        at = np.clip((z / LEVEL_M).astype(np.int64), 0, last)
        part = z - at * LEVEL_M
        c = cz = cx = np.zeros(z.shape)
        for profile in range(len(speed)):
            own, fall = speed[profile][at], slope[profile][at]
            here = own + fall * part
            c = c + w[profile][:, None] * here
            cz = cz + w[profile][:, None] * fall
            cx = cx + dw[profile][:, None] * here
        return np.asarray((cx * np.tan(angle) - cz) / c)

    for column in range(len(range_m) - 1):
        above = (z < (last - 1) * LEVEL_M).any(axis=0)
        if above.sum() < 0.9 * len(live):
            z, angle, live = z[:, above], angle[:, above], live[above]
        for part in range(PARTS):
            share = (part + 0.5) / PARTS
            w = (1.0 - share) * weight[..., column] + share * weight[..., column + 1]
            dw = (1.0 - share) * change[..., column] + share * change[..., column + 1]
            half = angle + 0.5 * step * turn(z, angle, w, dw)
            middle = z + 0.5 * step * np.tan(angle)
            angle = np.clip(angle + step * turn(np.abs(middle), half, w, dw), -STEEPEST, STEEPEST)
            z = z + step * np.tan(np.clip(half, -STEEPEST, STEEPEST))
            angle = np.where(z < 0.0, np.abs(angle), angle)
            z = np.minimum(np.abs(z), last * LEVEL_M)  # off the surface; under the bed it ends
        out[:, live, column + 1] = z
    return out
