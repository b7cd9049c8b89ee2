"""Where to search next: the plan that is sent is the plan that is valued.

From now, from where each searcher is, with the hours he has until he must leave. What was sent
stands until it is steered; for all others, and all their watches, one joint plan is made: ground of
their own, a spacing that fills the hours, and the pattern that finds most. What a pattern finds is
worked out for its very legs, at the time each is steered, against where the object will be then,
given that those before have not found it.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from layers.datum.result import SearchPlan
from layers.datum.search.heights import apart
from layers.datum.search.joint import plan_together
from layers.datum.search.ready import missed_by_sent, ready_of, under_way
from layers.datum.search.watches import Sought
from layers.journal.known import Entry


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
