"""The place across a straight track that a transponder's replies allow as well."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from layers.earth.arrays import Bools, Floats
from layers.earth.errors import InputError
from layers.transponders.net.boxin import SHARED, Held, NetSolution, Replies, descend, residuals


def other_side(replies: Replies, solution: NetSolution, index: int) -> Floats | None:
    """Return the mirror place of a transponder across a straight track, if it fits as well.

    None when the track goes round far enough to tell the two apart.
    """
    mine = (replies.which == index) & solution.used
    track = np.column_stack((replies.east_m[mine], replies.north_m[mine]))
    middle = np.mean(track, axis=0)
    _, spread, axes = np.linalg.svd(track - middle, full_matrices=False)
    if spread[1] > 0.1 * spread[0]:
        return None
    along = axes[0]
    offset = solution.place_m[index, :2] - middle
    mirrored = middle + 2.0 * (offset @ along) * along - offset
    alone = _only(replies, mine, index)
    start = np.append(mirrored, solution.place_m[index, 2])
    tight = np.full(SHARED + 1, 1e-6)  # what is shared stays as all the transponders solved it
    depth_sigma = max(1.0, float(np.sqrt(solution.covariance[index, 2, 2])))
    shared = [solution.scale, 0.0, 0.0, *solution.lever_m, solution.late_s]
    held = Held(
        value=np.concatenate((start, shared, [solution.delay_s[index]])),
        sigma=np.concatenate(([np.inf, np.inf, depth_sigma], tight)),
    )
    try:
        there, _ = descend(held.value.copy(), alone, held, np.ones(int(np.sum(mine)), dtype=bool))
    except InputError:
        return None
    rms = float(np.sqrt(np.mean(residuals(there, alone) ** 2)))
    apart = float(np.hypot(*(there[:2] - solution.place_m[index, :2])))
    return there[:2] if rms < 1.3 * solution.sigma_m and apart > 10.0 else None


def _only(replies: Replies, mine: Bools, index: int) -> Replies:
    heading, velocity = replies.heading_rad, replies.velocity_m_s
    return replace(
        replies,
        which=np.zeros(int(np.sum(mine)), dtype=np.int64),
        east_m=replies.east_m[mine],
        north_m=replies.north_m[mine],
        depth_m=replies.depth_m[mine],
        one_way_s=replies.one_way_s[mine],
        tables=(replies.tables[index],),
        heading_rad=None if heading is None else heading[mine],
        velocity_m_s=None if velocity is None else velocity[mine],
        between=None,
    )
