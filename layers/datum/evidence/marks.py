"""What is drawn of the evidence: each report as it bears on her."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np

from layers.datum.result import Evidence
from layers.earth.chart.marks import (
    AnyMark,
    LineMark,
    Path,
    PointMark,
    Style,
    Symbol,
)
from layers.earth.clock import clock_words, dtg
from layers.earth.geodesy import WGS84, ring
from layers.earth.position import Position
from layers.earth.tells import NOTHING, TELLS_POSITION
from layers.earth.units import M_PER_NMI

BEARING_LINE_M = 40.0 * M_PER_NMI


def evidence_marks(item: Evidence, now: datetime) -> list[AnyMark]:
    """Return the marks of one report."""
    if item.state in ("suspended", "set aside"):
        style, note = Style.EXCLUDED, f" ({item.state}: {item.why})"
    else:
        style, note = Style.EVIDENCE, f" ({item.agreement})" if item.agreement else ""
    tip = f"{item.says}, {dtg(item.at)}{note}; source {item.source}"
    found: list[AnyMark] = []
    drawn = item.drawn
    exact = item.kind == "datum.contact" and style is Style.EVIDENCE
    if drawn.place is not None and drawn.bearing_true_deg is not None:
        place = drawn.place
        lon, lat, _ = WGS84.fwd(
            place.longitude_deg, place.latitude_deg, drawn.bearing_true_deg, BEARING_LINE_M
        )
        found.append(
            LineMark(
                key=f"bearing-{item.key}",
                style=style,
                tooltip=tip,
                source=item.key,
                label=f"{drawn.bearing_true_deg:03.0f}°T {clock_words(item.at, now)}",
                latitudes_deg=np.array([place.latitude_deg, float(lat)]),
                longitudes_deg=np.array([place.longitude_deg, float(lon)]),
                path=Path.GEODESIC,
                width=1,
                arrow=True,
                disputed=item.disputed,
                at=item.at,
            )
        )
    elif drawn.place is not None:
        found.append(
            PointMark(
                key=f"place-{item.key}",
                style=style,
                tooltip=tip,
                source=item.key,
                label=clock_words(item.at, now),
                position=drawn.place,
                symbol=Symbol.CROSS if style is Style.EXCLUDED else Symbol.DIAMOND,
                disputed=item.disputed,
                at=item.at,
                tells=TELLS_POSITION if exact else NOTHING,
            )
        )
    if drawn.place is not None:
        for number, radius_m in enumerate((*drawn.range_m, *some(drawn.radius_m))):
            found.append(
                circle(
                    f"ring-{item.key}-{number}",
                    style,
                    drawn.place,
                    radius_m,
                    tip,
                    item.key,
                    exact=exact,
                )
            )
    if len(drawn.track) > 1:
        sort = Style.SEARCH if item.kind == "datum.negative_search" else Style.DRIFT
        chosen = style if style is Style.EXCLUDED else sort
        found.append(line(f"track-{item.key}", chosen, drawn.track, tip, item.key))
    return [replace(mark, at=item.at) for mark in found]


def line(key: str, style: Style, places: tuple[Position, ...], tip: str, source: str) -> LineMark:
    """Return a line through places, when there are two."""
    return LineMark(
        key=key,
        style=style,
        tooltip=tip,
        source=source,
        latitudes_deg=np.array([p.latitude_deg for p in places]),
        longitudes_deg=np.array([p.longitude_deg for p in places]),
        path=Path.RHUMB,
    )


def circle(key: str, style: Style, centre: Position, radius_m: float, tip: str, source: str,
            dotted: bool = False, exact: bool = False) -> LineMark:  # fmt: skip
    """Return a circle about a place, drawn as a ring on the ellipsoid."""
    lat, lon = ring(centre, radius_m)
    return LineMark(
        key=key,
        style=style,
        tooltip=tip,
        source=source,
        latitudes_deg=lat,
        longitudes_deg=lon,
        path=Path.AS_GIVEN,
        width=1,
        dotted=dotted,
        tells=TELLS_POSITION if exact else NOTHING,
    )


def some(radius_m: float | None) -> tuple[float, ...]:
    """Return a radius as a tuple, empty when there is none."""
    return () if radius_m is None else (radius_m,)
