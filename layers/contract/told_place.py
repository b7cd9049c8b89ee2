"""The block that the watch has told of her place, for those who may not see the place itself."""

from __future__ import annotations

from datetime import datetime

from layers.earth.block import Block
from layers.journal.known import Known

KIND = "watch.place_told"


def told_block(known: Known, at: datetime) -> Block | None:
    """Return the block in force at a time, as far as it was known; None before the first."""
    if KIND not in known.kinds:
        return None
    held = [e for e in known.entries(KIND) if e.record.valid_at <= at and not e.disputed]
    if not held:
        return None
    last = max(held, key=lambda e: (e.record.valid_at, e.record.seq)).value
    return Block(
        south_deg=last.south_deg,
        north_deg=last.north_deg,
        west_deg=last.west_deg,
        east_deg=last.east_deg,
    )
