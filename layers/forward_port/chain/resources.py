"""Who uses a shared resource after whom.

References
----------
Kelley, J. E. (1963), The critical-path method: resources planning and scheduling, in Industrial
Scheduling: the serial method, activities placed one after another by a rule of priority (from
memory, not checked against the page). The rule here: what was said to go first, then what has
least time to spare.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

# One user of a resource: key, from, until (hours).
Span = tuple[float, float]


def order(
    after: Mapping[str, Sequence[str]],
    length_h: Mapping[str, float],
    latest_h: Mapping[str, float],
    priority: Mapping[str, int],
    resource: Mapping[str, str],
    capacity: Mapping[str, int],
    not_before_h: Mapping[str, float],
    fixed: Mapping[str, Span],
) -> dict[str, tuple[str, ...]]:
    """Return which users each user of a resource has to wait for.

    Parameters
    ----------
    after : mapping
        What each activity waits for; none for what has begun: what happened waits for nothing.
    length_h, latest_h : mapping
        How long each takes, and its latest start without resources.
    resource, capacity : mapping
        The resource of each user, and how many can use a resource at once.
    fixed : mapping
        From when to when what has begun holds its resource.
    """
    ends: dict[str, float] = {key: until for key, (_, until) in fixed.items()}
    units: dict[str, list[list[tuple[float, float, str]]]] = {
        name: [[] for _ in range(many)] for name, many in capacity.items()
    }
    for key in sorted(fixed, key=lambda k: fixed[k]):
        name = resource.get(key, "")
        if name:
            begin, until = fixed[key]
            lanes = units[name]
            free = [lane for lane in lanes if all(u <= begin or b >= until for b, u, _ in lane)]
            (free or lanes)[0].append((begin, until, key))
    left = [key for key in after if key not in fixed]
    while left:
        ready = [key for key in left if all(other in ends for other in after[key])]
        key = min(ready, key=lambda k: (-priority.get(k, 0), latest_h[k], k))
        begin = max(
            [not_before_h.get(key, 0.0), *(ends[other] for other in after[key])], default=0.0
        )
        name = resource.get(key, "")
        if name:
            starts = [_first_gap(lane, begin, length_h[key]) for lane in units[name]]
            begin = min(starts)
            units[name][starts.index(begin)].append((begin, begin + length_h[key], key))
        ends[key] = begin + length_h[key]
        left.remove(key)
    waits: dict[str, tuple[str, ...]] = {}
    for lanes in units.values():
        for lane in lanes:
            lane.sort(key=lambda span: span[0])
            for place, (_, _, key) in enumerate(lane):
                if key not in fixed and place:
                    # what has begun may overlap on one lane: the last to begin need not end last
                    held = [k for _, _, k in lane[: place - 1] if k in fixed]
                    waits[key] = (*waits.get(key, ()), *held, lane[place - 1][2])
    return waits


def _first_gap(lane: Sequence[tuple[float, float, str]], begin: float, length: float) -> float:
    """Return the first time from ``begin`` at which a lane is free for so long."""
    at = begin
    for busy_from, busy_until, _ in sorted(lane):
        if at + length <= busy_from:
            return at
        at = max(at, busy_until)
    return at
