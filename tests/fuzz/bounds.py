"""Between what everything that is accepted must lie: nature's bounds, not the program's.

The records are those of the WMO World Weather and Climate Extremes Archive, of NHC for the
wind of a storm and of GEBCO for the deepest sea (10,935 m) and the highest land; those marked so
are common practice. What lies outside must have been refused, or be named as doubtful.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from layers.contract import Reading
from layers.earth.plausible import doubts_of
from layers.journal.record import Draft
from layers.transponders.seabed.depth_grid import unpack
from layers.weather.forecast.fields import unpacked

KN = 0.514444
FIELDS: dict[str, tuple[float, float]] = {
    "latitude_deg": (-90.0, 90.0),
    "longitude_deg": (-180.0, 180.0),
    "south_deg": (-90.0, 90.0),
    "north_deg": (-90.0, 90.0),
    "west_deg": (-180.0, 180.0),
    "east_deg": (-180.0, 540.0),  # a grid over the date line goes on
    "wind_kn": (0.0, 185.0),
    "gust_kn": (0.0, 220.0),
    "hs_m": (0.0, 19.0),
    "swell_hs_m": (0.0, 19.0),
    "wind_wave_hs_m": (0.0, 19.0),
    "tp_s": (1.0, 30.0),
    "mean_period_s": (1.0, 30.0),
    "pressure_hpa": (870.0, 1084.0),
    "air_c": (-89.2, 56.7),
    "dew_c": (-89.2, 35.0),
    "sea_c": (-2.3, 37.6),
    "salinity_psu": (0.0, 42.0),
    "visibility_nmi": (0.0, 60.0),  # common practice
    "current_kn": (0.0, 12.0),  # common practice
    "temperature_c": (-3.0, 60.0),  # hot brines of the Red Sea reach some 68 °C; none is dived in
    "salinity": (0.0, 50.0),
    "sound_speed_m_s": (1350.0, 1750.0),
    "depth_m": (0.0, 11_000.0),
}
GRIDS: dict[str, tuple[float, float]] = {
    "wind_east_m_s": (-185.0 * KN, 185.0 * KN),
    "wind_north_m_s": (-185.0 * KN, 185.0 * KN),
    "gust_m_s": (0.0, 220.0 * KN),
    "hs_m": (0.0, 19.0),
    "air_c": (-89.2, 56.7),
    "sea_c": (-2.3, 37.6),
    "pressure_hpa": (870.0, 1084.0),
}
SHIP_KN, AIRCRAFT_KN = 60.0, 600.0  # common practice
KINDS = ("tracks.", "weather.", "transponders.")  # what readers of feeds make of the world
SLACK = 1e-3  # a packed grid keeps steps of this size


def outside(draft: Draft) -> Iterator[str]:
    """Yield what of a draft lies outside nature and is not told as doubtful."""
    if not draft.kind.startswith(KINDS):
        return
    doubted: set[str] | None = None
    for name, value in _numbers(draft.payload):
        least, most = FIELDS.get(name, (-math.inf, math.inf))
        if name.endswith("true_deg"):
            least, most = 0.0, 360.0
        if name == "speed_kn" and draft.kind == "tracks.position":
            ship = str(draft.payload["subject"]).startswith("mmsi:") and not str(
                draft.payload["subject"]
            ).startswith("mmsi:111")
            least, most = 0.0, SHIP_KN if ship else AIRCRAFT_KN
        if math.isfinite(value) and least <= value <= most:
            continue
        if doubted is None:
            doubted = set(doubts_of(draft.kind, draft.payload))
        if name not in doubted:
            yield f"{draft.kind} with {name} {value:g} was accepted as truth"


def outside_grids(reading: Reading) -> Iterator[str]:
    """Yield what of a reading's grids lies outside nature."""
    for draft in reading.drafts:
        if draft.kind == "weather.forecast":
            grid = unpacked(reading.blobs[draft.payload["digest"]])
            for place, name in enumerate(grid.names):
                yield from _beyond(name, grid.values[..., place], GRIDS.get(name))
        elif draft.kind == "transponders.depth_grid":
            depth_m = unpack(reading.blobs[draft.payload["blob"]]).depth_m
            yield from _beyond("depth_m", depth_m, (-8_900.0, 11_000.0))


def _beyond(name: str, values: Any, bounds: tuple[float, float] | None) -> Iterator[str]:
    known = np.asarray(values)[np.isfinite(values)]
    if bounds is None or not known.size:
        return
    low, high = float(known.min()), float(known.max())
    if low < bounds[0] - SLACK or high > bounds[1] + SLACK:
        yield f"a grid of {name} from {low:g} to {high:g} was accepted as truth"


def _numbers(held: Any, name: str = "") -> Iterator[tuple[str, float]]:
    if isinstance(held, Mapping):
        for key, value in held.items():
            yield from _numbers(value, str(key))
    elif isinstance(held, (list, tuple)):
        for value in held:
            yield from _numbers(value, name)
    elif isinstance(held, float) or (isinstance(held, int) and not isinstance(held, bool)):
        yield name, float(held)
