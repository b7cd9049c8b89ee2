"""The ground kept clear: the safety area, who is under water in it, what is stopped for them."""

from layers.contract import Layer, OwnStyle, Page
from layers.earth.chart.marks import Symbol
from layers.earth.tells import TELLS_POSITION
from layers.kept_clear.compute import compute
from layers.kept_clear.model import KINDS
from layers.kept_clear.report import CAUTION, marks, sentence, table, tables, wall_line

LAYER = Layer(
    key="kept_clear",
    title="Ground kept clear",
    kinds=KINDS,
    feeds=(),
    needs=("datum", "tracks"),
    also_reads=("survivors.sortie_phase",),
    patient=("tracks",),
    page=Page(address="clear", title="Clear", rank=32),
    rank=65,
    subject="ground kept clear",
    brief_slide=False,
    beside_chart=False,
    tells=TELLS_POSITION,
    compute=compute,
    hand=None,
    marks=marks,
    table=table,
    tables=tables,
    sentence=sentence,
    wall_line=wall_line,
    styles=(
        OwnStyle(
            name="kept clear", word="ground kept clear", symbol=Symbol.TRIANGLE,
            night="#a19e95", day="#5c5f59",
        ),
    ),
    caution=CAUTION,
)  # fmt: skip
