"""A vehicle's smoothed way on the chart, and the area in which it is by now."""

from __future__ import annotations

from datetime import datetime

import numpy as np

from layers.earth.chart.marks import AnyMark, AreaMark, Freshness, LineMark, Path, Style
from layers.earth.clock import clock_words
from layers.earth.plane import ellipse_ring
from layers.earth.tells import TELLS_POSITION
from layers.transponders.net.fixing import STALE_AFTER
from layers.transponders.net.track import Track
from layers.transponders.result import Fixed


def way_marks(fixes: tuple[Fixed, ...], track: Track, now: datetime) -> list[AnyMark]:
    """Return the way through the fixes that fit and, while it is fresh, where it is by now."""
    name, source = fixes[-1].subject, " ".join(fix.records[0] for fix in fixes)
    drawn: list[AnyMark] = []
    if len(track.places) > 1:
        drawn.append(
            LineMark(
                key=f"way {name}",
                style=Style.SHIP,
                latitudes_deg=np.array([place.latitude_deg for place in track.places]),
                longitudes_deg=np.array([place.longitude_deg for place in track.places]),
                path=Path.GEODESIC,
                width=1,
                source=source,
                tells=TELLS_POSITION,
                tooltip=f"way of {name} by {len(track.places)} fixes that fit, smoothed, "
                f"{clock_words(track.at[0], now)} to {clock_words(track.at[-1], now)}",
            )
        )
    if now - track.at[-1] <= STALE_AFTER and now > track.at[-1]:
        lat, lon = ellipse_ring(track.now, track.now_ellipse)
        drawn.append(
            AreaMark(
                key=f"now {name}",
                style=Style.SHIP,
                latitudes_deg=lat,
                longitudes_deg=lon,
                source=source,
                freshness=Freshness.EXPECTED,
                tells=TELLS_POSITION,
                tooltip=f"{name} by now, 95 %: its last fix that fits is of "
                f"{clock_words(track.at[-1], now)}",
            )
        )
    return drawn


def way_words(fixes: tuple[Fixed, ...], track: Track, now: datetime) -> str:
    """Return where a vehicle is by now and which of its fixes do not fit, in words."""
    name = fixes[-1].subject
    strays = [
        f"fix {clock_words(at, now)} set aside: {gap:.0f} m off its way, further than it can go"
        for at, gap in track.strays
    ]
    if now - track.at[-1] > STALE_AFTER:
        return "; ".join([f"{name}: where it is by now is not known", *strays])
    knots = track.speed_m_s * 3600.0 / 1852.0
    way = (
        "may lie still"
        if track.course_true_deg is None
        else (f"{track.course_true_deg:03.0f}°T {knots:.1f} kn")
    )
    by_now = f"{name} by now within {track.now_ellipse.semi_major_m:.0f} m (95 %), {way}"
    return "; ".join([by_now, *strays])
