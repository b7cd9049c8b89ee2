"""Where she can lie at all: not on land, and not in water too deep or too shallow for her."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from layers.datum.before.prior import Prior, States
from layers.datum.model import DepthLimits
from layers.earth.arrays import Floats
from layers.earth.plane import Plane
from layers.earth.shore.land import Land
from layers.earth.values import DepthGrid

LATTICE = 160
ON_LAND = 1e-6
# Depth grids differ by hundreds of metres on a slope: a wrong depth makes a place unlikely,
# never impossible. Common practice, no source.
WRONG_DEPTH = 0.02
SAMPLE = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenGround:
    """How far each cell of a lattice is open to her: 1 open, less where she can hardly lie.

    Parameters
    ----------
    open : ndarray, shape (ny, nx)
        Factor on the prior by cell.
    x0_m, y0_m, cell_m : float
        Middle of the first cell, and the step.
    words : str
        What was kept from, in words; empty when nothing was.
    """

    open: Floats
    x0_m: float
    y0_m: float
    cell_m: float
    words: str
    kept: float = 1.0  # mean factor over the prior: what of it is left

    def factor(self, states: States) -> Floats:
        """Return the factor for each state, shape (n,); off the lattice the nearest cell's."""
        ny, nx = self.open.shape
        column = np.clip(np.rint((states.x_m - self.x0_m) / self.cell_m), 0, nx - 1)
        row = np.clip(np.rint((states.y_m - self.y0_m) / self.cell_m), 0, ny - 1)
        return np.asarray(self.open.ravel().take((row * nx + column).astype(np.int64)))


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundedPrior:
    """A prior kept from where she cannot lie."""

    prior: Prior
    ground: OpenGround

    @property
    def words(self) -> str:
        """What is assumed, in words."""
        return f"{self.prior.words}; {self.ground.words}"

    @property
    def start(self) -> datetime:
        """Earliest time of loss, UTC."""
        return self.prior.start

    @property
    def span_s(self) -> float:
        """Seconds from then to the latest time of loss."""
        return self.prior.span_s

    def draw(self, count: int, rng: np.random.Generator) -> States:
        """Return ``count`` states: those on closed ground are drawn again, up to 20 times."""
        states = self.prior.draw(count, rng)
        closed = np.arange(count)
        for _ in range(20):
            tested = states.take(closed)
            closed = closed[rng.random(len(closed)) >= self.ground.factor(tested)]
            if not len(closed):
                break
            fresh = self.prior.draw(len(closed), rng)
            for column, other in (
                (states.x_m, fresh.x_m),
                (states.y_m, fresh.y_m),
                (states.lost_s, fresh.lost_s),
            ):
                column[closed] = other
        return states

    def under_way(self, states: States, at_s: Floats) -> tuple[Floats, Floats]:
        """Return where she was at a time before her loss."""
        return self.prior.under_way(states, at_s)

    def log_density(self, states: States) -> Floats:
        """Return the log density per square metre and second, shape (n,)."""
        open_part = np.log(self.ground.factor(states) / self.ground.kept)
        return self.prior.log_density(states) + open_part


def ground_of(
    prior: Prior, plane: Plane, land: Land, depths: DepthGrid | None, limits: DepthLimits | None
) -> OpenGround | None:
    """Return the ground under a prior, or None where all of it is open to her."""
    if not land.ready() and depths is None:
        return None
    states = prior.draw(SAMPLE, np.random.default_rng(1))
    (low_x, high_x), (low_y, high_y) = (
        np.quantile(column, [0.001, 0.999]) for column in (states.x_m, states.y_m)
    )
    cell = max(high_x - low_x, high_y - low_y, 1_000.0) / LATTICE
    x = np.arange(low_x, high_x + cell, cell)
    y = np.arange(low_y, high_y + cell, cell)
    grid_y, grid_x = np.meshgrid(y, x, indexing="ij")
    lat, lon = plane.unproject(grid_x.ravel(), grid_y.ravel())
    factor = np.where(np.asarray(land.is_land(lat, lon)), ON_LAND, 1.0)
    said = ["land"] if (factor < 1.0).any() else []
    if depths is not None:
        depth = depths.depth_m(lat, lon)
        with np.errstate(invalid="ignore"):
            factor = np.where(depth < 0.0, ON_LAND, factor)
            if limits is not None:
                wrong = (depth < limits.shallowest_m) | (depth > limits.deepest_m)
                factor = np.where(wrong & (depth >= 0.0), WRONG_DEPTH, factor)
                said.append(
                    f"water under {limits.shallowest_m:g} m or over {limits.deepest_m:g} m deep "
                    f"by {depths.source}"
                )
    if not (factor < 1.0).any():
        return None
    found = OpenGround(
        open=factor.reshape(len(y), len(x)),
        x0_m=float(low_x),
        y0_m=float(low_y),
        cell_m=float(cell),
        words="kept from " + " and ".join(said or ["land"]),
    )
    return replace(found, kept=max(float(found.factor(states).mean()), 1e-6))
