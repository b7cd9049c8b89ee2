"""How a ship heads while she boxes in: from her own track, where nobody reads her compass."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from scipy.interpolate import CubicSpline

from layers.earth.arrays import Array, Floats

MAKES_WAY_M_S = 0.4  # below this her course does not say how she heads
BASE_M = 20.0  # nearer positions count as one: their noise would turn her (our own measure)


def her_way(ships: Array, at_s: Floats, east_m: Floats, north_m: Floats) -> tuple[Floats, Floats]:
    """Return her heading and velocity at each position, from her own track; NaN where she lies.

    Her heading is taken to be her course: a ship that makes way points where she goes, to the few
    degrees that leeway gives (common practice, no source). The course is that of a curve through
    her positions, not of the chord from the one before to the one after: in a turn the chord is
    off by a degree or two, always to the same side, and the arm carries that into the place.
    """
    heading, velocity = np.full(len(at_s), np.nan), np.full((len(at_s), 2), np.nan)
    for ship in np.unique(ships):
        mine = np.flatnonzero(ships == ship)
        times, first = np.unique(at_s[mine], return_index=True)
        track = np.column_stack((times, east_m[mine][first], north_m[mine][first]))
        if len(track) < 3:
            continue
        knots = _knots(track)
        if len(knots) >= 3:
            curve = CubicSpline(knots[:, 0], knots[:, 1:], bc_type="natural")
            velocity[mine] = curve(at_s[mine], 1)
    fast = np.hypot(velocity[:, 0], velocity[:, 1]) > MAKES_WAY_M_S
    heading[fast] = np.arctan2(velocity[fast, 0], velocity[fast, 1])
    return heading, velocity


def _knots(track: Floats) -> Floats:
    """Return the means of positions that follow each other within `BASE_M`: time, east, north."""
    edges = [0]
    for row in range(1, len(track)):
        if np.hypot(*(track[row, 1:] - track[edges[-1], 1:])) >= BASE_M:
            edges.append(row)
    return np.array([track[a:b].mean(axis=0) for a, b in pairwise((*edges, len(track)))])
