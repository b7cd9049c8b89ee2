"""What stands open in a whole incident: people, objects sought, the watch's book, the way home."""

from __future__ import annotations

from layers.answers import Answers, answers
from layers.catalogue import KINDS, LAYERS, unfinished
from layers.contract import Moment
from layers.forward_port.home import report as home
from layers.journal.known import Known
from layers.journal.store import Journal
from layers.picture import compute_order, picture
from layers.watch.closing import left_open
from layers.watch.result import WatchState
from layers.watch.state import state

# what the way home is worked out from
READ = compute_order(layer.key for layer in LAYERS if "way_home" in layer.answers)


def stands_open(known: Known, watch: WatchState, found: Answers) -> tuple[str, ...]:
    """Return what nobody has brought to an end, a sentence each; people first."""
    return left_open(watch, (*unfinished(known), *home.left_open(found.way_home)))


def stands_open_in(journal: Journal) -> tuple[str, ...]:
    """Return what stands open in a journal now."""
    now, upto = journal.now(), journal.revision()
    moment, known = Moment(now, now), Known(journal, KINDS, upto, now)
    watch = state(known, moment)
    return stands_open(known, watch, answers(picture(journal, moment, upto, READ), watch))
