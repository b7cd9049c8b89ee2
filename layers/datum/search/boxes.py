"""Which rectangle a searcher does best to cover with the track he has."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from layers.datum.search.detection import pod
from layers.earth.arrays import Floats

SIZES = (0.6, 1.0, 1.5, 2.1, 2.9, 3.9, 5.2)  # tried sides, standard deviations
STEPS = (-1.2, -0.6, 0.0, 0.6, 1.2)  # tried middles off the mean, standard deviations
OVERLAP = 0.02  # of the smaller box that may be shared


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on the plane: middle, length along ``turn_rad`` from north, and width, metres."""

    x_m: float
    y_m: float
    length_m: float
    width_m: float
    turn_rad: float

    def local(self, x_m: Floats, y_m: Floats) -> tuple[Floats, Floats]:
        """Return places as (along, right of) the middle."""
        sin, cos = np.sin(self.turn_rad), np.cos(self.turn_rad)
        dx, dy = x_m - self.x_m, y_m - self.y_m
        return dx * sin + dy * cos, dx * cos - dy * sin

    def placed(self, points: Floats) -> Floats:
        """Return points given as (along, right of) the middle, east and north, shape (n, 2)."""
        sin, cos = np.sin(self.turn_rad), np.cos(self.turn_rad)
        along, right = points[:, 0], points[:, 1]
        return np.column_stack(
            [self.x_m + along * sin + right * cos, self.y_m + along * cos - right * sin]
        )

    @property
    def corners(self) -> Floats:
        """The four corners in order, shape (4, 2)."""
        half = 0.5 * np.array([self.length_m, self.width_m])
        signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        return self.placed(signs * half)

    @property
    def outline(self) -> Polygon:
        """The rectangle as a polygon."""
        return Polygon(self.corners)

    def parts(self, shares: Sequence[float]) -> list[Box]:
        """Return the rectangle cut across its length in these shares."""
        whole, found, begun = sum(shares), [], -0.5 * self.length_m
        for share in shares:
            length = self.length_m * share / whole
            middle = self.placed(np.array([[begun + 0.5 * length, 0.0]]))[0]
            found.append(
                Box(float(middle[0]), float(middle[1]), length, self.width_m, self.turn_rad)
            )
            begun += length
        return found


def overlaps(box: Box, taken: Sequence[Polygon]) -> bool:
    """Return whether a box shares more ground with one taken than `OVERLAP` allows."""
    outline = box.outline
    return any(
        outline.intersection(other).area > OVERLAP * min(outline.area, other.area)
        for other in taken
    )


def best_box(
    x_m: Floats,
    y_m: Floats,
    weight: Floats,
    swept_m2: Callable[[Floats, Floats], Floats],
    least_m: float,
    taken: Sequence[Box] = (),
) -> tuple[Box, float] | None:
    """Return the box worth most, and what it is worth by coverage, or None where none is free.

    Parameters
    ----------
    x_m, y_m, weight : ndarray, shape (n,)
        Where it may be when it is searched, and how likely it is to be there unseen.
    swept_m2 : callable
        Sweep width times the track left about middles (east and north): less where it is far.
    least_m : float
        Least side: a track spacing makes no sense below the sweep width.
    """
    for other in taken:  # what lies where somebody else is counts for him
        along, right = other.local(x_m, y_m)
        his = (np.abs(along) <= other.length_m / 2.0) & (np.abs(right) <= other.width_m / 2.0)
        weight = np.where(his, 0.0, weight)
    total = float(weight.sum())
    if total <= 0.0:
        return None
    mx, my = float(weight @ x_m) / total, float(weight @ y_m) / total
    dx, dy = x_m - mx, y_m - my
    cross = float(weight @ (dx * dy)) / total
    values, axes = np.linalg.eigh(
        [[float(weight @ (dx * dx)) / total, cross], [cross, float(weight @ (dy * dy)) / total]]
    )
    long, short = axes[:, 1], axes[:, 0]
    sizes = np.sqrt(np.maximum(values[::-1], (0.25 * least_m) ** 2))
    u, v = dx * long[0] + dy * long[1], dx * short[0] + dy * short[1]
    turn = float(np.arctan2(long[0], long[1]))
    middles = _middles(sizes, u, v, weight)
    east = mx + middles[:, 0] * long[0] + middles[:, 1] * short[0]
    north = my + middles[:, 0] * long[1] + middles[:, 1] * short[1]
    swept = np.maximum(swept_m2(east, north), 0.0)
    lengths, widths = (np.maximum(np.array(SIZES) * size, least_m) for size in sizes)
    worth = np.empty((len(middles), len(SIZES), len(SIZES)))
    for number, (a, b) in enumerate(middles):
        within_u = np.abs(u - a) <= lengths[:, None] / 2.0
        within_v = np.abs(v - b) <= widths[:, None] / 2.0
        held = (within_u * weight) @ within_v.T
        worth[number] = held * pod(swept[number] / np.outer(lengths, widths))
    outlines = [other.outline for other in taken]
    for place in np.argsort(-worth, axis=None):
        number, p, q = (int(k) for k in np.unravel_index(place, worth.shape))
        if worth[number, p, q] <= 0.0:
            break
        box = Box(
            float(east[number]), float(north[number]), float(lengths[p]), float(widths[q]), turn
        )
        if not overlaps(box, outlines):
            return box, float(worth[number, p, q])
    return None


def _middles(sizes: Floats, u: Floats, v: Floats, weight: Floats) -> Floats:
    """Return middles to try, shape (n, 2): about the mean, and about the densest place."""
    order = np.argsort(-weight)[: max(len(weight) // 50, 1)]
    found = [(a * sizes[0], b * sizes[1]) for a in STEPS for b in STEPS]
    found.append((float(np.median(u[order])), float(np.median(v[order]))))
    return np.array(found)
