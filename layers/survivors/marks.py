"""What the survivors layer draws: the hospitals. Who is in the hull stands on the strip."""

from __future__ import annotations

from layers.earth.chart.marks import AnyMark, PointMark, Style, Symbol
from layers.survivors.compute import MarginResult, SurvivorsResult


def marks(result: SurvivorsResult) -> tuple[AnyMark, ...]:
    """Return the marks."""
    return _hospitals(result)


def margin_marks(result: MarginResult) -> tuple[AnyMark, ...]:
    """Return nothing: she has one mark, and the margin stands on the strip."""
    return ()


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
