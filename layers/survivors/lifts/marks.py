"""What the margin draws on the chart: the refuge that is short, at the datum."""

from __future__ import annotations

import math

from layers.earth.chart.marks import AnyMark, Freshness, PointMark, Style, Symbol
from layers.earth.clock import from_us
from layers.earth.position import Position
from layers.earth.tells import NOTHING, TELLS_POSITION
from layers.earth.values import DatumValue
from layers.survivors.lifts.margin_model import Outlook, RefugeOutlook
from layers.survivors.lifts.spread import said_chance
from layers.survivors.report_words import NOT_REACHED, at_words


def lift_marks(outlook: Outlook, datum: DatumValue | None) -> tuple[AnyMark, ...]:
    """Return the margin at the datum; none while nobody knows where the DISSUB is."""
    worst = outlook.worst
    where = None if datum is None else datum.where
    if datum is None or not isinstance(where, Position) or worst is None:
        return ()
    return (
        PointMark(
            key="margin",
            style=Style.LATE if worst.short else Style.PEOPLE,
            tooltip="; ".join(_tooltip(outlook, one) for one in outlook.refuges),
            source=" ".join(outlook.rests_on),
            label=worst.words,
            rank=1,
            freshness=Freshness.EXPECTED,
            at=from_us(outlook.at_us),
            tells=TELLS_POSITION if datum.is_fix else NOTHING,
            position=where,
            symbol=Symbol.DIAMOND,
        ),
    )


def _tooltip(outlook: Outlook, one: RefugeOutlook) -> str:
    last_h = math.inf if one.last_left_h is None else one.last_left_h.p50
    ends = "not known" if one.alone_h is None else at_words(outlook, one.alone_h.p50, NOT_REACHED)
    return (
        f"{one.words}: last of {one.persons} persons out about "
        f"{at_words(outlook, last_h)}, first level if nobody leaves about "
        f"{ends} (P50), all out in time {said_chance(one.chance)}"
    )
