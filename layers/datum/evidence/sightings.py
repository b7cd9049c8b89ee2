"""What a thing seen adrift says of where and when it left her: drift run backwards."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layers.datum.adrift.drift import DriftField, draw_drifters, drift
from layers.datum.adrift.leeway import Leeway
from layers.datum.before.prior import States
from layers.datum.evidence.likelihood import with_tail
from layers.earth.arrays import Floats

CLOUD = 1_200
BACK_STEP_S = 300.0  # so far apart the places of a release lie within the cloud's own size
LATTICE = 160
LOSS_STEP_S = 600.0
AT_LOSS_S = 3_600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BackTrack:
    """Where a sighted object may have been at earlier times: one normal cloud per tack and step.

    Parameters
    ----------
    before_s : ndarray, shape (nt,)
        Seconds before the sighting, ascending from 0.
    mean_m : ndarray, shape (lobes, nt, 2)
        Mean place on the plane.
    inverse : ndarray, shape (lobes, nt, 3)
        Inverse covariance: xx, xy, yy, per square metre.
    scale : ndarray, shape (lobes, nt)
        ``1 / (2 pi sqrt(det))``, per square metre.
    """

    before_s: Floats
    mean_m: Floats
    inverse: Floats
    scale: Floats

    def density(self, x_m: Floats, y_m: Floats, before_s: Floats) -> Floats:
        """Return the density per square metre at places and times before, shape (n,)."""
        step = self.before_s[1] - self.before_s[0]
        row = np.clip(np.rint(before_s / step).astype(np.int64), 0, len(self.before_s) - 1)
        total = np.zeros(len(x_m))
        for mean, inverse, scale in zip(self.mean_m, self.inverse, self.scale, strict=True):
            middle, spread = mean[row], inverse[row]
            dx, dy = x_m - middle[:, 0], y_m - middle[:, 1]
            squared = dx * (spread[:, 0] * dx + 2.0 * spread[:, 1] * dy) + spread[:, 2] * dy * dy
            total += scale[row] * np.exp(-0.5 * squared)
        return total / len(self.mean_m)


def back_track(
    field: DriftField,
    x_m: float,
    y_m: float,
    sigma_m: float,
    seen_us: int,
    earliest_us: int,
    leeway: Leeway,
    rng: np.random.Generator,
) -> BackTrack:
    """Return where the object was from the sighting back to the earliest possible release."""
    steps: list[tuple[int, Floats, Floats]] = []
    drifters = draw_drifters(leeway, CLOUD, rng)
    x = x_m + sigma_m * rng.standard_normal(CLOUD)
    y = y_m + sigma_m * rng.standard_normal(CLOUD)
    starboard = drifters.sin.copy() > 0.0
    lobes = [np.ones(CLOUD, dtype=bool)] if not drifters.sin.any() else [starboard, ~starboard]
    drift(field, x, y, seen_us, min(earliest_us, seen_us - 1), drifters, rng, every=steps,
          step_s=BACK_STEP_S)  # fmt: skip
    steps.insert(0, (seen_us, x, y))
    before = np.array([(seen_us - at) / 1e6 for at, _, _ in steps])
    mean = np.zeros((len(lobes), len(steps), 2))
    inverse = np.zeros((len(lobes), len(steps), 3))
    scale = np.zeros((len(lobes), len(steps)))
    for lobe, members in enumerate(lobes):
        for number, (_, px, py) in enumerate(steps):
            cov = np.cov(px[members], py[members])
            mean[lobe, number] = px[members].mean(), py[members].mean()
            inverted = np.linalg.inv(cov)
            inverse[lobe, number] = inverted[0, 0], inverted[0, 1], inverted[1, 1]
            scale[lobe, number] = 1.0 / (2.0 * np.pi * np.sqrt(np.linalg.det(cov)))
    return BackTrack(before_s=before, mean_m=mean, inverse=inverse, scale=scale)


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeOfLeaving:
    """When a sighted thing may have left her, seconds after the prior's start.

    ``still_rising`` is the chance that it is still coming from her (a slick's up-drift end);
    of the rest, ``at_loss`` is the chance that it left her within an hour of the loss, else any
    time up to the last possible one is as likely.
    """

    seen_s: float
    from_s: float
    to_s: float
    still_rising: float = 0.0
    at_loss: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SightingTerm:
    """A sighting of something that left her between her loss and the sighting.

    The density of place given the time of loss, the release being equally likely between the
    loss and the last possible time, is worked out once on a lattice and read between its points.

    Parameters
    ----------
    density : ndarray, shape (nt, ny, nx)
        Per square metre, by time of loss and place.
    x0_m, y0_m, cell_m, step_s : float
        Middle of the first cell, and the steps.
    anywhere_per_m2 : float
        Density of things of this sort that are not hers.
    """

    density: Floats
    x0_m: float
    y0_m: float
    cell_m: float
    step_s: float
    wrong: float
    anywhere_per_m2: float

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        from scipy.ndimage import map_coordinates  # imported here: slow to start

        last = len(self.density) - 1.0
        where = np.stack([
            np.clip(states.lost_s / self.step_s, 0.0, last),
            (states.y_m - self.y0_m) / self.cell_m,
            (states.x_m - self.x0_m) / self.cell_m,
        ])  # fmt: skip
        found = map_coordinates(self.density, where, order=1, mode="constant")
        return with_tail(found, self.wrong, self.anywhere_per_m2)

    def wrong_part(self, states: States) -> Floats:
        """Return the density of a thing that is not hers, times the chance of that, shape (n,)."""
        return np.full(len(states), self.wrong * self.anywhere_per_m2)


def sighting_term(
    track: BackTrack, release: TimeOfLeaving, span_s: float, wrong: float, anywhere_per_m2: float
) -> SightingTerm:
    """Return the term of a sighting, its lattice worked out over the span of the loss."""
    spread = 1.0 / np.sqrt(np.minimum(track.inverse[..., 0], track.inverse[..., 2]))
    reach = float(5.0 * spread.max())
    low, high = track.mean_m.min(axis=(0, 1)) - reach, track.mean_m.max(axis=(0, 1)) + reach
    cell = max(float((high - low).max()) / LATTICE, float(spread.min()) / 4.0)
    nx, ny = (int(np.ceil(side / cell)) + 1 for side in high - low)
    gy, gx = np.meshgrid(
        low[1] + cell * np.arange(ny), low[0] + cell * np.arange(nx), indexing="ij"
    )
    gx, gy = gx.ravel(), gy.ravel()
    steps = max(int(np.ceil(span_s / LOSS_STEP_S)), 1)
    # The density of a release at each step of the back track, and its running sum: the mean over
    # any span of releases is then a difference of two sums, however fine the steps.
    released = release.seen_s - track.before_s  # descending, seconds after the start
    each = np.stack([track.density(gx, gy, np.array([before])) for before in track.before_s])
    sums = np.concatenate((np.zeros((1, len(gx))), np.cumsum(each, axis=0)))
    density = np.zeros((steps + 1, ny * nx))
    last = min(release.to_s, release.seen_s)

    def mean(first_s: float, last_s: float) -> Floats:
        """Return the mean density of releases between two times."""
        newest = int(np.searchsorted(-released, -last_s - 1.0))
        oldest = int(np.searchsorted(-released, -first_s + 1.0, side="right"))
        newest, oldest = min(newest, len(released) - 1), min(max(oldest, newest + 1), len(released))
        return np.asarray((sums[oldest] - sums[newest]) / (oldest - newest))

    for number in range(steps + 1):
        first = max(number * LOSS_STEP_S, release.from_s)
        if first > last:
            continue
        early, late = mean(first, min(first + AT_LOSS_S, last)), mean(first, last)
        density[number] = release.at_loss * early + (1.0 - release.at_loss) * late
        density[number] *= 1.0 - release.still_rising
        density[number] += release.still_rising * each[0]
    return SightingTerm(
        density=density.reshape(steps + 1, ny, nx),
        x0_m=float(low[0]),
        y0_m=float(low[1]),
        cell_m=cell,
        step_s=LOSS_STEP_S,
        wrong=wrong,
        anywhere_per_m2=anywhere_per_m2,
    )
