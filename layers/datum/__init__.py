"""Where she is: evidence, probability, drift, fix, and where to search next."""

from __future__ import annotations

from layers.contract import Answering, Layer, Page
from layers.datum.adrift.objects import unfinished
from layers.datum.answers import WHERE, inputs, position, search_next
from layers.datum.compute import compute
from layers.datum.handed_on import hand
from layers.datum.heard_objects import HEARD_OBJECTS
from layers.datum.heard_words import HEARD
from layers.datum.kinds import KINDS
from layers.datum.lines import feed
from layers.datum.marks import marks
from layers.datum.release import RULES
from layers.datum.report import CAUTION, sentence, table, tables
from layers.datum.told import told
from layers.earth.tells import TELLS_POSITION
from layers.journal.kinds import heard_as, ruled

LAYER = Layer(
    key="datum",
    title="Datum and search",
    kinds=heard_as(ruled(KINDS, RULES), {**HEARD, **HEARD_OBJECTS}),
    feeds=(feed.FEED,),
    needs=("weather", "transponders"),
    page=Page(address="search", title="Search", rank=15),
    rank=10,
    subject="where she is",
    brief_slide=False,
    report="B",
    tells=TELLS_POSITION,
    answers={
        "position": Answering(make=position, without=WHERE),
        "search_next": Answering(make=search_next, without=(*WHERE, "datum.searcher")),
        "inputs": Answering(make=inputs, without=WHERE),
    },
    also_reads=("watch.place_told",),
    told=told,
    compute=compute,
    hand=hand,
    marks=marks,
    table=table,
    tables=tables,
    sentence=sentence,
    grain_s=300.0,
    patient=("weather",),
    caution=CAUTION,
    unfinished=unfinished,
)
