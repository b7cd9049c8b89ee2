"""The probability grid, what it holds, the datum and the smallest circle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy

from layers.earth.arrays import Floats
from layers.earth.plane import ellipse_of
from layers.earth.values import Ellipse

CELLS_ACROSS = 80
FEW = 150  # cells that hold 95 %: fewer, and the grid is drawn closer round them
COARSE, FINE = 250, 240  # half of the probability in fewer cells than this: a finer grid
WIDER, NOISE = (1.6, 3.2, 5.0), 1.5  # widths tried (cells), and how many standard errors apart


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Probability by cell of a square grid on the plane.

    Parameters
    ----------
    x0_m, y0_m, cell_m : float
        South-west corner and cell side.
    held : ndarray, shape (ny, nx)
        Probability in each cell; with ``outside`` it adds up to 1.
    """

    x0_m: float
    y0_m: float
    cell_m: float
    held: Floats
    outside: float

    def corners(self) -> tuple[Floats, Floats]:
        """Return x and y of the cell corners, each of shape (ny + 1, nx + 1)."""
        ny, nx = self.held.shape
        y, x = np.meshgrid(
            self.y0_m + self.cell_m * np.arange(ny + 1),
            self.x0_m + self.cell_m * np.arange(nx + 1),
            indexing="ij",
        )
        return x, y

    def middles(self) -> tuple[Floats, Floats]:
        """Return x and y of the cell middles, each of shape (ny, nx)."""
        ny, nx = self.held.shape
        y, x = np.meshgrid(
            self.y0_m + self.cell_m * (np.arange(ny) + 0.5),
            self.x0_m + self.cell_m * (np.arange(nx) + 0.5),
            indexing="ij",
        )
        return x, y

    def level(self, part: float) -> float:
        """Return the cell probability above which the densest cells hold this part."""
        ordered = np.sort(self.held, axis=None)[::-1]
        place = int(np.searchsorted(np.cumsum(ordered), part))
        return float(ordered[min(place, len(ordered) - 1)])

    def area_m2(self, part: float) -> float:
        """Return the area of the densest cells that hold this part."""
        return float(np.count_nonzero(self.held >= self.level(part)) * self.cell_m**2)


def grid_of(
    x_m: Floats,
    y_m: Floats,
    weight: Floats,
    across: int = CELLS_ACROSS,
    smooth: float = 0.8,
    box: tuple[float, float, float, float] | None = None,
) -> Grid:
    """Return the probability grid round the particles that matter (all but 0.2 % each side).

    ``box`` (low and high east, low and high north) says where instead; the rest is outside.
    """
    x_low, x_high = span(x_m, weight) if box is None else box[:2]
    y_low, y_high = span(y_m, weight) if box is None else box[2:]
    side = max(x_high - x_low, y_high - y_low, 1.0) * 1.08
    cell = side / across
    nx = max(int(np.ceil((x_high - x_low) * 1.08 / cell)), 8)
    ny = max(int(np.ceil((y_high - y_low) * 1.08 / cell)), 8)
    x0 = 0.5 * (x_low + x_high) - 0.5 * nx * cell
    y0 = 0.5 * (y_low + y_high) - 0.5 * ny * cell
    held = cell_sums(x_m, y_m, weight, x0, y0, cell, nx, ny)
    outside = max(1.0 - float(held.sum()), 0.0)
    if smooth > 0.0:
        inside = held.sum()
        held = _smoothed(held, float((weight * weight).sum() / weight.sum()), smooth)
        held *= inside / held.sum()
    return Grid(x0_m=x0, y0_m=y0, cell_m=cell, held=held, outside=outside)


def close_grid(x_m: Floats, y_m: Floats, weight: Floats) -> Grid:
    """Return the grid about what holds 95 %, however small that is beside what may be wrong.

    A fix good to metres keeps a few hundredths all over the prior: a grid round all of it would
    hold the rest in one cell. So the grid is drawn again round its dense cells until these are
    many; where the 95 % themselves are wide and half of them narrow, it is made finer.
    """
    grid, box = grid_of(x_m, y_m, weight), None
    for _ in range(8):
        rows, columns = np.nonzero(grid.held >= grid.level(0.955))
        if len(rows) >= FEW:
            break
        first, last = columns.min() - 2, columns.max() + 3
        bottom, top = rows.min() - 2, rows.max() + 3
        box = (
            grid.x0_m + grid.cell_m * float(first),
            grid.x0_m + grid.cell_m * float(last),
            grid.y0_m + grid.cell_m * float(bottom),
            grid.y0_m + grid.cell_m * float(top),
        )
        grid = grid_of(x_m, y_m, weight, box=box)
    if np.count_nonzero(grid.held >= grid.level(0.5)) < COARSE:
        return grid_of(x_m, y_m, weight, across=FINE, box=box)
    return grid


def _smoothed(held: Floats, one: float, smooth: float) -> Floats:
    """Return the cells smoothed as widely as their sampling noise allows, cell by cell.

    A wider mean is taken where it differs from the narrower one by no more than the noise of
    that one: flat ground loses its specks, edges and tops keep their shape. ``one`` is the
    weight of the mean particle; the variance of a Gaussian mean of width s cells is that times
    the cell's weight over ``4 pi s^2``.
    """
    from scipy.ndimage import gaussian_filter  # imported here: slow to start

    found = gaussian_filter(held, smooth, mode="nearest")
    noise = np.sqrt(found * one / (4.0 * np.pi * smooth**2))
    same = np.ones(held.shape, dtype=bool)
    for wider in WIDER:
        tried = gaussian_filter(held, wider, mode="nearest")
        same &= np.abs(tried - found) <= NOISE * noise
        found = np.where(same, tried, found)
        noise = np.where(same, np.sqrt(tried * one / (4.0 * np.pi * wider**2)), noise)
    return np.asarray(gaussian_filter(found, 0.5, mode="nearest"))


