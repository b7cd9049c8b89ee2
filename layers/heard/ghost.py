"""What was understood, as it would stand on the chart: seen before it is recorded."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

import numpy as np

from layers.earth.chart.marks import AnyMark, LineMark, PointMark, Style, Symbol
from layers.earth.geodesy import going, ring
from layers.earth.position import Position
from layers.earth.said.bearings import SaidBearing, Sense, true_bearing_deg
from layers.earth.units import M_PER_NMI
from layers.earth.variation import variation
from layers.heard.result import Understood

BEARING_DRAWN_M = 20.0 * M_PER_NMI
TOLD = ("read back", "read back, not recorded yet")
TAKEN = ("recorded", "recorded; being worked into the plot")
WITHIN_SIGMAS = 2.4477  # 95 % of a round normal error


def ghosts(
    understood: Iterable[Understood], *, said: tuple[str, str] = TOLD
) -> tuple[AnyMark, ...]:
    """Return the marks of what was read back: a place, a bearing, a ring, a track.

    ``said`` are the label and what stands behind the words: read back, or recorded.
    """
    found: list[AnyMark] = []
    for number, one in enumerate(understood):
        found += _marks(one, f"heard-{number}", said)
    return tuple(found)


def _marks(one: Understood, key: str, said: tuple[str, str]) -> Iterable[AnyMark]:
    payload = one.payload
    tooltip = f"{one.words}; {said[1]}"
    if "waypoints" in payload:
        yield _line(key, tooltip, payload["waypoints"])
    if payload.get("latitude_deg") is None:
        return
    place = Position(payload["latitude_deg"], payload["longitude_deg"])
    yield PointMark(key=key, style=Style.MEASURE, tooltip=tooltip, source="", position=place,
                    symbol=Symbol.ESTIMATED, label=said[0], rank=0)  # fmt: skip
    radius = payload.get("slant_range_m") or payload.get("within_m")
    if radius is None and "sigma_m" in payload:
        radius = WITHIN_SIGMAS * payload["sigma_m"]
    if radius:
        lats, lons = ring(place, float(radius))
        yield LineMark(key=f"{key}-ring", style=Style.MEASURE, tooltip=tooltip, source="",
                       latitudes_deg=lats, longitudes_deg=lons, dotted=True)  # fmt: skip
    turn = _true(payload, place, one.valid_at)
    if turn is not None:
        far = going(place, turn, float(payload.get("range_m") or BEARING_DRAWN_M))
        yield LineMark(
            key=f"{key}-line", style=Style.MEASURE, tooltip=tooltip, source="", dotted=True,
            latitudes_deg=np.array([place.latitude_deg, far.latitude_deg]),
            longitudes_deg=np.array([place.longitude_deg, far.longitude_deg]),
        )  # fmt: skip


def _line(key: str, tooltip: str, points: Sequence[dict[str, float]]) -> LineMark:
    return LineMark(
        key=f"{key}-track", style=Style.MEASURE, tooltip=tooltip, source="", dotted=True,
        latitudes_deg=np.array([point["latitude_deg"] for point in points]),
        longitudes_deg=np.array([point["longitude_deg"] for point in points]),
    )  # fmt: skip


def _true(payload: Any, place: Position, at: datetime) -> float | None:
    if "bearing_deg" not in payload:
        return None
    bearing = SaidBearing(payload["bearing_deg"], Sense(payload["sense"]))
    heading = payload.get("heading_deg")
    turned = variation(place, at).variation_deg
    if heading is not None and payload.get("heading_sense") == "magnetic":
        heading = (heading + turned) % 360.0
    return true_bearing_deg(
        bearing, variation_deg=turned, heading_true_deg=heading,
        convergence_deg=payload.get("grid_convergence_deg"),
    )  # fmt: skip
