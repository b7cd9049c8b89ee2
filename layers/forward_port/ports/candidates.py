"""Ports of the published table ranked for one datum, each with the nearest long runway."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import scipy

from layers.earth import geodesy
from layers.earth.arrays import Bools, Floats, Ints
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.forward_port.ports.table_model import LONGEST_RUNWAY_M

_EARTH_RADIUS_NMI = 3440.065  # mean radius over 1852 m
# The greatest tides there are range over about 16 m (common knowledge, no source): a range
# beyond that is a slip of the table's.
GREATEST_RANGE_M = 17.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What a port must have; a figure that is not known never rules a port out or in."""

    draught_m: float
    under_keel_m: float = 0.5
    runway_m: float = 1500.0
    runway_width_m: float = 0.0
    runway_within_nmi: float = 60.0
    within_nmi: float = 600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidates:
    """Ports in order of distance from the datum, shape (n,).

    ``depth`` and ``runway`` are 1 fits, 0 does not fit, -1 not known. Depths of the table are at
    its low water: what is too shallow then is not known where the tide may bring what lacks, or
    nobody tells its range (``short_m``, NaN elsewhere). ``runway_row`` is the nearest runway that
    is long enough, -1 where there is none in reach.
    """

    row: Ints
    distance_nmi: Floats
    bearing_from_datum_deg: Floats
    depth: Ints
    short_m: Floats
    runway: Ints
    runway_row: Ints
    runway_nmi: Floats


def rank(
    ports: Mapping[str, Floats],
    runways: Mapping[str, Any],
    datum: Position,
    needs: Needs,
) -> Candidates:
    """Return the ports within reach, the nearest first.

    Parameters
    ----------
    ports : mapping
        ``latitude_deg``, ``longitude_deg``, ``pier_depth_m``, ``tidal_range_m``, NaN for not
        known.
    runways : mapping
        ``latitude_deg``, ``longitude_deg``, ``length_m``, ``width_m``, ``closed``, ``surface``.
    datum : Position
        Where to.
    needs : Needs
        What the ship and the aircraft need.
    """
    found = geodesy.inverse(
        datum.latitude_deg, datum.longitude_deg, ports["latitude_deg"], ports["longitude_deg"]
    )
    distance = found.distance_m / M_PER_NMI
    near = np.flatnonzero(distance <= needs.within_nmi)
    row = near[np.argsort(distance[near], kind="stable")]
    short = needs.draught_m + needs.under_keel_m - ports["pier_depth_m"][row]
    tide = ports["tidal_range_m"][row]
    tide = np.where(tide <= GREATEST_RANGE_M, tide, np.nan)
    depth = np.where(short <= 0.0, 1, np.where(short > np.nan_to_num(tide, nan=np.inf), 0, -1))
    depth = np.where(short > GREATEST_RANGE_M, 0, depth)
    lat, lon = ports["latitude_deg"][row], ports["longitude_deg"][row]
    runway_row, runway_nmi, unknown_near = _runways(runways, lat, lon, needs)
    runway = np.where(runway_row >= 0, 1, np.where(unknown_near, -1, 0))
    return Candidates(
        row=row.astype(np.int64),
        distance_nmi=distance[row],
        bearing_from_datum_deg=found.bearing_true_deg[row],
        depth=depth.astype(np.int64),
        short_m=np.where((depth == -1) & (short > 0.0), short, np.nan),
        runway=runway.astype(np.int64),
        runway_row=runway_row,
        runway_nmi=runway_nmi,
    )


def _runways(
    runways: Mapping[str, Any], lat: Floats, lon: Floats, needs: Needs
) -> tuple[Ints, Floats, Bools]:
    """Return (row, distance) of the nearest long runway, and whether an unknown one is near."""
    length, width = runways["length_m"], runways["width_m"]
    usable = (runways["closed"] != 1) & np.isfinite(runways["latitude_deg"])
    usable &= on_land(runways["surface"]) & ~(length > LONGEST_RUNWAY_M)
    wide = ~(width < needs.runway_width_m)
    paved = hard(runways["surface"])  # grass or no word of it: not known, never a yes
    long_rows = np.flatnonzero(usable & wide & (length >= needs.runway_m) & paved)
    dark_rows = np.flatnonzero(
        usable & wide & (np.isnan(length) | ((length >= needs.runway_m) & ~paved))
    )
    none = np.full(len(lat), -1, dtype=np.int64)
    nothing = np.full(len(lat), np.nan)
    if not len(lat):
        return none, nothing, np.zeros(0, dtype=bool)
    here = _unit(lat, lon)
    reach = 2.0 * np.sin(needs.runway_within_nmi / _EARTH_RADIUS_NMI / 2.0)

    def nearest(rows: npt.NDArray[Any]) -> tuple[Floats, Ints]:
        if not len(rows):
            return np.full(len(lat), np.inf), none
        there = _unit(runways["latitude_deg"][rows], runways["longitude_deg"][rows])
        tree = scipy.spatial.cKDTree(there)
        chord, place = tree.query(here, distance_upper_bound=reach)
        inside = np.isfinite(chord)
        return chord, np.where(inside, rows[np.where(inside, place, 0)], -1)

    chord, row = nearest(long_rows)
    dark, _ = nearest(dark_rows)
    with np.errstate(invalid="ignore"):
        distance = 2.0 * np.arcsin(np.where(np.isfinite(chord), chord, np.nan) / 2.0)
    return row, distance * _EARTH_RADIUS_NMI, np.isfinite(dark)


def on_land(surface: Any) -> Bools:
    """Return which runways are not water lanes, by what the table says of their surface."""
    import pandas as pd  # imported here: it takes a third of a second of every start

    codes, words = pd.factorize(surface)
    land = np.array(["wat" not in str(word).lower() for word in words], dtype=bool)
    return np.asarray(land[codes])


PAVED = ("asp", "con", "bit", "tar", "pav", "pem", "seal", "mac", "hard", "cem")


def hard(surface: Any) -> Bools:
    """Return which runways are said to be paved, by what the table says of their surface."""
    import pandas as pd  # imported here: it takes a third of a second of every start

    codes, words = pd.factorize(surface)
    paved = np.array([any(p in str(word).lower() for p in PAVED) for word in words], dtype=bool)
    return np.asarray(paved[codes])


def _unit(latitude_deg: Floats, longitude_deg: Floats) -> Floats:
    phi, lam = np.radians(latitude_deg), np.radians(longitude_deg)
    found: Floats = np.stack(
        (np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)), axis=-1
    )
    return found
