"""All searchers and all their watches planned together, led by the best effort there could be.

Whoever takes the best ground first leaves the others scraps. So three first plans are made: one
after the other, one rectangle cut in strips, and rectangles about what `best_effort` would spend
while each is there. The best of them is bettered searcher by searcher, each against what all the
others leave, before him and after, until nobody gains: `best_effort`'s own rule, with the legs
that are steered in the place of free effort.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from layers.datum.probability.containment import Grid
from layers.datum.result import Ahead, Lapsed, Planned
from layers.datum.search.allocation import box_round
from layers.datum.search.boxes import Box, best_box
from layers.datum.search.moving import best_effort
from layers.datum.search.ready import ReadySearcher, no_pattern, too_far
from layers.datum.search.watches import Sought, Watch, best_pattern
from layers.earth.arrays import Floats, Ints
from layers.earth.clock import to_us
from layers.earth.units import S_PER_H

WATCH_H = 6.0  # a longer stay is planned in parts, each on ground of its own; common practice
LEAST_H = 0.1
TRIED = 1_000  # particles that boxes are chosen by
ROUNDS, GAIN = 3, 2e-3
ACROSS, PERIODS = 32, 8  # cells and periods of the effort that leads


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A rectangle somebody is in, at the middle of his time there."""

    box: Box
    begin_us: int
    end_us: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """All watches of one searcher: what he steers, where, and what it misses of each particle."""

    items: tuple[Planned, ...]
    taken: tuple[Taken, ...]
    gone: Floats


