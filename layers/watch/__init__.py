"""The watch's own work: stages of alert, decisions, tasks, listening times, handovers, alarms."""

from layers.journal.kinds import ruled
from layers.watch import kinds
from layers.watch.release import RULES

KINDS = ruled(kinds.KINDS, RULES)

__all__ = ["KINDS"]
