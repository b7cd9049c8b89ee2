"""How far the stream carries a transponder while it sinks."""

from __future__ import annotations

import numpy as np

from layers.earth.clock import to_us
from layers.earth.geodesy import going
from layers.earth.position import Position
from layers.earth.values import WeatherValue
from layers.journal.known import Entry
from layers.transponders.model import Drop
from layers.transponders.result import SunkPlace

# The stream falls off towards the seabed as the seventh root of the height above it, so that
# its mean over depth is 7/8 of the surface value: common practice for tidal streams, no source.
MEAN_OVER_DEPTH = 7.0 / 8.0
SINK_SIGMA = 0.2  # of the sinking rate and of the shape of the stream; our own, no source


def expected(entry: Entry, weather: WeatherValue | None) -> SunkPlace:
    """Return where a dropped transponder should lie, with one sigma per axis."""
    drop: Drop = entry.value
    released = Position(drop.latitude_deg, drop.longitude_deg)
    sink_s = max(0.0, drop.water_depth_m - drop.height_above_seabed_m) / drop.sink_rate_m_s
    east, north, sigma, words = _stream(released, entry, weather)
    carried_e, carried_n = (MEAN_OVER_DEPTH * v * sink_s for v in (east, north))
    carried = float(np.hypot(carried_e, carried_n))
    bearing = float(np.degrees(np.arctan2(carried_e, carried_n)) % 360.0) if carried > 0.5 else None
    spread = np.hypot(SINK_SIGMA * carried, MEAN_OVER_DEPTH * sigma * sink_s)
    return SunkPlace(
        position=going(released, bearing, carried) if bearing is not None else released,
        sigma_m=float(np.hypot(drop.release_sigma_m, spread)),
        sink_s=sink_s,
        carried_m=carried,
        carried_true_deg=bearing,
        stream=words,
    )


def _stream(
    released: Position, entry: Entry, weather: WeatherValue | None
) -> tuple[float, float, float, str]:
    """Return the surface stream towards east and north and its sigma, m/s, and its words."""
    unknown = (0.0, 0.0, 0.5, "stream not known: taken as none, give or take 1 kn")
    if weather is None:
        return unknown
    found = weather.field.conditions(
        np.array([released.latitude_deg]),
        np.array([released.longitude_deg]),
        np.array([to_us(entry.record.valid_at)], dtype=np.int64),
    )
    east, north = float(found.current_east_m_s[0]), float(found.current_north_m_s[0])
    if not np.isfinite(east + north):
        return unknown
    sigma = float(found.current_sigma_m_s[0])
    knots, towards = np.hypot(east, north) / 0.514444, np.degrees(np.arctan2(east, north)) % 360.0
    words = f"surface stream {knots:.1f} kn setting {towards:03.0f}°T, 7/8 of it over the depth"
    return east, north, sigma if np.isfinite(sigma) else 0.25, words
