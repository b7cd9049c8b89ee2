"""Boxing in: where transponders lie, from a ship's track and their replies.

All transponders are solved together, each for east, north and depth, with what they share: one
scale of the sound speed (a clock that runs fast or slow is in it), the ship's own position error
that stays the same over the hours, the arm from antenna to transducer turned by her heading, the
lateness of her positions, and each transponder's turn-round delay. Each of these has its prior:
what the replies cannot tell stays as wide as the prior, and the ellipse with it. A loss that
grows more slowly than the square finds the replies that do not belong; the last solution is
least squares of those that do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Bools, Floats
from layers.earth.errors import InputError
from layers.transponders.net.noise import noisy_from_the_side
from layers.transponders.net.priors import Priors
from layers.transponders.sound.travel import TravelTable

CUT = 4.0  # a reply further than this many sigma from the solution does not belong
WILD = 15.0  # and this many, before there is one, count for nothing
NO_ERROR = 1e-9  # an error that is ruled out stands this still, in m, s or parts of the speed
FEWEST = 5  # replies for one transponder: three unknowns, and something left to judge by


@dataclass(frozen=True, slots=True, kw_only=True)
class Between:
    """Ranges from one transponder to another; arrays (m,).

    They know nothing of the ship: her position's error, her arm and her lateness are not in them,
    so that they hold the net together. The delay is that of the one that answers.
    """

    asks: npt.NDArray[np.int64]
    answers: npt.NDArray[np.int64]
    one_way_s: Floats
    speed_m_s: Floats  # mean between the two depths; rays near the seabed are all but straight
    sigma_m: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Replies:
    """Replies of some transponders in a plane in metres; arrays (n,)."""

    which: npt.NDArray[np.int64]  # place of the transponder in `tables`
    east_m: Floats  # the ship's transducer, halfway between asking and hearing
    north_m: Floats
    depth_m: Floats
    one_way_s: Floats
    tables: tuple[TravelTable, ...]
    heading_rad: Floats | None = None  # of the ship, NaN where not known
    velocity_m_s: Floats | None = None  # (n, 2) east and north
    between: Between | None = None  # ranges that the transponders took to each other


@dataclass(frozen=True, slots=True, kw_only=True)
class NetSolution:
    """Where they lie: ``place_m`` (k, 3) east, north, depth; ``covariance`` (k, 3, 3).

    ``covariance`` holds the ship's common position error, which moves them all alike;
    ``own_covariance`` (k, 4, 4) is without it, and tells of the turn-round delay (s) as well: a
    range to one of them rests on both. ``lever_m`` (forward, right) and ``delay_s`` (k,) are as
    solved, with ``told`` naming those that the replies say more of than the prior did.
    """

    place_m: Floats
    covariance: Floats
    own_covariance: Floats
    lever_m: tuple[float, float]
    late_s: float
    delay_s: Floats
    told: tuple[str, ...]
    scale: float
    scale_sigma: float
    sigma_m: float
    residual_m: Floats  # slant range less the measured one, (n,)
    used: Bools  # (n,)
    between_m: Floats  # the same of the ranges between transponders, (m,)
    between_used: Bools  # (m,)
    freedom: int
    rounds: int


SHARED = 6  # scale, ship east and north, lever forward and right, lateness
RANGE_SIGMA_M = 1.0  # of a ship's range: what sets how a range between transponders weighs


def residuals(unknown: Floats, replies: Replies) -> Floats:
    """Return slant range less measured range, m, for places (3 k), `SHARED` and delays (k).

    The replies come first, then the ranges between transponders in units of their sigma.
    """
    return _model(unknown, replies)[0]


def _model(unknown: Floats, replies: Replies) -> tuple[Floats, Floats]:
    """Return the residuals (n + m,) and their derivatives (n + m, 4 k + SHARED)."""
    gap, slope = _from_ship(unknown, replies)
    if replies.between is None:
        return gap, slope
    more, theirs = _from_each_other(unknown, replies.between, len(replies.tables))
    return np.concatenate((gap, more)), np.vstack((slope, theirs))


def _from_each_other(unknown: Floats, between: Between, k: int) -> tuple[Floats, Floats]:
    places, delay = unknown[: 3 * k].reshape(-1, 3), unknown[3 * k + SHARED :][between.answers]
    rows, scale = np.arange(len(between.asks)), unknown[3 * k]
    offset = places[between.asks] - places[between.answers]
    slant = np.sqrt(np.einsum("ij,ij->i", offset, offset))
    measured = between.speed_m_s * (between.one_way_s - delay / 2.0)
    d = offset / np.maximum(slant, 1e-6)[:, None]
    slope = np.zeros((len(rows), 4 * k + SHARED))
    for axis in range(3):
        slope[rows, 3 * between.asks + axis] = d[:, axis]
        slope[rows, 3 * between.answers + axis] = -d[:, axis]
    slope[:, 3 * k] = -measured
    slope[rows, 3 * k + SHARED + between.answers] = scale * between.speed_m_s / 2.0
    heavy = RANGE_SIGMA_M / between.sigma_m
    return (slant - scale * measured) * heavy, slope * heavy[:, None]


def _from_ship(unknown: Floats, replies: Replies) -> tuple[Floats, Floats]:
    """Return the residuals of the ship's replies (n,), and their derivatives."""
    k, n = len(replies.tables), len(replies.which)
    rows = np.arange(n)
    place = unknown[: 3 * k].reshape(-1, 3)[replies.which]
    scale, east, north, forward, right, late = unknown[3 * k : 3 * k + SHARED]
    delay = unknown[3 * k + SHARED :][replies.which]
    sine, cosine, velocity = _heading(replies)
    ship_e = replies.east_m + east + forward * sine + right * cosine + late * velocity[:, 0]
    ship_n = replies.north_m + north + forward * cosine - right * sine + late * velocity[:, 1]
    offset = np.column_stack((place[:, 0] - ship_e, place[:, 1] - ship_n, place[:, 2]))
    offset[:, 2] -= replies.depth_m
    slant = np.sqrt(np.einsum("ij,ij->i", offset, offset))
    level = np.hypot(offset[:, 0], offset[:, 1])
    speed = np.empty_like(slant)
    for i, table in enumerate(replies.tables):
        mine = replies.which == i
        speed[mine] = table.speed(level[mine], place[mine, 2])
    measured = speed * (replies.one_way_s - delay / 2.0)
    d = offset / np.maximum(slant, 1e-6)[:, None]
    slope = np.zeros((n, 4 * k + SHARED))
    for axis in range(3):
        slope[rows, 3 * replies.which + axis] = d[:, axis]
    shared = slope[:, 3 * k : 3 * k + SHARED]
    shared[:, 0] = -measured
    shared[:, 1], shared[:, 2] = -d[:, 0], -d[:, 1]
    shared[:, 3] = -(d[:, 0] * sine + d[:, 1] * cosine)
    shared[:, 4] = -(d[:, 0] * cosine - d[:, 1] * sine)
    shared[:, 5] = -(d[:, 0] * velocity[:, 0] + d[:, 1] * velocity[:, 1])
    slope[rows, 3 * k + SHARED + replies.which] = scale * speed / 2.0
    return slant - scale * measured, slope


