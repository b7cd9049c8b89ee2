"""A finished or half-finished search as it was actually steered, from a ship's own fixes."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import duration_words, from_us, hhmm, iso, to_us
from layers.earth.errors import InputError
from layers.earth.geodesy import WGS84

MOST_WAYPOINTS = 500
LONGEST_GAP_S = 3_600.0
# An aircraft turns several times in an hour: with so much between two fixes the track is unknown.
SHORT_GAP_S, LONGEST_LEG_M = 600.0, 15.0 * 1_852.0


def steered(
    at_us: Ints,
    latitudes_deg: Floats,
    longitudes_deg: Floats,
    start: datetime,
    end: datetime,
    searcher: str,
    sweep_width_m: float,
    sensor: str,
) -> dict[str, Any]:
    """Return the payload of a search that saw nothing, along the fixes between two times.

    Parameters
    ----------
    at_us, latitudes_deg, longitudes_deg : ndarray, shape (n,)
        The ship's fixes in order of time.

    Raises
    ------
    InputError
        Fewer than two fixes in the span, or an hour without any: what was steered is not known.
    """
    if end <= start:
        raise InputError(
            f"the search ends at {hhmm(end)}, not after its start at {hhmm(start)}",
            where="search",
            accepted="an end after the start",
        )
    rows = np.flatnonzero((at_us >= to_us(start)) & (at_us <= to_us(end)))
    if len(rows) < 2:
        raise InputError(
            f"{searcher} has {len(rows)} fixes from {hhmm(start)} to {hhmm(end)}",
            where="search",
            accepted="two fixes or more; or the corners typed in",
        )
    # what was steered before the first fix and after the last is not known either
    times = np.concatenate(([to_us(start)], at_us[rows], [to_us(end)]))
    gaps = np.diff(times) / 1e6
    moved = WGS84.inv(
        longitudes_deg[rows[:-1]], latitudes_deg[rows[:-1]], longitudes_deg[rows[1:]],
        latitudes_deg[rows[1:]],
    )[2]  # fmt: skip
    fast = np.asarray(moved) > LONGEST_LEG_M
    if gaps.max() > LONGEST_GAP_S or (fast & (gaps[1:-1] > SHORT_GAP_S)).any():
        far = np.concatenate(([False], fast & (gaps[1:-1] > SHORT_GAP_S), [False]))
        worst = int(gaps.argmax()) if gaps.max() > LONGEST_GAP_S else int(far.argmax())
        last = from_us(int(times[worst]))
        silent = duration_words(timedelta(seconds=float(gaps[worst])))
        raise InputError(
            f"{searcher} has no fix for {silent} after {hhmm(last)}",
            where="search",
            accepted="a span in which her fixes are at most an hour, and 15 nmi, apart",
        )
    kept = rows[:: max(int(np.ceil(len(rows) / MOST_WAYPOINTS)), 1)]
    kept = kept if kept[-1] == rows[-1] else np.append(kept, rows[-1])
    return {
        "searcher": searcher,
        "waypoints": [
            {
                "latitude_deg": round(float(latitudes_deg[row]), 6),
                "longitude_deg": round(float(longitudes_deg[row]), 6),
                "at": iso(from_us(int(at_us[row]))),
            }
            for row in kept
        ],
        "sweep_width_m": sweep_width_m,
        "started_at": iso(start),
        "sensor": sensor,
        "note": "as steered, from her own fixes",
    }
