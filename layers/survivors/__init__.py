"""Survivors: the muster; and the air they have, the lifts, and the margin.

Two layers of one package: the muster must show at once, the margin takes seconds.
"""

from layers.contract import Answering, Layer, Page
from layers.earth.tells import TELLS_MEDICAL, TELLS_PERSON
from layers.journal.kinds import heard_as, ruled
from layers.survivors import compute as result, marks, report
from layers.survivors.heard_words import HEARD
from layers.survivors.kinds import KINDS
from layers.survivors.lifts import answers
from layers.survivors.muster.persons import unfinished
from layers.survivors.release import RULES

LAYER = Layer(
    key="survivors",
    title="Survivors",
    kinds=heard_as(ruled(KINDS, RULES), HEARD),
    feeds=(),
    needs=("datum", "tracks"),
    page=Page(address="survivors", title="Survivors", rank=5),
    rank=20,
    subject="people",
    brief_slide=False,
    report="D",
    answers={
        "persons": Answering(make=report.persons, without=("survivors.move",)),
        "inputs": Answering(make=report.inputs, without=("survivors.move",)),
    },
    compute=result.compute,
    hand=None,
    marks=marks.marks,
    table=report.table,
    sentence=report.sentence,
    tables=report.tables,
    # who is where must show at once; where the craft are that could reach them, at the next minute
    patient=("tracks",),
    caution=report.PEOPLE_CAUTION,
    unfinished=unfinished,
)
MARGIN = Layer(
    key="margin",
    title="Air, lifts and margin",
    kinds=(),
    feeds=(),
    needs=("weather", "datum", "forward_port", "transponders", "tracks"),
    page=Page(address="lifts", title="Lifts", rank=10),
    rank=30,
    brief_slide=False,
    report="M",
    tells=TELLS_MEDICAL,
    answers={
        "margin": Answering(make=answers.margin_answers),
        "lifts_to_come": Answering(make=answers.lift_answers),
        "all_out": Answering(make=answers.all_out_answer),
        "dive": Answering(make=answers.dive_answer),
        "sortie": Answering(make=answers.sortie_answer),
        "first_out": Answering(make=answers.first_out_answer),
        "next_decision": Answering(make=answers.next_decision_answer),
        "inputs": Answering(make=answers.input_answers),
    },
    without=("survivors.air", "survivors.lift_limits", "survivors.sortie_phase"),
    blind_to=TELLS_PERSON,
    compute=result.compute_margin,
    hand=None,
    marks=marks.margin_marks,
    table=report.margin_table,
    sentence=report.margin_sentence,
    tables=report.margin_tables,
    also_reads=(
        *(kind.name for kind in KINDS),
        "watch.stage",
        "weather.limit",
        "transponders.typed_fix",
    ),
    grain_s=300.0,
    patient=("weather", "transponders", "tracks"),
    caution=report.MARGIN_CAUTION,
    slow=True,
    first_look=result.first_look,
)
