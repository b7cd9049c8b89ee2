"""A second journal, told by voice alone and half known: written down as a tired hand hears it.

Nothing here is whole: a count without its compartment, one refuge whose air nobody reads and one
whose volume nobody tells, a sea without a forecast, a vehicle without a ship, two counts that
contradict each other, a record taken back. Invented from end to end.
"""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path

from layers.catalogue import KINDS
from layers.heard import Grammar, hear
from layers.heard.record import around_journal, drafts_of
from layers.journal.actor import Actor, Role
from layers.journal.store import open_journal

NAME = "QUIET REED"
BEGAN = datetime(2027, 2, 8, 20, 10, tzinfo=UTC)
HAND = Actor(name="duty officer", role=Role.WATCH)
LINES: tuple[tuple[int, str], ...] = (  # minutes after it began, what was heard
    (2, "lkp 5612N 00904W 1830Z within 6 nmi"),
    (3, "course 300 speed 8"),
    (4, "report due 2000"),
    (12, "sublook"),
    (50, "forward 12 people"),
    (70, "45 on board"),
    (95, "submiss"),
    (130, "aft 17 people"),
    (131, "forward co2 1.4 percent at 1.1 bar abs"),
    (150, "level co2 6 % sev"),
    (165, "subsunk"),
    (180, "she lies depth 138 m"),
    (200, "3 people in the water"),
    (230, "wind 270/22 sea 2.1 m 8 s at 5615N 00910W"),
    (240, "limit launch 2.5 m"),
    (260, "forward volume 310 m3"),
    (290, "vehicle 12 seats, 5 h cycle, ready 091400Z"),
    (320, "aft 15 people"),
    (330, "aft co2 2.2 percent at 1.3 bar abs"),
    (400, "aft first"),
    (460, "1 dead in forward"),
)
# ten times: between the lines, some not whole minutes, and long after the last
TIMES = tuple(
    BEGAN + timedelta(minutes=minutes, seconds=second)
    for minutes, second in (
        (3, 30), (15, 0), (60, 7), (100, 0), (140, 41), (190, 0), (235, 13), (300, 0), (415, 0),
        (900, 29),
    )
)  # fmt: skip


def make(path: Path) -> None:
    """Make the journal from its lines; what is asked instead of taken is left unsaid."""
    now = [BEGAN]
    journal = open_journal(path, KINDS, name=NAME, exercise=True, clock=lambda: now[0])
    grammar = Grammar(KINDS)
    for minutes, line in LINES:
        now[0] = BEGAN + timedelta(minutes=minutes)
        heard = hear(line, grammar, around_journal(grammar, journal, now[0]))
        drafts = drafts_of(heard, now=now[0], source=HAND.name, form_id=uuid.uuid5(
            uuid.NAMESPACE_OID, line).hex)  # fmt: skip
        for draft in drafts:
            journal.append(HAND, [draft])
    journal.close()
