"""Closest approaches of those that take part: each to the datum, then in pairs."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import combinations

from layers.earth import geodesy
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.tracks import meeting
from layers.tracks.model import Approach, ShipTrack


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
    pairs = list(combinations(moving, 2))
    found = []
    if datum is not None:
        still = meeting.Moving(datum, 0.0, 0.0)
        found = [_approach(name, one, "datum", still, at) for name, one in moving.items()]
    found += [_approach(a, moving[a], b, moving[b], at) for a, b in pairs]
    return tuple(found)


def _approach(
    first: str, one: meeting.Moving, second: str, other: meeting.Moving, at: datetime
) -> Approach:
    cpa, hours = meeting.closest_approach(one, other)
    range_m, _, _ = geodesy.between(one.position, other.position)
    return Approach(
        first=first,
        second=second,
        cpa_nmi=cpa,
        # Beyond a month it is not a forecast; the cap keeps the calendar from overflowing.
        tcpa=at + timedelta(hours=min(hours, 720.0)),
        range_now_nmi=range_m / M_PER_NMI,
    )