def cell_sums(
    x_m: Floats,
    y_m: Floats,
    weight: Floats,
    x0_m: float,
    y0_m: float,
    cell_m: float,
    nx: int,
    ny: int,
) -> Floats:
    """Return the weight in each cell, shape (ny, nx)."""
    column = np.floor((x_m - x0_m) / cell_m)
    row = np.floor((y_m - y0_m) / cell_m)
    inside = (column >= 0) & (column < nx) & (row >= 0) & (row < ny)
    place = np.where(inside, row * nx + column, nx * ny).astype(np.int64)
    sums = np.bincount(place, weights=weight, minlength=nx * ny + 1)[:-1]
    return np.asarray(sums.reshape(ny, nx))


def quantile(values: Floats, weight: Floats, part: float, bins: int = 4_096) -> float:
    """Return the weighted quantile, to 1 part in ``bins`` squared of the range.

    Counting into bins twice costs a quarter of sorting at 200,000 particles.
    """
    low, high = float(values.min()), float(values.max())
    wanted = part * float(weight.sum())
    below = 0.0
    for _ in range(2):
        if high <= low:
            break
        scale = bins / (high - low)
        place = ((values - low) * scale).astype(np.int64)
        inside = (place >= 0) & (place < bins) & (values >= low)
        counted = np.where(inside, place, bins)
        edges = below + np.cumsum(np.bincount(counted, weights=weight, minlength=bins + 1)[:bins])
        first = min(int(np.searchsorted(edges, wanted)), bins - 1)
        below = float(edges[first - 1]) if first else below
        low, high = low + first / scale, low + (first + 1) / scale
    return high


def span(
    values: Floats, weight: Floats, out: float = 0.002, bins: int = 4_096
) -> tuple[float, float]:
    """Return the limits that leave ``out`` of the weight on each side, to 1 part in ``bins``."""
    low, high = float(values.min()), float(values.max())
    if high <= low:
        return low - 0.5, high + 0.5
    for _ in range(2):  # a second look inside the first limits keeps far tails from blurring it
        scale = bins / (high - low)
        place = np.clip((values - low) * scale, 0, bins - 1).astype(np.int64)
        edges = np.cumsum(np.bincount(place, weights=weight, minlength=bins))
        first = int(np.searchsorted(edges, out * edges[-1]))
        last = int(np.searchsorted(edges, (1.0 - out) * edges[-1]))
        low, high = low + first / scale, low + (last + 1) / scale
    return low, high


def radius_holding(
    x_m: Floats, y_m: Floats, weight: Floats, centre_m: tuple[float, float], part: float = 0.95
) -> float:
    """Return the radius about a centre that holds this part of the probability."""
    return quantile(np.hypot(x_m - centre_m[0], y_m - centre_m[1]), weight, part)


def smallest_circle(
    x_m: Floats, y_m: Floats, weight: Floats, grid: Grid, part: float = 0.95
) -> tuple[tuple[float, float], float]:
    """Return centre and radius of the smallest circle that holds this part."""
    gx, gy = (values.ravel() for values in grid.middles())
    held = grid.held.ravel()
    some = held > held.max() * 1e-6
    gx, gy, held = gx[some], gy[some], held[some]

    def radius(centre: Floats) -> float:
        return quantile(np.hypot(gx - centre[0], gy - centre[1]), held, part)

    start = np.array([np.average(gx, weights=held), np.average(gy, weights=held)])
    reach = max(radius(start), grid.cell_m)
    simplex = start + reach * 0.3 * np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    from scipy.optimize import minimize  # imported here: slow to start

    best = minimize(
        radius,
        start,
        method="Nelder-Mead",
        options={"initial_simplex": simplex, "xatol": grid.cell_m / 20.0, "fatol": 1.0},
    ).x
    centre = float(best[0]), float(best[1])
    return centre, radius_holding(x_m, y_m, weight, centre, part)


def ellipse_95(x_m: Floats, y_m: Floats, weight: Floats) -> Ellipse:
    """Return the ellipse about the mean, shaped by the covariance, that holds 95 %.

    Of a normal law it is the usual one (factor 2.4477); of a disc it lies inside the disc, where
    the moments alone would draw it larger than she can have got.
    """
    total = weight.sum()
    mx, my = (x_m * weight).sum() / total, (y_m * weight).sum() / total
    dx, dy = x_m - mx, y_m - my
    xx, yy = (weight * dx * dx).sum() / total, (weight * dy * dy).sum() / total
    xy = (weight * dx * dy).sum() / total
    plain = ellipse_of(np.array([[xx, xy], [0.0, yy]]))
    xx, yy = max(xx, 1e-6), max(yy, 1e-6)
    spare = max(xx * yy - xy * xy, 1e-9 * xx * yy)
    squared = (yy * dx * dx - 2.0 * xy * dx * dy + xx * dy * dy) / spare
    scale = float(np.sqrt(quantile(squared, weight, 0.95) / scipy.special.chdtri(2, 0.05)))
    return Ellipse(
        semi_major_m=plain.semi_major_m * scale,
        semi_minor_m=plain.semi_minor_m * scale,
        bearing_true_deg=plain.bearing_true_deg,
    )
