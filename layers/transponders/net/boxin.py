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
from layers.transponders.sound.travel import TravelTable

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


def solve(replies: Replies, start_m: Floats, depth_sigma_m: float = 5.0) -> Solution:
    """Return where the transponders lie.

    Parameters
    ----------
    replies : Replies
        At least five to each transponder.
    start_m : ndarray, shape (k, 3)
        Where each should lie: east, north, depth.
    depth_sigma_m : float
        How far the depth where each should lie may be wrong, one sigma: it counts as one more
        observation, without which a straight track could not tell depth from distance.

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
    start = np.asarray(start_m, dtype=float)
    held = _Held(scale=1.0, depth_m=start[:, 2].copy(), depth_sigma_m=depth_sigma_m)
    unknown, rounds = _descend(np.append(start.ravel(), 1.0), replies, held, None)
    gap, _, _ = _model(unknown, replies)
    used = np.abs(gap) <= CUT * max(_spread(gap), 0.01)
    for _ in range(6):
        unknown, more = _descend(unknown, replies, held, used)
        rounds += more
        gap, _, _ = _model(unknown, replies)
        again = np.abs(gap) <= CUT * max(_spread(gap[used]), 0.01)
        if np.array_equal(again, used):
            break
        used = again
    return _judged(unknown, replies, held, used, rounds)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    """What is known beforehand and counts as observed."""

    scale: float
    depth_m: Floats  # (k,)
    depth_sigma_m: float


def _spread(gap_m: Floats) -> float:
    """Return a standard deviation that some wild values cannot move (from the median)."""
    return float(1.4826 * np.median(np.abs(gap_m)))


def _weights(gap_m: Floats, used: Flags | None) -> tuple[Floats, float]:
    """Return weights and the sigma they stand on: all or nothing, or less the wilder."""
    if used is not None:
        return used.astype(float), max(float(np.sqrt(np.mean(gap_m[used] ** 2))), 0.01)
    sigma = max(_spread(gap_m), 0.01)
    weight = 1.0 / np.maximum(1.0, np.abs(gap_m) / (1.5 * sigma))
    weight[np.abs(gap_m) > 15.0 * sigma] = 0.0
    return weight, sigma


def _descend(
    unknown: Floats, replies: Replies, held: _Held, used: Flags | None
) -> tuple[Floats, int]:
    """Return the least-squares place: Gauss-Newton, damped where a step makes it worse."""
    near, limit = (0.05, 25) if used is None else (1e-3, 40)
    damping, rounds = 1e-6, 0
    gap, direction, measured = _model(unknown, replies)
    weight, sigma = _weights(gap, used)
    while rounds < limit:
        rounds += 1
        matrix = _normal(replies, direction, measured, weight, sigma, held)
        pull = _pull(unknown, replies, gap, direction, measured, weight, sigma, held)
        try:
            step = -np.linalg.solve(matrix + damping * np.diag(np.diag(matrix)), pull)
        except np.linalg.LinAlgError:
            raise _flat() from None
        step = np.clip(step, -500.0, 500.0)
        trial = _model(unknown + step, replies)
        before = _cost(unknown, gap, weight, sigma, held)
        if _cost(unknown + step, trial[0], weight, sigma, held) > before * (1.0 + 1e-12):
            damping = max(10.0 * damping, 1e-3)
            if damping > 1e9:
                break
            continue
        unknown, (gap, direction, measured) = unknown + step, trial
        damping = max(0.1 * damping, 1e-9)
        if np.max(np.abs(step[:-1])) < near:
            break
        weight, sigma = _weights(gap, used)
    return unknown, rounds


def _cost(unknown: Floats, gap: Floats, weight: Floats, sigma_m: float, held: _Held) -> float:
    scale = (unknown[-1] - held.scale) * sigma_m / SCALE_SIGMA
    depth = (unknown[2:-1:3] - held.depth_m) * sigma_m / held.depth_sigma_m
    return float(np.sum(weight * gap * gap) + scale**2 + depth @ depth)


def _normal(
    replies: Replies,
    direction: Floats,
    measured: Floats,
    weight: Floats,
    sigma_m: float,
    held: _Held,
) -> Floats:
    """Return the normal matrix: a block of three per transponder, and the shared scale."""
    k = len(replies.tables)
    matrix = np.zeros((3 * k + 1, 3 * k + 1))
    for i in range(k):
        mine = replies.which == i
        d, w, m = direction[mine], weight[mine], measured[mine]
        here = slice(3 * i, 3 * i + 3)
        matrix[here, here] = (d * w[:, None]).T @ d
        matrix[3 * i + 2, 3 * i + 2] += (sigma_m / held.depth_sigma_m) ** 2
        matrix[here, -1] = matrix[-1, here] = -(d.T @ (w * m))
        matrix[-1, -1] += np.sum(w * m * m)
    matrix[-1, -1] += (sigma_m / SCALE_SIGMA) ** 2
    return matrix


def _pull(
    unknown: Floats,
    replies: Replies,
    gap: Floats,
    direction: Floats,
    measured: Floats,
    weight: Floats,
    sigma_m: float,
    held: _Held,
) -> Floats:
    """Return half the gradient of the cost."""
    pull = np.zeros(len(unknown))
    for axis in range(3):
        pull[axis:-1:3] = np.bincount(
            replies.which, weights=weight * gap * direction[:, axis], minlength=len(replies.tables)
        )
    pull[2:-1:3] += (unknown[2:-1:3] - held.depth_m) * (sigma_m / held.depth_sigma_m) ** 2
    pull[-1] = -np.sum(weight * gap * measured)
    pull[-1] += (unknown[-1] - held.scale) * (sigma_m / SCALE_SIGMA) ** 2
    return pull


def _flat() -> InputError:
    return InputError(
        "the ship's track does not fix the place of a transponder",
        where="box-in",
        accepted="replies from all round it, not from one place or one line overhead",
    )


def _judged(unknown: Floats, replies: Replies, held: _Held, used: Flags, rounds: int) -> Solution:
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
    matrix = _normal(replies, direction, measured, used.astype(float), max(sigma, 0.001), held)
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
        there, _ = _descend(
            np.append(start, solution.scale),
            alone,
            _Held(
                scale=solution.scale,
                depth_m=solution.place_m[index, 2:3],
                depth_sigma_m=max(1.0, float(np.sqrt(solution.covariance[index, 2, 2]))),
            ),
            np.ones(int(np.sum(mine)), dtype=bool),
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
