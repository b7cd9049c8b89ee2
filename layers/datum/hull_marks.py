"""Her outline on the chart: length to scale, heading at the bow, seats, about her position.

The outline is a sign for a hull, not her lines: nobody hands over her plan. Where her heading was
not told a ring of half her length says how far she may reach, and that it was not told.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.chart.marks import AnyMark, AreaMark, LineMark, PointMark, Style, Symbol
from layers.earth.geodesy import forward, ring
from layers.earth.position import Position
from layers.earth.tells import TELLS_POSITION
from layers.earth.values import HullLies

BEAM_SHARE = 0.11  # of her length, where her beam was not told: drawn only, a convention of ours
# forward of her middle and to starboard, in half lengths and half beams
OUTLINE = np.array(
    [(1.0, 0.0), (0.82, 0.75), (0.5, 1.0), (-0.6, 1.0), (-1.0, 0.3), (-1.0, -0.3), (-0.6, -1.0),
     (0.5, -1.0), (0.82, -0.75)]
)  # fmt: skip
LENGTHS = 40.0  # on a screen of a thousand pixels she is then 25 long
BOW_LINE = 0.35  # of her length, beyond the bow


def to_scale_m(length_m: float) -> float:
    """Return how wide a sheet may be, metres, that still shows her to scale (LENGTHS of her)."""
    return LENGTHS * length_m


def hull_marks(centre: Position, hull: HullLies | None, at: datetime) -> list[AnyMark]:
    """Return her outline to scale with bow line and seats, or the ring she may reach within."""
    if hull is None or hull.length_m is None:
        return []
    length, source = hull.length_m, " ".join(hull.records)
    shared: dict[str, Any] = {
        "style": Style.DISSUB,
        "source": source,
        "at": at,
        "tells": TELLS_POSITION,
        "near_m": to_scale_m(length),
    }
    heading = hull.heading_true_deg
    if heading is None:
        lat, lon = ring(centre, length / 2.0)
        words = f"DISSUB, {length:.0f} m long; heading not told: within this ring"
        return [
            AreaMark(
                key="hull",
                tooltip=words,
                latitudes_deg=lat,
                longitudes_deg=lon,
                dotted=True,
                **shared,
            )
        ]
    beam = hull.beam_m if hull.beam_m is not None else BEAM_SHARE * length
    words = f"DISSUB, {length:.0f} m long, heading {heading:03.0f}°T"
    words += "" if hull.beam_m is not None else "; beam not told, drawn as a tenth of her length"
    lat, lon = _places(centre, heading, OUTLINE * (length / 2.0, beam / 2.0))
    bow = _places(centre, heading, np.array([(0.5, 0.0), (0.5 + BOW_LINE, 0.0)]) * length)
    found: list[AnyMark] = [
        AreaMark(
            key="hull",
            tooltip=words,
            latitudes_deg=lat,
            longitudes_deg=lon,
            filled=True,
            width=2,
            **shared,
        ),
        LineMark(
            key="hull heading",
            tooltip=words,
            latitudes_deg=bow[0],
            longitudes_deg=bow[1],
            width=2,
            **shared,
        ),
    ]
    for seat in hull.seats:
        place = _places(centre, heading, np.array([(seat.along_share * length, 0.0)]))
        found.append(
            PointMark(
                key=f"seat {seat.name}",
                symbol=Symbol.FIX,
                label=f"{seat.name} {seat.depth_m:.1f} m",
                rank=2,
                position=Position(float(place[0][0]), float(place[1][0])),
                tooltip=f"Rescue seat {seat.name}, {seat.depth_m:.1f} m deep; its place along her "
                "is drawn by convention",
                **shared,
            )
        )
    return found


def _places(
    centre: Position, heading_true_deg: float, forward_starboard_m: Floats
) -> tuple[Floats, Floats]:
    """Return latitudes and longitudes of places in her own axes, shape (n, 2), metres."""
    ahead, starboard = forward_starboard_m.T
    azimuth = heading_true_deg + np.degrees(np.arctan2(starboard, ahead))
    found = forward(centre.latitude_deg, centre.longitude_deg, azimuth, np.hypot(ahead, starboard))
    return found.latitude_deg, found.longitude_deg
