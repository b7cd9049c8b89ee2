"""Where to search next: the plan that is sent is the plan that is valued.

From now, from where each searcher is, with the hours he has until he must leave. What was sent
stands until it is steered; for all others, and all their watches, one joint plan is made: ground of
their own, a spacing that fills the hours, and the pattern that finds most. What a pattern finds is
worked out for its very legs, at the time each is steered, against where the object will be then,
given that those before have not found it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np

from layers.datum.result import Planned, SearchPlan
from layers.datum.search.joint import plan_together
from layers.datum.search.ready import missed_by_sent, ready_of, under_way
from layers.datum.search.watches import Sought
from layers.journal.known import Entry

LOWEST_M, APART_M = 152.4, 152.4  # 500 ft: aircraft that search at the same time


def plan_search(
    sought: Sought,
    entries: Sequence[Entry],
    now: datetime,
    sent: Sequence[Entry] = (),
    done: Sequence[Entry] = (),
) -> SearchPlan:
    """Return the plan for one object, from the searchers told for it.

    Parameters
    ----------
    sent, done : sequence of Entry
        Plans that were sent, and searches reported.
    """
    steered = under_way([one for one in sent if one.value.object == sought.name], done, now)
    left = np.ones(sought.ahead.x_m.shape[1])
    for one in steered:
        left = left * missed_by_sent(one, sought.plane, sought.ahead)
    theirs = [entry for entry in entries if entry.value.object == sought.name]
    ready, lapsed = ready_of(theirs, steered, now)
    planned, after, refused = plan_together(sought, ready, left)
    return SearchPlan(
        object=sought.name,
        at=now,
        planned=apart(planned),
        lapsed=(*lapsed, *refused),
        pos=1.0 - float(after.mean()),
        sent=steered,
    )


def apart(planned: Sequence[Planned]) -> tuple[Planned, ...]:
    """Return the plans, each aircraft at the lowest height free while it is out.

    Notes
    -----
    Each rectangle is its own, but at its edges and on the way aircraft meet. 500 ft between those
    whose times overlap is common practice for searches in sight of the surface (from memory, no
    source); what they fly is what air traffic control and the aircraft commanders agree.
    """
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
