"""The hour a lift is told to dive: the first at which the weather lets a whole sortie begin.

In the draws a lift dives at the first moment that each draw's sea allows; the middle of those
moments can lie some minutes before the hour that the watch is told a sortie may begin at. One
window has one time: a lift that waits is told for the weather's hour, its other times as much
later, and a lift past the forecast's end has no hour that anybody knows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from layers.earth.clock import US_PER_H, to_us
from layers.survivors.lifts.spread import Spread3

Starts = Sequence[tuple[datetime, datetime, bool | None]]


def put_off_h(dive_h: float, starts: Starts, at_us: int) -> float | None:
    """Return by how many hours a dive is told later than the middle of the draws.

    Parameters
    ----------
    dive_h : float
        Middle of the draws, hours after ``at_us``.
    starts : sequence of (datetime, datetime, bool or None)
        The hours ahead at which a whole sortie may begin (True), may not, or nothing is known;
        empty where the weather says nothing of a sortie.

    Returns
    -------
    float or None
        0 where it may begin as planned; None where no forecast says that it may.
    """
    if not starts:
        return 0.0
    after = [each for each in starts if _h(each[1], at_us) > dive_h]
    may = next((each for each in after if each[2]), None)
    here = after[0] if after else None
    if may is None or here is None or (here[2] is None and _h(here[0], at_us) <= dive_h):
        return None
    return max(0.0, _h(may[0], at_us) - dive_h)


def later(spread: Spread3, hours: float) -> Spread3:
    """Return a spread with its middle later, and never before its own early end."""
    middle = spread.p50 + hours
    return replace(spread, p50=middle, p90=max(spread.p90, middle))


def _h(at: datetime, from_us: int) -> float:
    return (to_us(at) - from_us) / US_PER_H
