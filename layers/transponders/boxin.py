"""Boxing in: where transponders lie, from a ship's track and their replies.

All transponders are solved together, each for east, north and depth, with one scale of the
sound speed that they share. A loss that grows more slowly than the square finds the replies
that do not belong; the last solution is plain least squares of those that do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from layers.earth.errors import InputError
from layers.transponders.travel import TravelTable

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
SCALE_SIGMA = 0.002  # how far a measured profile may be wrong: 3 m/s in 1500; our own, no source
CUT = 4.0  # a reply further than this many sigma from the solution does not belong
FEWEST = 5  # replies for one transponder: three unknowns, and something left to judge by


@dataclass(frozen=True, slots=True, kw_only=True)
class Replies:
    """Replies of some transponders in a plane in metres; arrays (n,)."""

    which: npt.NDArray[np.int64]  # place of the transponder in `tables`
    east_m: Floats  # the ship's transducer, halfway between asking and hearing
    north_m: Floats
    depth_m: Floats
    one_way_s: Floats
    tables: tuple[TravelTable, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """Where they lie: ``place_m`` (k, 3) east, north, depth; ``covariance`` (k, 3, 3)."""

    place_m: Floats
    covariance: Floats
    scale: float
    scale_sigma: float
    sigma_m: float
    residual_m: Floats  # slant range less the measured one, (n,)
    used: Flags
    freedom: int
    rounds: int


def residuals(unknown: Floats, replies: Replies) -> Floats:
    """Return slant range less measured range, m, for ``unknown`` (3 k + 1): places, then scale."""
    return _model(unknown, replies)[0]


def _model(unknown: Floats, replies: Replies) -> tuple[Floats, Floats, Floats]:
    """Return the residuals, the directions (n, 3) and the measured ranges at scale one, m."""
    place = unknown[:-1].reshape(-1, 3)[replies.which]
    offset = np.column_stack(
        (place[:, 0] - replies.east_m, place[:, 1] - replies.north_m, place[:, 2] - replies.depth_m)
    )
    slant = np.sqrt(np.einsum("ij,ij->i", offset, offset))
    level = np.hypot(offset[:, 0], offset[:, 1])
    measured = np.empty_like(slant)
    for k, table in enumerate(replies.tables):
        mine = replies.which == k
        measured[mine] = table.speed(level[mine], place[mine, 2]) * replies.one_way_s[mine]
    direction = offset / np.maximum(slant, 1e-6)[:, None]
    return slant - unknown[-1] * measured, direction, measured


def solve(replies: Replies, start_m: Floats) -> Solution:
    """Return where the transponders lie.

    Parameters
    ----------
    replies : Replies
        At least five to each transponder.
    start_m : ndarray, shape (k, 3)
        Where each should lie: east, north, depth.

    Raises
    ------
    InputError
        Too few replies, or a track from which the place cannot be told.
    """
    counts = np.bincount(replies.which, minlength=len(replies.tables))
    if np.any(counts < FEWEST):
        raise InputError(
            f"{int(np.min(counts))} replies from one transponder",
            where="box-in",
            accepted=f"at least {FEWEST} each",
        )
    unknown = np.append(np.asarray(start_m, dtype=float).ravel(), 1.0)
    unknown, used, rounds = _robust(unknown, replies)
    for _ in range(6):
        unknown, more = _least_squares(unknown, replies, used)
        rounds += more
        gap, _, _ = _model(unknown, replies)
        sigma = _spread(gap[used])
        again = np.abs(gap) <= CUT * max(sigma, 0.01)
        if np.array_equal(again, used):
            break
        used = again
    return _judged(unknown, replies, used, rounds)


def _spread(gap_m: Floats) -> float:
    """Return a standard deviation that some wild values cannot move (from the median)."""
    return float(1.4826 * np.median(np.abs(gap_m)))


def _robust(unknown: Floats, replies: Replies) -> tuple[Floats, Flags, int]:
    rounds = 0
    while rounds < 15:
        rounds += 1
        gap, direction, measured = _model(unknown, replies)
        sigma = max(_spread(gap), 0.01)
        weight = 1.0 / np.maximum(1.0, np.abs(gap) / (1.5 * sigma))
        weight[np.abs(gap) > 15.0 * sigma] = 0.0
        step = _step(unknown, replies, gap, direction, measured, weight, sigma)
        unknown = unknown + step
        if np.max(np.abs(step[:-1])) < 0.05:
            break
    gap, _, _ = _model(unknown, replies)
    return unknown, np.abs(gap) <= CUT * max(_spread(gap), 0.01), rounds


def _least_squares(unknown: Floats, replies: Replies, used: Flags) -> tuple[Floats, int]:
    weight = used.astype(float)
    rounds = 0
    while rounds < 11:
        rounds += 1
        gap, direction, measured = _model(unknown, replies)
        sigma = max(float(np.sqrt(np.mean(gap[used] ** 2))), 0.01)
        step = _step(unknown, replies, gap, direction, measured, weight, sigma)
        unknown = unknown + step
        if np.max(np.abs(step[:-1])) < 1e-3:
            break
    return unknown, rounds


def _normal(
    replies: Replies, direction: Floats, measured: Floats, weight: Floats, sigma_m: float
) -> Floats:
    """Return the normal matrix: a block of three per transponder, and the shared scale."""
    k = len(replies.tables)
    matrix = np.zeros((3 * k + 1, 3 * k + 1))
    for i in range(k):
        mine = replies.which == i
        d, w, m = direction[mine], weight[mine], measured[mine]
        here = slice(3 * i, 3 * i + 3)
        matrix[here, here] = (d * w[:, None]).T @ d
        matrix[here, -1] = matrix[-1, here] = -(d.T @ (w * m))
        matrix[-1, -1] += np.sum(w * m * m)
    matrix[-1, -1] += (sigma_m / SCALE_SIGMA) ** 2
    return matrix


def _step(
    unknown: Floats,
    replies: Replies,
    gap: Floats,
    direction: Floats,
    measured: Floats,
    weight: Floats,
    sigma_m: float,
) -> Floats:
    """Return one Gauss-Newton step."""
    matrix = _normal(replies, direction, measured, weight, sigma_m)
    pull = np.zeros(len(unknown))
    for axis in range(3):
        pull[axis:-1:3] = np.bincount(
            replies.which, weights=weight * gap * direction[:, axis], minlength=len(replies.tables)
        )
    pull[-1] = -np.sum(weight * gap * measured)
    pull[-1] += (unknown[-1] - 1.0) * (sigma_m / SCALE_SIGMA) ** 2
    try:
        step = -np.linalg.solve(matrix, pull)
    except np.linalg.LinAlgError:
        raise _flat() from None
    return np.asarray(np.clip(step, -500.0, 500.0))


def _flat() -> InputError:
    return InputError(
        "the ship's track does not fix the place of a transponder",
        where="box-in",
        accepted="replies from all round it, not from one place or one line overhead",
    )


def _judged(unknown: Floats, replies: Replies, used: Flags, rounds: int) -> Solution:
    gap, direction, measured = _model(unknown, replies)
    k = len(replies.tables)
    freedom = int(np.sum(used)) - 3 * k
    if freedom < 1 or np.any(np.bincount(replies.which[used], minlength=k) < FEWEST):
        raise InputError(
            "too few replies agree with each other",
            where="box-in",
            accepted=f"at least {FEWEST} replies that agree, each",
        )
    sigma = float(np.sqrt(np.sum(gap[used] ** 2) / freedom))
    matrix = _normal(replies, direction, measured, used.astype(float), max(sigma, 0.001))
    if np.linalg.cond(matrix[:-1, :-1]) > 1e9:
        raise _flat()
    whole = sigma**2 * np.linalg.inv(matrix)
    blocks = np.stack([whole[3 * i : 3 * i + 3, 3 * i : 3 * i + 3] for i in range(k)])
    return Solution(
        place_m=unknown[:-1].reshape(-1, 3),
        covariance=blocks,
        scale=float(unknown[-1]),
        scale_sigma=float(np.sqrt(whole[-1, -1])),
        sigma_m=sigma,
        residual_m=gap,
        used=used,
        freedom=freedom,
        rounds=rounds,
    )


def other_side(replies: Replies, solution: Solution, index: int) -> Floats | None:
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
    try:
        there, _ = _least_squares(
            np.append(start, solution.scale), alone, np.ones(int(np.sum(mine)), dtype=bool)
        )
    except InputError:
        return None
    rms = float(np.sqrt(np.mean(residuals(there, alone) ** 2)))
    apart = float(np.hypot(*(there[:2] - solution.place_m[index, :2])))
    return there[:2] if rms < 1.3 * solution.sigma_m and apart > 10.0 else None


def _only(replies: Replies, mine: Flags, index: int) -> Replies:
    return Replies(
        which=np.zeros(int(np.sum(mine)), dtype=np.int64),
        east_m=replies.east_m[mine],
        north_m=replies.north_m[mine],
        depth_m=replies.depth_m[mine],
        one_way_s=replies.one_way_s[mine],
        tables=(replies.tables[index],),
    )


def names_out(solution: Solution, replies: Replies, names: Sequence[str]) -> dict[str, int]:
    """Return how many replies of each transponder were left out."""
    return {
        name: int(np.sum((replies.which == k) & ~solution.used)) for k, name in enumerate(names)
    }
