"""Direct sound over the real seabed: how far it comes in each direction, and what lies in shadow.

The rays of one source are the same in every direction; what differs is the ground that they
meet. A ray counts as direct until it first meets the seabed; ground between two neighbouring
rays that meet it far apart lies behind a rise, or beyond where the water bends sound away, and
is in shadow. What goes on by way of the seabed is not counted on.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats
from layers.earth.geodesy import forward
from layers.earth.position import Position
from layers.transponders.sound.rays import fan, paths
from layers.transponders.sound.water import GRADIENT_BELOW_PER_S, Water

Flags = npt.NDArray[np.bool_]
DepthAt = Callable[[Floats, Floats], Floats]
AZIMUTHS, STEP_M, RAYS, TURNS = 36, 75.0, 901, 120
OFF_BED_M = 5.0  # a source that lies on the seabed sounds from about so high above it
PART = 0.1  # neighbouring rays that meet the ground further apart than this share leave shadow


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundGround:
    """The seabed round a place: depths (azimuths, ranges), and where the grid had none."""

    azimuth_deg: Floats
    range_m: Floats
    depth_m: Floats
    assumed: Flags

    @property
    def words(self) -> str:
        """How much of it is known, in words."""
        share = float(self.assumed.mean())
        if share == 0.0:
            return "over the loaded depth grids"
        if share == 1.0:
            return "over a flat seabed, no depth grid is loaded here"
        return f"over the loaded depth grids, a flat seabed taken on {share:.0%} of the way"


def ground(
    centre: Position, reach_m: float, flat_m: float, depth_at: DepthAt | None, n: int = AZIMUTHS
) -> SoundGround:
    """Return the seabed round a place along ``n`` directions, flat where no grid has it."""
    azimuth = np.linspace(0.0, 360.0, n, endpoint=False)
    ranges = np.arange(0.0, reach_m + STEP_M, STEP_M)
    shape = (n, len(ranges))
    depth = np.full(shape, np.nan)
    if depth_at is not None:
        places = forward(
            centre.latitude_deg, centre.longitude_deg, azimuth[:, None], ranges[None, :]
        )
        lat, lon = np.asarray(places.latitude_deg), np.asarray(places.longitude_deg)
        depth = depth_at(lat.ravel(), lon.ravel()).reshape(shape)
    assumed = ~np.isfinite(depth)
    return SoundGround(
        azimuth_deg=azimuth,
        range_m=ranges,
        depth_m=np.where(assumed, flat_m, depth),
        assumed=assumed,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Cast:
    """Rays of one source and where each first meets the ground, by direction.

    ``depth_m`` (rays, ranges), or (sectors, rays, ranges) where the water differs by direction;
    ``hit`` (azimuths, rays) is the place in ``ground.range_m`` of the
    first range at which the ray is at or under the seabed, the number of ranges where it is not.
    """

    ground: SoundGround
    depth_m: Floats
    hit: npt.NDArray[np.int64]

    def rays(self, row: int) -> Floats:
        """Return the rays of one direction, (rays, ranges)."""
        if self.depth_m.ndim == 2:
            return self.depth_m
        return np.asarray(self.depth_m[row * len(self.depth_m) // len(self.hit)])


def cast(made: Water, source_depth_m: float, over: SoundGround) -> Cast:
    """Return the rays of a source over the ground.

    Rays leave at angles to straight down, densest near the horizontal, where they part most.
    """
    z, c = down_to(made, float(np.max(over.depth_m)) + 50.0)
    source = float(np.clip(source_depth_m, z[0] + 0.5, z[-1] - 0.5))
    spread = np.linspace(-1.0, 1.0, RAYS)
    steep = float(np.degrees(np.arctan2(z[-1], 0.5 * STEP_M)))
    angles = steep * np.sign(spread) * np.abs(spread) ** 2
    angles = np.unique(np.concatenate((angles, turning_angles(z, c, source))))
    depth = paths(fan(z, c, source, angles), over.range_m).depth_m
    hit = np.stack([hits(depth, bed) for bed in over.depth_m])
    return Cast(ground=over, depth_m=depth, hit=hit)


def hits(depth_m: Floats, bed_m: Floats) -> npt.NDArray[np.int64]:
    """Return where each ray (rays, ranges) first is at or under the bed, as `Cast` has it."""
    hit = np.full(len(depth_m), len(bed_m), dtype=np.int64)
    under = depth_m[:, 1:] >= bed_m[None, 1:] - 1e-6
    some = under.any(axis=1)
    hit[some] = under[some].argmax(axis=1) + 1
    return hit


def turning_angles(z: Floats, c: Floats, source_m: float) -> Floats:
    """Return the angles of rays that turn at many depths: the last that come so far."""
    depths = np.unique(np.concatenate((z, np.linspace(z[0], z[-1], TURNS))))
    speed = np.interp(depths, z, c)
    ratio = float(np.interp(source_m, z, c)) / speed
    turns = ratio < 1.0 - 1e-12
    angle = np.degrees(np.arccos(ratio[turns]))
    return np.concatenate((-angle[depths[turns] < source_m], angle[depths[turns] > source_m]))


def down_to(made: Water, deep_m: float) -> tuple[Floats, Floats]:
    """Return the profile carried down to a depth, growing by pressure alone below its end."""
    z, c = made.depth_m, made.speed_m_s
    if deep_m <= z[-1] + 0.5:
        return z, c
    below = c[-1] + GRADIENT_BELOW_PER_S * (deep_m - z[-1])
    return np.append(z, deep_m), np.append(c, below)


def lit_bed(made: Cast) -> Flags:
    """Return which ground direct sound reaches, (azimuths, ranges): the bed itself.

    Where the rays' meetings with the ground follow each other closely the ground between them is
    lit; a gap is a shadow.
    """
    n = len(made.ground.range_m)
    out = np.zeros((len(made.hit), n), dtype=np.bool_)
    for row, hit in enumerate(made.hit):
        one, other = hit[:-1], hit[1:]
        low, high = np.minimum(one, other), np.maximum(one, other)
        tied = (high < n) & (high - low <= np.maximum(2, PART * high))
        lit = np.zeros(n + 1, dtype=np.int64)
        np.add.at(lit, low[tied], 1)
        np.add.at(lit, np.minimum(high[tied] + 1, n), -1)
        out[row] = np.cumsum(lit)[:n] > 0
        out[row, 0] = True  # straight below
    return out


def reach_at(made: Cast, depth_m: float) -> Floats:
    """Return how far direct sound comes unbroken at a depth, by direction, m; inf beyond the end.

    A place at the depth is lit where two neighbouring rays, both still clear of the ground, pass
    above and below it or close by.
    """
    ranges, n = made.ground.range_m, len(made.ground.range_m)
    out = np.full(len(made.hit), np.inf)
    place, alike = np.arange(n), made.depth_m.ndim == 2
    for row, hit in enumerate(made.hit):
        if row == 0 or not alike:
            rays = made.rays(row)
            gap = rays - depth_m
            close = np.abs(gap) <= 0.25
            between = (gap[:-1] * gap[1:] <= 0.0) & (np.abs(np.diff(rays, axis=0)) <= 25.0)
        clear = place[None, :] < hit[:, None]
        lit = (close & clear).any(axis=0) | (between & clear[:-1] & clear[1:]).any(axis=0)
        land = made.ground.depth_m[row] <= depth_m
        dark = np.flatnonzero((~lit | land)[1:])
        if len(dark):
            out[row] = ranges[dark[0] + 1]
    return out
