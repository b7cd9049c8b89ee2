"""What a release sees of the watch's own book: stages, and what the watch says to outsiders.

Logs, tasks, decisions and alarms may tell anything; where anything but names is withheld they are
not read. What the watch wants outsiders to have exactly it tells by a record of its own.
"""

from __future__ import annotations

from layers.earth.tells import Tells
from layers.journal.releases.rules import GUARDED, WHOLE, Rule, only, withheld

RULES: dict[str, Rule] = {
    "watch.stage": only("stage", "next_stage", "next_due"),
    "watch.marking": WHOLE,
    "watch.withholding": only("audience", "names", "medical", "exact_position"),
    "watch.place_told": only("south_deg", "north_deg", "west_deg", "east_deg"),
    "watch.told": WHOLE,
    "watch.let_go": only("target", "kinds"),
    "watch.clock": only("how", "stood_min"),
    # who else reads is no business of a reader's
    "watch.look": withheld(Tells.POSITION, Tells.MEDICAL, Tells.PERSON),
    **dict.fromkeys(
        (
            "watch.note", "watch.decision", "watch.assumption", "watch.question",
            "watch.settled", "watch.task",
            "watch.task_report", "watch.listening", "watch.listening_kept", "watch.acknowledged",
            "watch.handover", "watch.takeover", "watch.alarm_rule", "watch.alarm",
            "watch.alarm_taken", "watch.altered_taken", "watch.checklist", "watch.tick",
            "watch.export",
            "watch.alarm_ended", "watch.in_charge", "watch.on_watch", "watch.note", "watch.circuit",
            "watch.promised", "watch.help_asked",
            "watch.help_answered", "watch.told_outside", "watch.closed",
        ),
        GUARDED,
    ),
}  # fmt: skip
