"""Where to search next: the plan that is sent is the plan that is valued.

From now, from where each searcher is, with the hours he has until he must leave. Each gets a
rectangle of his own, a spacing that fills his hours, and the pattern that finds most; what it
finds is worked out for its very legs, at the time each is steered, against where the object will
be then, given that those before have not found it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from layers.datum.result import Ahead, Lapsed, Planned, SearchPlan
from layers.datum.search.boxes import Box, best_box
from layers.datum.search.model import Searcher
from layers.datum.search.patterns import Code, Pattern, creeping, sector, square, sweeps
from layers.datum.search.steer import Way, missed_by, steered_pattern
from layers.earth.arrays import Floats
from layers.earth.clock import clock_words, duration_words, to_us
from layers.earth.errors import InputError
from layers.earth.plane import WGS84, Plane
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI, M_S_PER_KN, S_PER_H
from layers.journal.known import Entry

FRESH = timedelta(hours=1)  # a searcher's told place and hours hold so long; common practice
LEAST_H = 0.1
TRIED = 2_000  # particles that boxes are chosen by


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """What is searched for: its name and where it may be from now on."""

    name: str
    ahead: Ahead
    plane: Plane


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ready:
    """A searcher who can go: when he starts, and until when he can stay."""

    searcher: Searcher
    record: str
    starts: datetime
    leaves: datetime

    @property
    def rate(self) -> float:
        """Area swept in a second, square metres."""
        return self.searcher.sweep_width_m * self.searcher.search_speed_kn * M_S_PER_KN


def plan_search(sought: Sought, entries: Sequence[Entry], now: datetime) -> SearchPlan:
    """Return the plan for one object, from the searchers told for it."""
    newest = {entry.value.name: entry for entry in entries if entry.value.object == sought.name}
    ready: list[_Ready] = []
    lapsed: list[Lapsed] = []
    for entry in newest.values():
        found = _ready(entry, now)
        if isinstance(found, Lapsed):
            lapsed.append(found)
        else:
            ready.append(found)
    ready.sort(key=lambda one: -one.rate)
    best: tuple[list[Planned], Floats, list[Lapsed]] = ([], np.ones(1), [])
    worth = -1.0
    for share in (False, True) if len(ready) > 1 else (False,):
        planned, left, refused = _planned(sought, ready, share)
        if 1.0 - float(left.mean()) > worth:
            worth, best = 1.0 - float(left.mean()), (planned, left, refused)
    return SearchPlan(
        object=sought.name,
        at=now,
        planned=tuple(best[0]),
        lapsed=(*lapsed, *best[2]),
        pos=max(worth, 0.0) if ready else 0.0,
    )


def _ready(entry: Entry, now: datetime) -> _Ready | Lapsed:
    """Return a searcher ready to go, or why nothing is planned for him."""
    value: Searcher = entry.value
    told = entry.record.heard_at
    until = value.ready_at + timedelta(hours=value.endurance_h)
    name = value.name
    if now - max(told, value.ready_at) > FRESH:
        age = duration_words(now - told)
        return Lapsed(
            name=name,
            why=f"told {clock_words(told, now)}, {age} ago; nothing is planned from it",
            ask=f"where {name} is, when ready, and for how many hours",
        )
    if until <= now:
        return Lapsed(
            name=name,
            why=f"the hours told ended {clock_words(until, now)}",
            ask=f"when {name} is ready again",
        )
    return _Ready(searcher=value, record=entry.id, starts=max(value.ready_at, now), leaves=until)


def _planned(
    sought: Sought, ready: Sequence[_Ready], share: bool
) -> tuple[list[Planned], Floats, list[Lapsed]]:
    """Return what each steers, what all miss of each particle, and who cannot come in time.

    ``share``: one rectangle for all, cut in strips; else each takes the best that is left.
    """
    left = np.ones(sought.ahead.x_m.shape[1])
    planned: list[Planned] = []
    refused: list[Lapsed] = []
    strips = _strips(sought, ready) if share else {}
    taken: list[Box] = []
    for one in ready:
        times = _on_scene(sought, one, strips.get(one.searcher.name))
        if times is None:
            refused.append(_too_far(one))
            continue
        begins, hours = times
        box = strips.get(one.searcher.name)
        if box is None:
            middle_us = to_us(begins + timedelta(hours=hours / 2.0))
            x, y = sought.ahead.places(middle_us)
            step = max(len(x) // TRIED, 1)
            track = hours * S_PER_H * one.searcher.search_speed_kn * M_S_PER_KN
            width = one.searcher.sweep_width_m
            found = best_box(
                x[::step], y[::step], left[::step] / len(left[::step]), track * width, width, taken
            )
            if found is None:
                continue
            box = found[0]
        made = _best_pattern(sought, one, box, begins, hours, left)
        if made is None:
            continue
        item, gone = made
        planned.append(item)
        taken.append(box)
        left = left * gone
    return planned, left, refused


def _strips(sought: Sought, ready: Sequence[_Ready]) -> dict[str, Box]:
    """Return one rectangle for all, cut in proportion to what each can sweep."""
    efforts = {}
    for one in ready:
        times = _on_scene(sought, one, None)
        if times is not None:
            efforts[one.searcher.name] = times[1] * S_PER_H * one.rate
    if len(efforts) < 2:
        return {}
    middle_us = to_us(ready[0].starts + timedelta(hours=1))
    x, y = sought.ahead.places(middle_us)
    least = max(one.searcher.sweep_width_m for one in ready)
    found = best_box(x, y, np.full(len(x), 1.0 / len(x)), sum(efforts.values()), least)
    if found is None:
        return {}
    return dict(zip(efforts, found[0].parts(list(efforts.values())), strict=True))


def _on_scene(sought: Sought, one: _Ready, box: Box | None) -> tuple[datetime, float] | None:
    """Return when a searcher begins and for how many hours he can search, less both ways."""
    if box is None:
        x, y = sought.ahead.places(to_us(one.starts))
        place = float(x.mean()), float(y.mean())
    else:
        place = box.x_m, box.y_m
    where = sought.plane.position(*place)
    way_h = _way_h(one.searcher, where)
    begins = one.starts + timedelta(hours=way_h)
    hours = (one.leaves - begins).total_seconds() / S_PER_H - way_h
    return (begins, hours) if hours >= LEAST_H else None


def _way_h(searcher: Searcher, where: Position) -> float:
    metres = WGS84.inv(
        searcher.longitude_deg, searcher.latitude_deg, where.longitude_deg, where.latitude_deg
    )[2]
    return float(metres) / M_PER_NMI / searcher.transit_speed_kn


def _too_far(one: _Ready) -> Lapsed:
    hours = (one.leaves - one.starts).total_seconds() / S_PER_H
    return Lapsed(
        name=one.searcher.name,
        why=f"has {hours:.1f} h, and needs as much to go there and back",
        ask=f"whether {one.searcher.name} can stay longer or land elsewhere",
    )


def _best_pattern(
    sought: Sought, one: _Ready, box: Box, begins: datetime, hours: float, left: Floats
) -> tuple[Planned, Floats] | None:
    """Return the pattern over a box that finds most, and what it misses of each particle."""
    searcher, ahead, plane = one.searcher, sought.ahead, sought.plane
    drift = _drift_m_s(ahead, begins, hours)
    # the box was chosen for the middle of the hours: laid back to where it lies at the start
    half_s = hours * S_PER_H / 2.0
    start_box = Box(
        box.x_m - drift[0] * half_s, box.y_m - drift[1] * half_s, box.length_m, box.width_m,
        box.turn_rad,
    )  # fmt: skip
    way = Way(
        plane=plane, start=begins, hours=hours, speed_kn=searcher.search_speed_kn,
        drift_m_s=drift,
    )  # fmt: skip
    track = hours * S_PER_H * searcher.search_speed_kn * M_S_PER_KN
    tried: list[tuple[float, Pattern, Floats, float]] = []
    for code, shape, flags, spacing in _shapes(box, track, searcher.sweep_width_m):
        corners = _nearest_first(start_box.placed(shape), searcher, plane, code)
        try:
            pattern = steered_pattern(code, corners, flags, way, searcher.name, spacing)
        except InputError:
            return None
        if pattern is None:
            continue
        gone = missed_by(pattern, plane, ahead, searcher.sweep_width_m)
        tried.append((float((left * (1.0 - gone)).mean()), pattern, gone, spacing))
    if not tried:
        return None
    tried.sort(key=lambda item: -item[0])
    pos, pattern, gone, spacing = tried[0]
    best_of: dict[str, float] = {}
    for worth, other, _, _ in tried:
        best_of.setdefault(other.title, worth)
    first = pattern.turns[0].position
    middle = plane.position(start_box.x_m, start_box.y_m)
    north = plane.convergence_deg(middle.latitude_deg, middle.longitude_deg)
    outline = tuple(plane.position(float(x), float(y)) for x, y in start_box.corners)
    return (
        Planned(
            searcher=searcher,
            pattern=pattern,
            leaves_for_it=begins - timedelta(hours=_way_h(searcher, first)),
            begins=begins,
            ends=pattern.turns[-1].at,
            must_leave=begins + timedelta(hours=hours),
            pos=pos,
            coverage=pattern.track_m * searcher.sweep_width_m / (box.length_m * box.width_m),
            spacing_m=spacing,
            outline=outline,
            middle=middle,
            length_m=box.length_m,
            width_m=box.width_m,
            bearing_true_deg=(float(np.degrees(box.turn_rad)) - north) % 360.0,
            creep_true_deg=_creep_deg(pattern),
            others=tuple((k, v) for k, v in best_of.items() if k != pattern.title),
            record=one.record,
        ),
        gone,
    )


def _drift_m_s(ahead: Ahead, begins: datetime, hours: float) -> tuple[float, float]:
    """Return the mean drift over the hours of a search, metres a second east and north."""
    if len(ahead.at_us) == 1:
        return 0.0, 0.0
    first, last = to_us(begins), to_us(begins + timedelta(hours=hours))
    (x0, y0), (x1, y1) = ahead.places(first), ahead.places(last)
    span_s = (last - first) / 1e6
    return float((x1 - x0).mean()) / span_s, float((y1 - y0).mean()) / span_s


def _shapes(
    box: Box, track_m: float, sweep_width_m: float
) -> list[tuple[Code, Floats, list[bool], float]]:
    """Return the shapes to try over a box, each as long as the track: spacing fills the hours."""
    found: list[tuple[Code, Floats, list[bool], float]] = []
    for code, length, width, lay in (
        ("PS", box.length_m, box.width_m, sweeps),
        ("CS", box.width_m, box.length_m, None),
    ):
        tracks = _tracks(length, width, track_m)
        spacing = width / tracks
        points, flags = (
            lay(length, width, spacing)
            if lay is not None
            else creeping(box.length_m, box.width_m, spacing)
        )
        found.append((code, points, flags, spacing))  # type: ignore[arg-type]  # PS or CS
    for part in (0.6, 1.0, 1.5):
        spacing = part * sweep_width_m
        side = max(float(np.sqrt(track_m * spacing)), 2.0 * spacing)
        found.append(("SS", *square(side, spacing), spacing))
    for part in (0.6, 1.0):
        found.append(("VS", *sector(part * track_m / 9.0), 0.0))
    return found


def _tracks(length_m: float, width_m: float, track_m: float) -> int:
    """Return the most tracks over a box that a track is long enough for, cross legs included."""
    best = 1
    for tracks in range(1, 400):
        spacing = width_m / tracks
        needed = tracks * max(length_m - spacing, spacing) + (tracks - 1) * spacing
        if needed > track_m:
            break
        best = tracks
    return best


def _nearest_first(corners: Floats, searcher: Searcher, plane: Plane, code: Code) -> Floats:
    """Return a shape begun at the end that lies nearer to the searcher."""
    if code not in ("PS", "CS"):
        return corners
    place = np.array(plane.point(searcher.latitude_deg, searcher.longitude_deg))
    ends = np.hypot(*(corners[0] - place)), np.hypot(*(corners[-1] - place))
    return corners if ends[0] <= ends[1] else corners[::-1].copy()


def _creep_deg(pattern: Pattern) -> float | None:
    """Return the direction in which the tracks of a pattern follow each other, degrees true."""
    if pattern.code not in ("PS", "CS") or len(pattern.turns) < 4:
        return None
    a, b = pattern.turns[1].position, pattern.turns[2].position
    towards = WGS84.inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)[0]
    return float(towards) % 360.0
