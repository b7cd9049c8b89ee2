"""Survivors: the muster, the air they have, the lifts, and the margin."""

from layers.contract import Layer
from layers.survivors import marks, report, result
from layers.survivors.kinds import KINDS

LAYER = Layer(
    key="survivors",
    title="Survivors",
    kinds=KINDS,
    feeds=(),
    needs=("weather", "datum", "forward_port"),
    compute=result.compute,
    hand=None,
    marks=marks.marks,
    table=report.table,
    sentence=report.sentence,
    tables=report.tables,
    caution=report.CAUTION,
)