def plan_together(
    sought: Sought, ready: Sequence[ReadySearcher], left: Floats
) -> tuple[list[Planned], Floats, list[Lapsed]]:
    """Return what each steers, what all miss of each particle, and who cannot come in time.

    Parameters
    ----------
    left : ndarray, shape (n,)
        What the plans already sent miss of each particle.
    """
    whole, step = sought, max(len(left) // TRIED, 1)
    sought, all_left, left = _thinned(whole, step), left, left[::step]
    here = [one for one in ready if _hours(sought, one) >= LEAST_H]
    refused = [too_far(one) for one in ready if one not in here]
    best: list[Course | None] = []
    worth = 1.0
    for watches in _watches(sought, here):
        for first in _first_plans(sought, here, watches, left):
            found = _bettered(sought, here, watches, first, left)
            missed = float(_left(found, left).mean())
            if missed < worth:
                worth, best = missed, found
    planned, after = _on_all(whole, here, best, all_left)
    busy = {item.searcher.name for item in planned}
    refused += [no_pattern(one) for one in here if one.searcher.name not in busy]
    return planned, after, refused


def _thinned(sought: Sought, step: int) -> Sought:
    """Return the same with fewer particles: enough to choose by, not to be valued by."""
    ahead = sought.ahead
    few = Ahead(at_us=ahead.at_us, x_m=ahead.x_m[:, ::step], y_m=ahead.y_m[:, ::step])
    return replace(sought, ahead=few)


def _on_all(
    sought: Sought, ready: Sequence[ReadySearcher], best: Sequence[Course | None], left: Floats
) -> tuple[list[Planned], Floats]:
    """Return what each steers on his grounds, chosen and valued by all particles, in turn.

    Each is worth what those before it in the list have left, and so is every pattern told beside.
    """
    found: list[Planned] = []
    for one, chosen in zip(ready, best, strict=False):
        if chosen is None:
            continue
        course = _course(sought, one, [taken.box for taken in chosen.taken], left, ())
        if course is not None:
            found.extend(course.items)
            left = left * course.gone
    return found, left


def _left(courses: Sequence[Course | None], left: Floats, but: int = -1) -> Floats:
    for number, course in enumerate(courses):
        if course is not None and number != but:
            left = left * course.gone
    return left


def _hours(sought: Sought, one: ReadySearcher) -> float:
    x, y = sought.ahead.places(to_us(one.starts))
    middle = sought.plane.position(float(x.mean()), float(y.mean()))
    whole = (one.leaves - one.starts).total_seconds() / S_PER_H
    return whole - one.way_h(one.place, middle) - one.way_h(middle, one.home)


def _watches(sought: Sought, ready: Sequence[ReadySearcher]) -> list[list[int]]:
    """Return how many watches each stays: one, and as many as his hours are long."""
    parts = [max(int(np.ceil(_hours(sought, one) / WATCH_H - 0.2)), 1) for one in ready]
    whole = [1] * len(parts)
    return [whole] if parts == whole else [whole, parts]


def _first_plans(
    sought: Sought, ready: Sequence[ReadySearcher], watches: Sequence[int], left: Floats
) -> list[list[Course | None]]:
    """Return the plans to begin with."""
    found = [_along(sought, ready, [[None] * count for count in watches], left)]
    if len(ready) > 1 or max(watches, default=1) > 1:
        led = _led(sought, ready, watches, left)
        if led is not None:
            found.append(_along(sought, ready, led, left))
        if max(watches) == 1:
            strips = _strips(sought, ready)
            if strips is not None:
                found.append(_along(sought, ready, strips, left))
    return found


def _along(
    sought: Sought,
    ready: Sequence[ReadySearcher],
    boxes: Sequence[Sequence[Box | None]],
    left: Floats,
) -> list[Course | None]:
    """Return what each steers in these boxes, one searcher after the other; None: the best left."""
    found: list[Course | None] = []
    for one, own in zip(ready, boxes, strict=True):
        course = _course(sought, one, own, left, _taken(found))
        found.append(course)
        left = left if course is None else left * course.gone
    return found


def _bettered(
    sought: Sought,
    ready: Sequence[ReadySearcher],
    watches: Sequence[int],
    first: list[Course | None],
    left: Floats,
) -> list[Course | None]:
    """Return the plan after each searcher has sought better ground than he has."""
    found = list(first)
    before = float(_left(found, left).mean())
    for _ in range(ROUNDS if len(ready) > 1 else 0):
        for number, one in enumerate(ready):
            others = _left(found, left, but=number)
            taken = _taken(found, but=number)
            tried = _course(sought, one, [None] * watches[number], others, taken)
            now = found[number]
            if tried is None:
                continue
            if now is None or (others * tried.gone).mean() < (others * now.gone).mean():
                found[number] = tried
        after = float(_left(found, left).mean())
        if before - after < GAIN:
            break
        before = after
    return found


def _taken(courses: Sequence[Course | None], but: int = -1) -> list[Taken]:
    return [
        one
        for number, course in enumerate(courses)
        if course is not None and number != but
        for one in course.taken
    ]


def _course(
    sought: Sought,
    one: ReadySearcher,
    boxes: Sequence[Box | None],
    left: Floats,
    taken: Sequence[Taken],
) -> Course | None:
    """Return a searcher's watches one after another; a box that is None is the best that is left.

    Each begins where the last ended, the transit between them taken off.
    """
    items: list[Planned] = []
    own: list[Taken] = []
    gone = np.ones(len(left))
    place, now = one.place, one.starts
    for number, box in enumerate(boxes):
        last = number == len(boxes) - 1
        until = one.leaves
        if not last:
            until = now + (one.leaves - now) / (len(boxes) - number)
        watch = Watch(
            ready=one, place=place, starts=now, until=until, home=one.home if last else None
        )
        ground = box or _free_box(sought, watch, left * gone, taken)
        if ground is None:
            continue
        made = best_pattern(sought, watch, ground, left * gone)
        if made is None:
            continue
        item, missed = made
        items.append(item)
        own.append(Taken(box=ground, begin_us=to_us(item.begins), end_us=to_us(item.ends)))
        gone = gone * missed
        place, now = item.pattern.turns[-1].position, item.ends
    return Course(items=tuple(items), taken=tuple(own), gone=gone) if items else None


def _free_box(sought: Sought, watch: Watch, left: Floats, taken: Sequence[Taken]) -> Box | None:
    """Return the rectangle worth most that nobody is in meanwhile."""
    begin_us, end_us = to_us(watch.starts), to_us(watch.until)
    middle_us = (begin_us + end_us) // 2
    x, y = sought.ahead.places(middle_us)
    least = watch.ready.searcher.sweep_width_m
    meanwhile = [
        _carried(sought.ahead, other, middle_us)
        for other in taken
        if other.begin_us < end_us and other.end_us > begin_us
    ]
    swept = watch.swept_m2(sought.plane)
    found = best_box(x, y, left / len(left), swept, least, meanwhile)
    return None if found is None else found[0]


def _carried(ahead: Ahead, one: Taken, at_us: int) -> Box:
    """Return a rectangle where it lies at another time, carried by the mean drift."""
    (x0, y0), (x1, y1) = ahead.places((one.begin_us + one.end_us) / 2), ahead.places(at_us)
    box = one.box
    return replace(
        box,
        x_m=box.x_m + float((x1 - x0).mean()),
        y_m=box.y_m + float((y1 - y0).mean()),
    )


def _strips(sought: Sought, ready: Sequence[ReadySearcher]) -> list[list[Box | None]] | None:
    """Return one rectangle for all, cut in proportion to what each can sweep."""
    efforts = [_hours(sought, one) * S_PER_H * one.rate for one in ready]
    middle_us = to_us(min(one.starts for one in ready) + timedelta(hours=1))
    x, y = sought.ahead.places(middle_us)
    least = max(one.searcher.sweep_width_m for one in ready)
    whole = sum(efforts)
    found = best_box(
        x, y, np.full(len(x), 1.0 / len(x)), lambda east, _: np.full(len(east), whole), least
    )
    if found is None:
        return None
    return [[box] for box in found[0].parts(efforts)]


def _led(
    sought: Sought, ready: Sequence[ReadySearcher], watches: Sequence[int], left: Floats
) -> list[list[Box | None]] | None:
    """Return a rectangle for each watch about what the best effort spends there meanwhile.

    In each period those who are there share its effort in strips along its long axis, in the
    order in which they come from.
    """
    begins = min(one.starts for one in ready)
    ends = max(one.leaves for one in ready)
    edges = [begins + (ends - begins) * k / PERIODS for k in range(PERIODS + 1)]
    spans = _spans(sought, ready, watches)
    spent = [
        [
            sum(
                one.rate * max((min(b, until) - max(a, start)).total_seconds(), 0.0)
                for start, until in own
            )
            for one, own in zip(ready, spans, strict=True)
        ]
        for a, b in pairwise(edges)
    ]
    middles = [to_us(a + (b - a) / 2) for a, b in pairwise(edges)]
    places = [sought.ahead.places(at) for at in middles]
    frame = _frame(places)
    cells: Ints = np.stack([_cells(frame, x, y) for x, y in places])
    totals = [sum(row) for row in spent]
    if max(totals) <= 0.0:
        return None
    best = best_effort(cells, left / len(left), ACROSS * ACROSS, frame.cell_m**2, totals)
    found: list[list[Box | None]] = []
    for number, own in enumerate(spans):
        boxes: list[Box | None] = []
        for start, until in own:
            middle = start + (until - start) / 2
            period = int(np.clip((middle - begins) / ((ends - begins) / PERIODS), 0, PERIODS - 1))
            effort = best.swept_m2[period].reshape(ACROSS, ACROSS)
            share = _slice(sought, ready, frame, effort, spent[period], number)
            least = ready[number].searcher.sweep_width_m
            boxes.append(None if share is None else _box(frame, share, least))
        found.append(boxes)
    return found


def _spans(
    sought: Sought, ready: Sequence[ReadySearcher], watches: Sequence[int]
) -> list[list[tuple[datetime, datetime]]]:
    """Return when each is there, watch by watch, transit taken off at both ends."""
    found = []
    for one, count in zip(ready, watches, strict=True):
        hours = _hours(sought, one)
        whole = (one.leaves - one.starts).total_seconds() / S_PER_H
        begin = one.starts + timedelta(hours=(whole - hours) / 2.0)
        part = timedelta(hours=hours / count)
        found.append([(begin + k * part, begin + (k + 1) * part) for k in range(count)])
    return found


def _frame(places: Sequence[tuple[Floats, Floats]]) -> Grid:
    """Return an empty grid over all places that matter."""
    x, y = (np.concatenate([place[axis] for place in places]) for axis in (0, 1))
    low = np.quantile(x, 0.005), np.quantile(y, 0.005)
    side = max(np.quantile(x, 0.995) - low[0], np.quantile(y, 0.995) - low[1], 10.0) * 1.02
    return Grid(
        x0_m=float(low[0]),
        y0_m=float(low[1]),
        cell_m=float(side) / ACROSS,
        held=np.zeros((ACROSS, ACROSS)),
        outside=0.0,
    )


def _cells(frame: Grid, x_m: Floats, y_m: Floats) -> Ints:
    """Return the cell of each place, -1 outside of all."""
    column = np.floor((x_m - frame.x0_m) / frame.cell_m).astype(np.int64)
    row = np.floor((y_m - frame.y0_m) / frame.cell_m).astype(np.int64)
    inside = (column >= 0) & (column < ACROSS) & (row >= 0) & (row < ACROSS)
    return np.where(inside, row * ACROSS + column, -1)


def _slice(
    sought: Sought,
    ready: Sequence[ReadySearcher],
    frame: Grid,
    effort: Floats,
    spent: Sequence[float],
    number: int,
) -> Floats | None:
    """Return the part of a period's effort that is one searcher's."""
    if spent[number] <= 0.0 or effort.sum() <= 0.0:
        return None
    x, y = frame.middles()
    weight = effort / effort.sum()
    dx, dy = x - (weight * x).sum(), y - (weight * y).sum()
    cross = (weight * dx * dy).sum()
    _, axes = np.linalg.eigh([[(weight * dx * dx).sum(), cross], [cross, (weight * dy * dy).sum()]])
    axis = axes[:, 1]
    along = dx * axis[0] + dy * axis[1]
    there = [k for k, swept in enumerate(spent) if swept > 0.0]
    points = {
        k: sought.plane.point(ready[k].place.latitude_deg, ready[k].place.longitude_deg)
        for k in there
    }
    there.sort(key=lambda k: points[k][0] * axis[0] + points[k][1] * axis[1])
    before = sum(spent[k] for k in there[: there.index(number)]) / sum(spent)
    after = before + spent[number] / sum(spent)
    order = np.argsort(along, axis=None)
    run = np.empty(effort.size)
    run[order] = np.cumsum(weight.ravel()[order]) - 0.5 * weight.ravel()[order]
    mine = ((run >= before) & (run < after)).reshape(effort.shape)
    share = np.where(mine, effort, 0.0)
    return share if share.sum() > 0.0 else None


def _box(frame: Grid, share: Floats, least_m: float) -> Box:
    x, y, length, width, bearing = box_round(frame, share)
    return Box(x, y, max(length, least_m), max(width, least_m), float(np.radians(bearing)))
