"""Closest approaches of those that take part: each to the datum, then in pairs."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import combinations

from layers.earth.position import Position
from layers.tracks import meeting
from layers.tracks.model import Approach, ShipTrack

DATUM = "datum"


def approaches(
    ships: list[ShipTrack], datum: Position | None, at: datetime
) -> tuple[Approach, ...]:
    """Return CPAs from where the ships are expected now: each to the datum, then pairs."""
    moving = {}
    for ship in ships:
        if ship.expected is None or ship.doubt:
            continue
        moving[ship.name] = meeting.Moving(
            ship.expected, ship.course_true_deg or 0.0, ship.speed_kn or 0.0
        )
    pairs = list(combinations(moving.items(), 2))
    if datum is not None:
        still = (DATUM, meeting.Moving(datum, 0.0, 0.0))
        pairs = [(ship, still) for ship in moving.items()] + pairs
    cpas_nmi, hours, ranges_nmi = meeting.closest_approaches(
        [one for (_, one), _ in pairs], [other for _, (_, other) in pairs]
    )
    return tuple(
        Approach(
            first=first,
            second=second,
            cpa_nmi=float(cpa_nmi),
            # Beyond a month it is not a forecast; the cap keeps the calendar from overflowing.
            tcpa=at + timedelta(hours=min(float(after_h), 720.0)),
            range_now_nmi=float(range_nmi),
        )
        for ((first, _), (second, _)), cpa_nmi, after_h, range_nmi in zip(
            pairs, cpas_nmi, hours, ranges_nmi, strict=True
        )
    )
