"""A track as it is drawn: the fixes that are kept for it, and how near its line is to all others.

A ship that sends every few seconds for hours would make every picture that is kept, sent and drawn
longer with each fix. Up to a number of fixes nothing is left out; of more, those that the line
passes within some metres of anyway (Douglas and Peucker 1973, *Cartographica* 10, 112–122).
"""

from __future__ import annotations

import numpy as np
import shapely

from layers.earth.arrays import Bools, Floats, Ints

# Our own figures: a chart of 2 nmi across shows 5 m as one point of the screen.
FINEST_M = 5.0
MOST_OF_TRAFFIC, MOST_OF_PARTY = 200, 1_000
_EARTH_RADIUS_M = 6_371_008.8  # mean radius, WGS 84


def thinned(
    latitudes_deg: Floats, longitudes_deg: Floats, step_m: Floats, whole: Bools, most: int
) -> tuple[Ints, float]:
    """Return which fixes of a track are kept, and the metres within which its line is of the rest.

    Parameters
    ----------
    latitudes_deg, longitudes_deg : ndarray, shape (n,)
        In order of time.
    step_m : ndarray, shape (n,)
        Distance from the fix before; NaN at the first.
    whole : ndarray of bool, shape (n,)
        Fixes that stay whatever the line does: both ends of a jump or a gap.
    most : int
        With no more than this all stay, and it is 0 m.
    """
    n = len(latitudes_deg)
    if n <= most:
        return np.arange(n), 0.0
    scale = np.radians(1.0) * _EARTH_RADIUS_M
    # the widest degree of longitude of the track: no distance is taken for less than it is
    across = scale * np.cos(np.radians(np.abs(latitudes_deg).min()))
    places = np.column_stack(
        (np.unwrap(longitudes_deg, period=360.0) * across, latitudes_deg * scale, np.arange(n))
    )
    run_m = np.cumsum(np.nan_to_num(step_m))
    within_m = FINEST_M
    stays = whole.copy()
    stays[[0, -1]] = True
    most = max(most, int(stays.sum()))
    while True:
        # a chart draws a straight line between two fixes, which a long one leaves by more
        legs = np.floor(run_m / np.sqrt(_EARTH_RADIUS_M * within_m))
        ends = np.flatnonzero(stays | np.append(False, np.diff(legs) > 0))
        kept = _simplified(places, ends, within_m) if len(ends) <= most else ends
        if len(kept) <= most:
            return kept, within_m
        within_m *= 2.0


def _simplified(places: Floats, ends: Ints, within_m: float) -> Ints:
    """Return the rows that are left of a line whose pieces end at given rows."""
    lengths = np.diff(ends) + 1
    piece = np.repeat(np.arange(len(lengths)), lengths)
    begun = np.cumsum(lengths) - lengths
    rows = np.arange(lengths.sum()) - begun[piece] + ends[:-1][piece]
    lines = shapely.linestrings(places[rows], indices=piece)
    left = shapely.simplify(lines, within_m, preserve_topology=False)
    # the third coordinate of each point is its row
    found: Ints = np.union1d(ends, shapely.get_coordinates(left, include_z=True)[:, 2].astype(int))
    return found
