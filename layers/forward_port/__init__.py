"""The forward port: which way the rescue vehicle goes, and the chain to first rescue."""

from layers.contract import Answering, Layer, Page
from layers.forward_port import marks, model, options, report
from layers.forward_port.heard_words import HEARD
from layers.forward_port.home import report as home
from layers.forward_port.home.heard_words import HEARD_HOME
from layers.forward_port.home.model import HOME_KINDS
from layers.forward_port.ports import port_feeds
from layers.forward_port.release import RULES
from layers.journal.kinds import heard_as, ruled

LAYER = Layer(
    key="forward_port",
    title="Forward port and the way there",
    kinds=heard_as(ruled((*model.KINDS, *HOME_KINDS), RULES), {**HEARD, **HEARD_HOME}),
    feeds=(port_feeds.PORT_FEED, port_feeds.RUNWAY_FEED),
    needs=("datum", "tracks", "weather"),
    also_reads=("tracks.route",),
    page=Page(address="response", title="Response", rank=20),
    rank=50,
    subject="ports and the way there",
    brief_slide=False,
    report="M",
    reported=report.reported,
    answers={"way_home": Answering(make=home.answer, without=("forward_port.held",))},
    wall_line=home.wall_line,
    compute=options.compute,
    hand=options.hand,
    marks=marks.marks,
    table=report.table,
    tables=report.tables,
    sentence=report.sentence,
    grain_s=300.0,
    patient=("tracks", "weather"),
    version=4,
    errand=options.errand,
    caution=report.CAUTION,
)