def _heading(replies: Replies) -> tuple[Floats, Floats, Floats]:
    """Return sine and cosine of her heading, both 0 where not known, and her velocity."""
    n = len(replies.which)
    if replies.heading_rad is None:
        return np.zeros(n), np.zeros(n), np.zeros((n, 2))
    known = np.isfinite(replies.heading_rad)
    angle = np.where(known, replies.heading_rad, 0.0)
    velocity = np.zeros((n, 2)) if replies.velocity_m_s is None else replies.velocity_m_s
    return np.sin(angle) * known, np.cos(angle) * known, np.nan_to_num(velocity)


def solve(
    replies: Replies,
    start_m: Floats,
    depth_sigma_m: float = 5.0,
    priors: Priors | None = None,
) -> NetSolution:
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
    priors : Priors, optional
        What is known of the shared errors beforehand.

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
    held = _held(start, depth_sigma_m, priors or Priors(), replies)
    far = _far(replies, residuals(held.value, replies))
    unknown, rounds = descend(held.value.copy(), replies, held, None, far)
    gap = residuals(unknown, replies)
    used = np.abs(gap) <= CUT * max(_spread(gap), 0.01)
    for _ in range(6):
        unknown, more = descend(unknown, replies, held, used)
        rounds += more
        gap = residuals(unknown, replies)
        again = np.abs(gap) <= CUT * max(_spread(gap[used]), 0.01)
        if np.array_equal(again, used):
            break
        used = again
    return _judged(unknown, replies, held, used, rounds)


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What is known beforehand and counts as observed; ``sigma`` is inf where nothing is."""

    value: Floats  # (4 k + SHARED,)
    sigma: Floats


def _held(start_m: Floats, depth_sigma_m: float, priors: Priors, replies: Replies) -> Held:
    k = len(start_m)
    place_sigma = np.tile([np.inf, np.inf, depth_sigma_m], k)
    ship = priors.ship_m
    if replies.heading_rad is None or np.isnan(replies.heading_rad).mean() > 0.5:
        ship = float(np.hypot(ship, priors.lever_m / 2.0))  # the arm cannot be turned: it adds
    shared = [priors.scale, ship, ship, priors.lever_m, priors.lever_m, priors.late_s]
    delay = np.broadcast_to(np.asarray(priors.delay_s, dtype=float), k)
    known = np.maximum(np.concatenate((shared, delay)), NO_ERROR)
    return Held(
        value=np.concatenate((start_m.ravel(), [1.0], np.zeros(SHARED - 1 + k))),
        sigma=np.concatenate((place_sigma, known)),
    )


def _spread(gap_m: Floats) -> float:
    """Return a standard deviation that some wild values cannot move (from the median)."""
    return float(1.4826 * np.median(np.abs(gap_m)))


def _far(replies: Replies, gap_m: Floats) -> Bools:
    """Return the replies of transponders that lie so far off that all theirs look wild, (n + m,).

    Where the others lie as they should, the one that does not is measured by its own replies.
    """
    n, k = len(replies.which), len(replies.tables)
    tame = np.abs(gap_m[:n]) <= WILD * max(_spread(gap_m), 0.01)
    count = np.bincount(replies.which[tame], minlength=k)
    far = np.zeros(len(gap_m), dtype=bool)
    far[:n] = (count < FEWEST)[replies.which]
    return far


def _weights(gap_m: Floats, used: Bools | None, far: Bools | None = None) -> tuple[Floats, float]:
    """Return weights and the sigma they stand on: all or nothing, or less the wilder."""
    if used is not None:
        return used.astype(float), max(float(np.sqrt(np.mean(gap_m[used] ** 2))), 0.01)
    sigma = max(_spread(gap_m), 0.01)
    each = np.full(len(gap_m), sigma)
    if far is not None and far.any():
        each[far] = max(_spread(gap_m[far]), sigma)
    weight = 1.0 / np.maximum(1.0, np.abs(gap_m) / (1.5 * each))
    weight[np.abs(gap_m) > WILD * each] = 0.0
    return weight, sigma


def descend(
    unknown: Floats,
    replies: Replies,
    held: Held,
    used: Bools | None,
    far: Bools | None = None,
) -> tuple[Floats, int]:
    """Return the least-squares place: Gauss-Newton, damped where a step makes it worse."""
    near, limit = (0.05, 25) if used is None else (1e-3, 40)
    damping, rounds = 1e-6, 0
    places = 3 * len(replies.tables)
    gap, slope = _model(unknown, replies)
    weight, sigma = _weights(gap, used, far)
    while rounds < limit:
        rounds += 1
        matrix = _normal(slope, weight, sigma, held)
        pull = slope.T @ (weight * gap) + (unknown - held.value) * (sigma / held.sigma) ** 2
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
        unknown, (gap, slope) = unknown + step, trial
        damping = max(0.1 * damping, 1e-9)
        if np.max(np.abs(step[:places])) < near:
            break
        weight, sigma = _weights(gap, used, far)
    return unknown, rounds


def _cost(unknown: Floats, gap: Floats, weight: Floats, sigma_m: float, held: Held) -> float:
    off = (unknown - held.value) * sigma_m / held.sigma
    return float(np.sum(weight * gap * gap) + off @ off)


def _normal(slope: Floats, weight: Floats, sigma_m: float, held: Held) -> Floats:
    """Return the normal matrix: the replies', and what is known beforehand on the diagonal."""
    matrix = slope.T @ (slope * weight[:, None])
    matrix[np.diag_indices(len(matrix))] += (sigma_m / held.sigma) ** 2
    return np.asarray(matrix)


