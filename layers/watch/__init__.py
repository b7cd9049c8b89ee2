"""The watch's own work: stages of alert, decisions, tasks, listening times, handovers, alarms."""

from layers.watch.kinds import KINDS

__all__ = ["KINDS"]
