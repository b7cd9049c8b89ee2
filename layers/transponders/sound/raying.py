"""The ray diagram from the seat: rays, where direct sound comes, and how far at a depth."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats
from layers.transponders.sound.rays import fan, lit, paths
from layers.transponders.sound.terrain import turning_angles
from layers.transponders.sound.water import Water

RANGES, DEPTHS, DRAWN, CAST = 160, 72, 31, 1081


@dataclass(frozen=True, slots=True, kw_only=True)
class RayPicture:
    """Rays and shadow against range and depth, for one source depth."""

    source_depth_m: float
    angle_deg: Floats  # (rays,) of those drawn
    range_m: Floats  # (points,)
    depth_m: Floats  # (rays, points), NaN from the first meeting with the seabed on
    depth_edges_m: Floats  # (depths + 1,)
    range_edges_m: Floats  # (ranges,)
    direct: npt.NDArray[np.bool_]  # (depths, ranges - 1): some ray comes without the seabed


def ray_picture(made: Water, source_depth_m: float, reach_m: float) -> RayPicture:
    """Return the diagram of rays from a source out to a range.

    Kept for the same water: the profile changes a few times a day, the picture every minute.
    """
    return _cast(made.depth_m.tobytes(), made.speed_m_s.tobytes(), source_depth_m, reach_m)


@lru_cache(maxsize=8)
def _cast(depths: bytes, speeds: bytes, source_depth_m: float, reach_m: float) -> RayPicture:
    depth_m, speed_m_s = np.frombuffer(depths), np.frombuffer(speeds)
    bottom = float(depth_m[-1])
    source = float(np.clip(source_depth_m, depth_m[0] + 0.5, bottom - 0.5))
    ranges = np.linspace(0.0, reach_m, RANGES)
    edges = np.linspace(0.0, bottom, DEPTHS + 1)
    steep = float(np.degrees(np.arctan2(bottom, 0.5 * reach_m / RANGES)))
    # Dense near the horizontal, where rays part most
    spread = np.linspace(-1.0, 1.0, CAST)
    fanned = steep * np.sign(spread) * np.abs(spread) ** 2
    fanned = np.unique(np.append(fanned, turning_angles(depth_m, speed_m_s, source)))
    cast = fan(depth_m, speed_m_s, source, fanned)
    angles = 12.0 * np.linspace(-1.0, 1.0, DRAWN) * np.abs(np.linspace(-1.0, 1.0, DRAWN))
    fine = np.linspace(0.0, reach_m, 4 * RANGES)
    drawn = paths(fan(depth_m, speed_m_s, source, angles), fine)
    # Each ray as far as its first meeting with the seabed: beyond it is no longer direct.
    direct = np.where(drawn.bottom_hits > 0, np.nan, drawn.depth_m)
    return RayPicture(
        source_depth_m=source,
        angle_deg=angles,
        range_m=fine,
        depth_m=direct,
        depth_edges_m=edges,
        range_edges_m=ranges,
        direct=lit(cast, ranges, edges),
    )


def direct_to(picture: RayPicture, depth_m: float) -> float | None:
    """Return the range to which direct sound comes at a depth, m; None if it never ends here."""
    row = int(np.clip(np.searchsorted(picture.depth_edges_m, depth_m) - 1, 0, DEPTHS - 1))
    dark = np.flatnonzero(~picture.direct[row])
    if not len(dark):
        return None
    return float(picture.range_edges_m[dark[0]])


def shadow_share(picture: RayPicture) -> float:
    """Return the share of the diagram that direct sound does not reach, 0 to 1."""
    return float(1.0 - np.mean(picture.direct))