def _flat() -> InputError:
    return InputError(
        "the ship's track does not fix the place of a transponder",
        where="box-in",
        accepted="replies from all round it, not from one place or one line overhead",
    )


def _judged(unknown: Floats, replies: Replies, held: Held, used: Bools, rounds: int) -> NetSolution:
    gap, slope = _model(unknown, replies)
    k = len(replies.tables)
    freedom, n = int(np.sum(used)) - 3 * k, len(replies.which)
    mine = used[:n]
    if freedom < 1 or np.any(np.bincount(replies.which[mine], minlength=k) < FEWEST):
        raise InputError(
            "too few replies agree with each other",
            where="box-in",
            accepted=f"at least {FEWEST} replies that agree, each",
        )
    sigma = float(np.sqrt(np.sum(gap[used] ** 2) / freedom))
    matrix = _normal(slope, used.astype(float), max(sigma, 0.001), held)
    if np.linalg.cond(matrix[: 3 * k, : 3 * k]) > 1e9:
        raise _flat()
    level = np.zeros(len(gap))
    level[:n] = sum(slope[np.arange(n), 3 * replies.which + axis] ** 2 for axis in (0, 1))
    whole = noisy_from_the_side(
        matrix, slope[used], gap[used], level[used], max(sigma, 0.001), held.sigma
    )
    rows = [[3 * i, 3 * i + 1, 3 * i + 2, 3 * k + SHARED + i] for i in range(k)]
    blocks = np.stack([whole[np.ix_(mine, mine)] for mine in rows])
    ship = held.sigma[3 * k + 1 : 3 * k + 3] ** 2
    # her common error moves all alike and no reply tells of it: it is the whole prior
    own = blocks - np.diag([ship[0], ship[1], 0.0, 0.0])
    learned = np.sqrt(np.diag(whole)) < 0.5 * held.sigma
    named = {"sound speed": 0, "lever arm forward": 3, "lever arm to the right": 4, "lateness": 5}
    told = [name for name, place in named.items() if learned[3 * k + place]]
    told += ["turn-round delay"] * bool(learned[3 * k + SHARED :].any())
    shared = unknown[3 * k : 3 * k + SHARED]
    return NetSolution(
        place_m=unknown[: 3 * k].reshape(-1, 3),
        covariance=blocks[:, :3, :3],
        own_covariance=own,
        lever_m=(float(shared[3]), float(shared[4])),
        late_s=float(shared[5]),
        delay_s=unknown[3 * k + SHARED :],
        told=tuple(told),
        scale=float(shared[0]),
        scale_sigma=float(np.sqrt(whole[3 * k, 3 * k])),
        sigma_m=sigma,
        residual_m=gap[:n],
        used=mine,
        between_m=gap[n:] / heavy(replies),
        between_used=used[n:],
        freedom=freedom,
        rounds=rounds,
    )


def heavy(replies: Replies) -> Floats:
    """Return how much heavier each range between transponders weighs than a ship's, (m,)."""
    return np.ones(0) if replies.between is None else RANGE_SIGMA_M / replies.between.sigma_m
