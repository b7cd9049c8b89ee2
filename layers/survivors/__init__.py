"""Survivors: the muster; and the air they have, the lifts, and the margin.

Two layers of one package: the muster must show at once, the margin takes seconds.
"""

from layers.contract import Layer, Page
from layers.earth.tells import TELLS_MEDICAL
from layers.survivors import compute as result
from layers.survivors import marks, report
from layers.survivors.kinds import KINDS

LAYER = Layer(
    key="survivors",
    title="Survivors",
    kinds=KINDS,
    feeds=(),
    needs=("datum",),
    page=Page(address="survivors", title="Survivors", rank=5),
    rank=20,
    report="D",
    compute=result.compute,
    hand=None,
    marks=marks.marks,
    table=report.table,
    sentence=report.sentence,
    tables=report.tables,
    caution=report.PEOPLE_CAUTION,
)
MARGIN = Layer(
    key="margin",
    title="Air, lifts and margin",
    kinds=(),
    feeds=(),
    needs=("weather", "datum", "forward_port"),
    page=Page(address="lifts", title="Lifts", rank=10),
    rank=30,
    report="M",
    tells=TELLS_MEDICAL,
    compute=result.compute_margin,
    hand=None,
    marks=marks.margin_marks,
    table=report.margin_table,
    sentence=report.margin_sentence,
    tables=report.margin_tables,
    also_reads=tuple(kind.name for kind in KINDS),
    grain_s=300.0,
    patient=("weather",),
    caution=report.MARGIN_CAUTION,
    slow=True,
)
