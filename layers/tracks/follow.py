"""Tracks from positions: one per subject, in order of time, with what does not hold together.

All work is on whole arrays.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import from_us
from layers.earth.units import M_PER_NMI, M_S_PER_KN, S_PER_H
from layers.tracks.model import Break

# Our own limits, common practice, no source: a ship does not make good more than this, and
# AIS class A under way sends at least every 10 s, so half an hour without a fix is a gap.
SHIP_LIMIT_KN = 60.0
AIRCRAFT_LIMIT_KN = 600.0
JUMP_AT_LEAST_NMI = 0.5
GAP_S = 1800.0
STALE_AFTER_S = 1800.0
_EARTH_RADIUS_M = 6_371_008.8  # mean radius, WGS 84


@dataclass(frozen=True, slots=True, kw_only=True)
class Sorted:
    """Positions in order of subject, then time; one row a subject and instant.

    ``starts`` has shape (n_subjects + 1,): subject ``k`` is rows ``starts[k]:starts[k+1]``.
    """

    subjects: tuple[str, ...]
    starts: Ints
    at_us: Ints
    latitudes_deg: Floats
    longitudes_deg: Floats
    speed_kn: Floats
    course_true_deg: Floats
    heading_true_deg: Floats
    row: Ints  # place in the arrays that came in
    step_m: Floats  # distance from the row before; NaN at a subject's first row


def sort_positions(columns: dict[str, npt.NDArray[Any]], upto_us: int) -> Sorted:
    """Return the positions valid up to a time, by subject and time.

    Of several reports of one subject for the same instant, the one that says most is kept
    (speed and course), the later heard among equals.

    Parameters
    ----------
    columns : dict
        As ``known.stretches("tracks.position", …)`` gives them.
    upto_us : int
        UTC microseconds; later positions are left out.
    """
    import pandas as pd  # imported here: it takes a third of a second of every start

    rows = np.flatnonzero(columns["valid_at_us"] <= upto_us)
    codes, names = pd.factorize(columns["subject"][rows])
    at = columns["valid_at_us"][rows]
    said = np.isfinite(columns["speed_kn"][rows]).astype(np.int8)
    order = np.lexsort((rows, said, at, codes))
    codes, at, rows = codes[order], at[order], rows[order]
    last = np.ones(len(rows), dtype=bool)
    last[:-1] = (codes[1:] != codes[:-1]) | (at[1:] != at[:-1])
    codes, at, rows = codes[last], at[last], rows[last]
    starts = np.searchsorted(codes, np.arange(len(names) + 1)).astype(np.int64)
    latitudes = columns["latitude_deg"][rows]
    longitudes = columns["longitude_deg"][rows]
    step = np.full(len(rows), np.nan)
    if len(rows) > 1:
        step[1:] = great_circle_m(latitudes[:-1], longitudes[:-1], latitudes[1:], longitudes[1:])
        step[starts[:-1]] = np.nan
    return Sorted(
        subjects=tuple(str(name) for name in names),
        starts=starts,
        at_us=at,
        latitudes_deg=latitudes,
        longitudes_deg=longitudes,
        speed_kn=columns["speed_kn"][rows],
        course_true_deg=columns["course_true_deg"][rows],
        heading_true_deg=columns["heading_true_deg"][rows],
        row=rows.astype(np.int64),
        step_m=step,
    )


def only(found: Sorted, rows: slice, keep: Ints) -> Sorted:
    """Return some rows of one subject as a track of their own, steps taken anew.

    ``keep`` are places within ``rows``, ascending.
    """
    picked = rows.start + keep
    latitudes, longitudes = found.latitudes_deg[picked], found.longitudes_deg[picked]
    step = np.full(len(picked), np.nan)
    step[1:] = great_circle_m(latitudes[:-1], longitudes[:-1], latitudes[1:], longitudes[1:])
    return Sorted(
        subjects=("",),
        starts=np.array([0, len(picked)], dtype=np.int64),
        at_us=found.at_us[picked],
        latitudes_deg=latitudes,
        longitudes_deg=longitudes,
        speed_kn=found.speed_kn[picked],
        course_true_deg=found.course_true_deg[picked],
        heading_true_deg=found.heading_true_deg[picked],
        row=found.row[picked],
        step_m=step,
    )


def great_circle_m(
    latitude_1_deg: Floats, longitude_1_deg: Floats, latitude_2_deg: Floats, longitude_2_deg: Floats
) -> Floats:
    """Return great-circle distances on the sphere (haversine), within 0.6 % of the ellipsoid.

    Only for telling jumps from ordinary steps; ranges that are shown come from the ellipsoid.
    """
    phi_1, phi_2 = np.radians(latitude_1_deg), np.radians(latitude_2_deg)
    half_lat = (phi_2 - phi_1) / 2.0
    half_lon = np.radians(longitude_2_deg - longitude_1_deg) / 2.0
    h = np.sin(half_lat) ** 2 + np.cos(phi_1) * np.cos(phi_2) * np.sin(half_lon) ** 2
    distance: Floats = 2.0 * _EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(h, 0.0, 1.0)))
    return distance


@dataclass(frozen=True, slots=True, kw_only=True)
class Breaks:
    """Where one track does not hold together: how often, and the newest places."""

    jumps: int
    gaps: int
    newest: tuple[Break, ...]


NO_BREAKS = Breaks(jumps=0, gaps=0, newest=())


def breaks(found: Sorted, rows: slice, limit_kn: float, most: int = 10_000) -> Breaks:
    """Return the jumps and gaps of one track.

    Parameters
    ----------
    found : Sorted
        All positions in order.
    rows : slice
        The rows of one subject.
    limit_kn : float
        A straight-line speed above this, over at least half a mile, is a jump.
    most : int
        So many are given, the newest; all are counted.
    """
    at_us = found.at_us[rows]
    if len(at_us) < 2:
        return NO_BREAKS
    span_s = np.diff(at_us) / 1e6
    step = found.step_m[rows][1:]
    speed_kn = step / np.maximum(span_s, 1.0) / M_S_PER_KN
    jump = (speed_kn > limit_kn) & (step > JUMP_AT_LEAST_NMI * M_PER_NMI)
    gap = (span_s > GAP_S) & ~jump
    alone = _alone(found, rows, jump, limit_kn)
    newest = tuple(
        Break(
            kind="jump" if jump[i] else "gap",
            from_at=from_us(int(at_us[i])),
            to_at=from_us(int(at_us[i + 1])),
            distance_nmi=float(step[i] / M_PER_NMI),
            speed_kn=float(speed_kn[i]),
            alone=_alone_at(at_us, alone, int(i)) if jump[i] else None,
        )
        for i in np.flatnonzero(jump | gap)[-most:]
    )
    return Breaks(jumps=int(jump.sum()), gaps=int(gap.sum()), newest=newest)


def _alone(
    found: Sorted, rows: slice, jump: npt.NDArray[np.bool_], limit_kn: float
) -> npt.NDArray[np.bool_]:
    """Return which fixes a jump leads to and another away from, past which the track is whole."""
    at = found.at_us[rows]
    alone = np.zeros(len(at), dtype=bool)
    middle = np.flatnonzero(jump[:-1] & jump[1:]) + 1
    if len(middle):
        latitudes, longitudes = found.latitudes_deg[rows], found.longitudes_deg[rows]
        past_m = great_circle_m(
            latitudes[middle - 1],
            longitudes[middle - 1],
            latitudes[middle + 1],
            longitudes[middle + 1],
        )
        span_s = np.maximum((at[middle + 1] - at[middle - 1]) / 1e6, 1.0)
        whole = past_m / span_s / M_S_PER_KN <= limit_kn
        alone[middle[whole]] = True
    return alone


def _alone_at(at_us: Ints, alone: npt.NDArray[np.bool_], i: int) -> datetime | None:
    """Return the time of the end of step ``i`` that stands alone, if one does."""
    for end in (i, i + 1):
        if alone[end]:
            return from_us(int(at_us[end]))
    return None


def made_good(
    at_us: Ints, latitudes_deg: Floats, longitudes_deg: Floats, step_m: Floats
) -> tuple[float, float] | None:
    """Return speed (kn) and course (°T) made good between the last two fixes.

    None when there is one fix, or the two are less than a minute or more than a gap apart.
    """
    if len(at_us) < 2:
        return None
    span_s = float(at_us[-1] - at_us[-2]) / 1e6
    if not 60.0 <= span_s <= GAP_S:
        return None
    east = (longitudes_deg[-1] - longitudes_deg[-2] + 180.0) % 360.0 - 180.0
    east *= np.cos(np.radians((latitudes_deg[-1] + latitudes_deg[-2]) / 2.0))
    north = latitudes_deg[-1] - latitudes_deg[-2]
    course = float(np.degrees(np.arctan2(east, north)) % 360.0)
    return float(step_m[-1]) / M_PER_NMI / (span_s / S_PER_H), course
