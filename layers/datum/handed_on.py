"""The datum as other layers use it: place, 95 %, depth, time of loss, and who is adrift."""

from __future__ import annotations

from layers.datum.result import DatumResult
from layers.earth.values import DatumValue, DriftingGroup


def hand(result: DatumResult) -> DatumValue:
    """Return where she most probably is, and who is adrift."""
    return DatumValue(
        where=result.position,
        radius_95_m=result.radius_95_m,
        ellipse_95=result.ellipse,
        is_fix=result.is_fix,
        depth_m=result.depth_m,
        lost_at=result.lost.p50 if result.overdue else None,
        adrift=tuple(
            DriftingGroup(
                name=item.name,
                position=item.position,
                radius_95_m=item.radius_95_m,
                persons=item.persons,
            )
            for item in result.adrift
            if item.still_sought
        ),
    )
