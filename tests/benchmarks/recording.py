"""What the watch records while others look: one record at once, and a ship that moves."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, Record, form_identity
from layers.journal.store import Journal

WATCH = Actor(name="bench", role=Role.WATCH, via="server")


def append(
    journal: Journal, kind: str, payload: dict[str, Any], answered: tuple[str, ...] = ()
) -> Record:
    """Append one record, true and heard a second ago; ``answered`` are no twins of it."""
    now = journal.now() - timedelta(seconds=1)
    draft = Draft(kind=kind, payload=payload, valid_at=now, heard_at=now, source="bench",
                  identity=form_identity(uuid.uuid4().hex), answered=answered)  # fmt: skip
    return journal.append(WATCH, [draft]).records[0]


def append_ship(journal: Journal, number: int) -> Record:
    """Append the position of one ship, so many steps on her way north."""
    payload = {
        "subject": "mmsi:299000900", "latitude_deg": 49.80 + number * 0.001,
        "longitude_deg": -8.40, "speed_kn": 5.0, "course_true_deg": 0.0,
    }  # fmt: skip
    return append(journal, "tracks.position", payload)
