"""Which rectangle a searcher does best to cover with the track he has."""

from __future__ import annotations

from collections.abc import Sequence
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


def overlaps(box: Box, taken: Sequence[Box]) -> bool:
    """Return whether a box shares more ground with one taken than `OVERLAP` allows."""
    outline = box.outline
    return any(
        outline.intersection(other.outline).area > OVERLAP * min(outline.area, other.outline.area)
        for other in taken
    )


def best_box(
    x_m: Floats,
    y_m: Floats,
    weight: Floats,
    swept_m2: float,
    least_m: float,
    taken: Sequence[Box] = (),
) -> tuple[Box, float] | None:
    """Return the box worth most, and what it is worth by coverage, or None where none is free.

    Parameters
    ----------
    x_m, y_m, weight : ndarray, shape (n,)
        Where it may be when it is searched, and how likely it is to be there unseen.
    swept_m2 : float
        Sweep width times track.
    least_m : float
        Least side: a track spacing makes no sense below the sweep width.
    """
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
    best: tuple[Box, float] | None = None
    for spread in _tries(sizes, u, v, weight):
        middle_u, middle_v, length, width = spread
        length, width = max(length, least_m), max(width, least_m)
        inside = (np.abs(u - middle_u) <= length / 2.0) & (np.abs(v - middle_v) <= width / 2.0)
        held = float(weight[inside].sum())
        worth = held * float(pod(swept_m2 / (length * width)))
        if best is not None and worth <= best[1]:
            continue
        box = Box(
            mx + middle_u * long[0] + middle_v * short[0],
            my + middle_u * long[1] + middle_v * short[1],
            length, width, turn,
        )  # fmt: skip
        if not taken or not overlaps(box, taken):
            best = box, worth
    return best


def _tries(
    sizes: Floats, u: Floats, v: Floats, weight: Floats
) -> list[tuple[float, float, float, float]]:
    """Return middles and sides to try: about the mean, and about the densest place."""
    order = np.argsort(-weight)[: max(len(weight) // 50, 1)]
    middles = [(a * sizes[0], b * sizes[1]) for a in STEPS for b in STEPS]
    middles.append((float(np.median(u[order])), float(np.median(v[order]))))
    return [(a, b, p * sizes[0], q * sizes[1]) for a, b in middles for p in SIZES for q in SIZES]
