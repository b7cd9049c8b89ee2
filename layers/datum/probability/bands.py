"""Where she can be as three smooth bands, 50, 80 and 95 %; only the last has an outline."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
from contourpy import FillType, contour_generator

from layers.datum.probability.containment import Grid
from layers.earth.arrays import Floats
from layers.earth.chart.marks import AnyMark, AreaMark, LineMark, Path, Style
from layers.earth.plane import Plane
from layers.earth.said.quantity import figure
from layers.earth.units import M_PER_NMI

BANDS = (0.95, 0.80, 0.50)
LEAST_CELLS = 12  # a patch smaller than this many cells is sampling, not a place
TOWARDS_MIDDLE = 0.05  # on flat ground the bands close in on the place given, not on specks


def bands(
    grid: Grid,
    plane: Plane,
    centre_m: tuple[float, float],
    source: str,
    key: str = "holds",
    style: Style = Style.PROBABILITY,
) -> list[AnyMark]:
    """Return the bands of a grid, the widest first, and the outline of the 95 %."""
    calm = _calmed(grid, centre_m)
    found: list[AnyMark] = []
    for part in BANDS:
        area = grid.area_m2(part) / M_PER_NMI**2
        tip = f"{part:.0%} of the probability, {figure(area, 1)} nmi² in all"
        for number, (ring, outer) in enumerate(_patches(calm, part)):
            lat, lon = plane.unproject(ring[:, 0], ring[:, 1])
            found.append(
                AreaMark(
                    key=f"{key}-{part:.2f}-{number}",
                    style=style,
                    tooltip=tip,
                    source=source,
                    latitudes_deg=lat,
                    longitudes_deg=lon,
                    path=Path.AS_GIVEN,
                    filled=True,
                    width=0,
                )
            )
            if part == BANDS[0]:
                for edge, line in enumerate(outer):
                    lat, lon = plane.unproject(line[:, 0], line[:, 1])
                    found.append(
                        LineMark(
                            key=f"{key}-edge-{number}-{edge}",
                            style=style,
                            tooltip=tip,
                            source=source,
                            label="95 %" if number == edge == 0 else "",
                            latitudes_deg=lat,
                            longitudes_deg=lon,
                            path=Path.AS_GIVEN,
                            width=2,
                        )
                    )
    return found


def _calmed(grid: Grid, centre_m: tuple[float, float]) -> Grid:
    """Return the grid leant a little towards its middle, so that flat ground has round bands."""
    x, y = grid.middles()
    away = np.hypot(x - centre_m[0], y - centre_m[1])
    some = grid.held > 0.0
    reach = float(away[some].max()) if some.any() else 1.0
    lean = 1.0 - TOWARDS_MIDDLE * np.minimum(away / max(reach, 1.0), 1.0)
    held = grid.held * lean
    return replace(grid, held=held * (grid.held.sum() / max(float(held.sum()), 1e-300)))


def _patches(grid: Grid, part: float) -> list[tuple[Floats, list[Floats]]]:
    """Return each patch as one closed ring, its holes cut open, and its edges by themselves."""
    x, y = grid.middles()
    cell = grid.cell_m
    padded = np.pad(grid.held, 1)
    gx = np.concatenate(([x[0, 0] - cell], x[0], [x[0, -1] + cell]))
    gy = np.concatenate(([y[0, 0] - cell], y[:, 0], [y[-1, 0] + cell]))
    generator = contour_generator(gx, gy, padded, fill_type=FillType.OuterOffset)
    filled: Any = generator.filled(grid.level(part), float(padded.max()) * 2.0 + 1e-300)
    points, offsets = filled
    found = []
    for ring, offset in zip(points, offsets, strict=True):
        edges = [np.asarray(ring[a:b], dtype=np.float64) for a, b in pairwise(offset)]
        outer = edges[0]
        if _area(outer) < LEAST_CELLS * cell**2:
            continue
        holes = [hole for hole in edges[1:] if _area(hole) >= LEAST_CELLS * cell**2]
        found.append((_cut_open(outer, holes), [outer, *holes]))
    return found


def _area(ring: Floats) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float(abs(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1])) / 2.0)


def _cut_open(outer: Floats, holes: list[Floats]) -> Floats:
    """Return one ring that runs round the outside and in to each hole by a slit of no width."""
    ring = outer
    for hole in holes:
        gap = ((ring[:, None, :] - hole[None, :, :]) ** 2).sum(axis=2)
        at, begin = np.unravel_index(int(gap.argmin()), gap.shape)
        round_it = np.concatenate([hole[begin:-1], hole[: begin + 1]])
        ring = np.concatenate([ring[: at + 1], round_it, ring[at:]])
    return ring
