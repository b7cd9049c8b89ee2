"""The watch's own work: stages of alert, decisions, tasks, listening times, handovers, alarms."""

from layers.journal.kinds import heard_as, ruled
from layers.watch import kinds
from layers.watch.heard_words import HEARD
from layers.watch.release import RULES

KINDS = heard_as(ruled(kinds.KINDS, RULES), HEARD)

__all__ = ["KINDS"]
