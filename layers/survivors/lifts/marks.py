"""What the margin draws on the chart: the refuge that is short, at the datum."""

from __future__ import annotations

from layers.earth.chart.marks import AnyMark, Freshness, PointMark, Style, Symbol
from layers.earth.clock import from_us
from layers.earth.tells import NOTHING, TELLS_POSITION
from layers.earth.values import DatumValue
from layers.survivors.lifts.margin_model import Outlook, RefugeOutlook
from layers.survivors.report_words import NOT_REACHED, at_words


def lift_marks(outlook: Outlook, datum: DatumValue | None) -> tuple[AnyMark, ...]:
    """Return the margin at the datum; none while nobody knows where the DISSUB is."""
    worst = outlook.worst
    if datum is None or worst is None:
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
            position=datum.position,
            symbol=Symbol.DIAMOND,
        ),
    )


def _tooltip(outlook: Outlook, one: RefugeOutlook) -> str:
    return (
        f"{one.words}: last of {one.persons} persons out about "
        f"{at_words(outlook, one.last_left_h.p50)}, first level about "
        f"{at_words(outlook, one.runs_out_h.p50, NOT_REACHED)} (P50), all out in time "
        f"{one.chance * 100:.0f} %"
    )
