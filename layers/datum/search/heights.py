"""Aircraft that search at the same time are kept apart in height.

Each rectangle is its own, but at its edges and on the way aircraft meet. 500 ft between those
whose times overlap is common practice for searches in sight of the surface (from memory, no
source); what they fly is what air traffic control and the aircraft commanders agree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from layers.datum.result import Planned

LOWEST_M, APART_M = 152.4, 152.4  # 500 ft


def apart(planned: Sequence[Planned]) -> tuple[Planned, ...]:
    """Return the plans, each aircraft at the lowest height free while it is out."""
    found: list[Planned] = []
    for item in planned:
        if not item.searcher.flies:
            found.append(item)
            continue
        held = {
            other.height_m
            for other in found
            if other.searcher.name != item.searcher.name
            and other.leaves_for_it < item.must_leave
            and item.leaves_for_it < other.must_leave
        }
        level = 0
        while LOWEST_M + level * APART_M in held:
            level += 1
        found.append(replace(item, height_m=LOWEST_M + level * APART_M))
    return tuple(found)
