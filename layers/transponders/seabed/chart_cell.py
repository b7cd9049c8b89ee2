"""The features of a chart cell that this layer shows, kept as one blob of plain text."""

from __future__ import annotations

import json
import zlib
from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Danger:
    """A wreck, obstruction or rock: where, its least depth if known, and what the chart says."""

    sort: str  # "wreck", "obstruction", "rock"
    latitude_deg: float
    longitude_deg: float
    depth_m: float | None
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """A depth contour or a cable: vertices (n,), and the contour's depth."""

    sort: str  # "contour", "cable", "cable area"
    latitudes_deg: Floats
    longitudes_deg: Floats
    depth_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Features:
    """What a cell holds; soundings are (n,) arrays."""

    sounding_lat: Floats
    sounding_lon: Floats
    sounding_m: Floats
    dangers: tuple[Danger, ...]
    traces: tuple[Trace, ...]


def pack(features: Features) -> bytes:
    """Return the features as the bytes of their blob."""

    def listed(values: Floats, digits: int) -> list[float]:
        return [float(v) for v in np.round(values, digits)]

    body = {
        "soundings": [
            listed(features.sounding_lat, 6),
            listed(features.sounding_lon, 6),
            listed(features.sounding_m, 2),
        ],
        "dangers": [
            [d.sort, d.latitude_deg, d.longitude_deg, d.depth_m, d.words] for d in features.dangers
        ],
        "traces": [
            [t.sort, listed(t.latitudes_deg, 6), listed(t.longitudes_deg, 6), t.depth_m]
            for t in features.traces
        ],
    }
    return zlib.compress(json.dumps(body, separators=(",", ":")).encode(), 6)


def unpack(data: bytes) -> Features:
    """Return the features of a blob."""
    try:
        body = json.loads(zlib.decompress(data))
        lat, lon, depth = (np.asarray(v, dtype=np.float64) for v in body["soundings"])
        return Features(
            sounding_lat=lat,
            sounding_lon=lon,
            sounding_m=depth,
            dangers=tuple(
                Danger(sort=s, latitude_deg=a, longitude_deg=o, depth_m=d, words=w)
                for s, a, o, d, w in body["dangers"]
            ),
            traces=tuple(
                Trace(sort=s, latitudes_deg=np.asarray(a), longitudes_deg=np.asarray(o), depth_m=d)
                for s, a, o, d in body["traces"]
            ),
        )
    except (ValueError, KeyError, zlib.error) as failure:
        raise InputError(f"a stored chart cell is damaged ({failure})") from None
