"""What the survivors layer draws: the people on the bottom at the datum, and the hospitals."""

from __future__ import annotations

from layers.earth.chart.marks import AnyMark, PointMark, Style, Symbol
from layers.earth.clock import dtg
from layers.earth.position import Position
from layers.earth.tells import NOTHING, TELLS_POSITION
from layers.survivors.compute import MarginResult, SurvivorsResult
from layers.survivors.lifts.marks import lift_marks
from layers.survivors.muster.model import PlaceSort


def marks(result: SurvivorsResult) -> tuple[AnyMark, ...]:
    """Return the marks; those at the datum only once somebody knows where the DISSUB is."""
    return (*_waiting(result), *_hospitals(result))


def margin_marks(result: MarginResult) -> tuple[AnyMark, ...]:
    """Return the margin at the datum."""
    return lift_marks(result.outlook, result.datum)


def _waiting(result: SurvivorsResult) -> tuple[AnyMark, ...]:
    datum, who = result.datum, result.muster
    waiting = [p for p in who.places if p.sort is PlaceSort.REFUGE and p.persons]
    where = None if datum is None else datum.where
    if datum is None or not isinstance(where, Position) or not waiting:
        return ()  # over a block no place is theirs
    told = " · ".join(f"{place.name} {place.persons}" for place in waiting)
    tooltip = (
        f"Waiting on board: {told} (persons); {who.out} out, {who.not_accounted} not accounted "
        f"for, of {who.pob}; at {dtg(who.at)}"
    )
    return (
        PointMark(
            key="waiting",
            style=Style.PEOPLE,
            tooltip=tooltip,
            source=" ".join(sorted({i for place in waiting for i in place.rests_on})),
            label=told,
            rank=1,
            disputed=bool(who.conflicts),
            at=who.last_report_at,
            tells=TELLS_POSITION if datum.is_fix else NOTHING,
            position=where,
            symbol=Symbol.TRIANGLE,
        ),
    )


def _hospitals(result: SurvivorsResult) -> tuple[AnyMark, ...]:
    return tuple(
        PointMark(
            key=f"hospital {one.hospital}",
            style=Style.PEOPLE,
            tooltip=f"{one.hospital}: {one.stretcher_places} stretcher places, "
            f"{one.recompression_places} recompression places, {one.told}; {one.source}",
            source=one.record,
            label=one.hospital,
            rank=5,
            position=one.position,
            symbol=Symbol.CROSS,
        )
        for one in result.hospital.hospitals
    )
