"""Who can search, from when until when: told anew, not spent, not steering a plan already sent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np

from layers.datum.adrift.looked import LookedLeg, missed, swept
from layers.datum.result import Ahead, Lapsed, SentPlan
from layers.datum.search.model import Searcher, SearchSent
from layers.earth.arrays import Floats
from layers.earth.clock import clock_words, duration_words, to_us
from layers.earth.geodesy import WGS84
from layers.earth.plane import Plane
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI, M_S_PER_KN, S_PER_H
from layers.journal.known import Entry

FRESH = timedelta(hours=1)  # a searcher's told place and hours hold so long; common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadySearcher:
    """A searcher who can go: from where, when he starts, and until when he can stay."""

    searcher: Searcher
    record: str
    starts: datetime
    leaves: datetime
    place: Position

    @property
    def rate(self) -> float:
        """Area swept in a second, square metres."""
        return self.searcher.sweep_width_m * self.searcher.search_speed_kn * M_S_PER_KN

    @property
    def home(self) -> Position:
        """Where he must be back at the end of his hours: where he was told to be."""
        return Position(self.searcher.latitude_deg, self.searcher.longitude_deg)

    def way_h(self, one: Position, other: Position) -> float:
        """Return the hours of transit between two places."""
        metres = WGS84.inv(
            one.longitude_deg, one.latitude_deg, other.longitude_deg, other.latitude_deg
        )[2]
        return float(metres) / M_PER_NMI / self.searcher.transit_speed_kn


def ready_of(
    entries: Sequence[Entry], sent: Sequence[SentPlan], now: datetime
) -> tuple[list[ReadySearcher], list[Lapsed]]:
    """Return who can be planned for, the fastest sweeper first, and who must be asked.

    Who steers a plan that was sent is free at its end, from its last corner.
    """
    ready: list[ReadySearcher] = []
    lapsed: list[Lapsed] = []
    for entry in {entry.value.name: entry for entry in entries}.values():
        found = _ready(entry, now)
        if isinstance(found, Lapsed):
            if not any(one.searcher == found.name for one in sent):
                lapsed.append(found)
            continue
        for one in sent:
            if one.searcher == found.searcher.name:
                found = replace(found, starts=max(found.starts, one.ends), place=one.turns[-1])
        if found.starts < found.leaves:
            ready.append(found)
    ready.sort(key=lambda one: -one.rate)
    return ready, lapsed


def _ready(entry: Entry, now: datetime) -> ReadySearcher | Lapsed:
    """Return a searcher ready to go, or why nothing is planned for him."""
    value: Searcher = entry.value
    told = entry.record.heard_at
    until = value.ready_at + timedelta(hours=value.hours_h)
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
    return ReadySearcher(
        searcher=value,
        record=entry.id,
        starts=max(value.ready_at, now),
        leaves=until,
        place=Position(value.latitude_deg, value.longitude_deg),
    )


def under_way(
    entries: Sequence[Entry], done: Sequence[Entry], now: datetime
) -> tuple[SentPlan, ...]:
    """Return the newest plan sent to each searcher that is not steered to its end yet.

    A plan whose search has been reported is over, and so is one that a newer one replaces.
    """
    over = {entry.value.note for entry in done}
    newest = {entry.value.searcher: entry for entry in entries}
    found = []
    for entry in newest.values():
        value: SearchSent = entry.value
        times = [point.at for point in value.waypoints]
        begins, ends = times[0], times[-1]
        if begins is None or ends is None or ends <= now or told_over(entry) in over:
            continue
        found.append(_sent(entry, value, begins, ends))
    return tuple(sorted(found, key=lambda one: (one.begins, one.searcher)))


def told_over(entry: Entry) -> str:
    """Return the note by which a search says which sent plan it was."""
    return f"searched, nothing seen: {entry.id}"


def _sent(entry: Entry, value: SearchSent, begins: datetime, ends: datetime) -> SentPlan:
    return SentPlan(
        searcher=value.searcher,
        pattern=value.pattern,
        turns=tuple(Position(p.latitude_deg, p.longitude_deg) for p in value.waypoints),
        times=tuple(p.at or begins for p in value.waypoints),
        searching=value.searching,
        sweep_width_m=value.sweep_width_m,
        begins=begins,
        ends=ends,
        pos=value.pos,
        record=entry.id,
    )


def missed_by_sent(one: SentPlan, plane: Plane, ahead: Ahead) -> Floats:
    """Return the chance that what is left of a sent plan misses each particle, shape (n,)."""
    exponents = np.zeros(ahead.x_m.shape[1])
    points = [plane.point(p.latitude_deg, p.longitude_deg) for p in one.turns]
    from_us = ahead.at_us[0]
    flags: Any = one.searching or (True,) * (len(points) - 1)
    times = [to_us(at) for at in one.times]
    for counts, (a, b), (begin, end) in zip(flags, pairwise(points), pairwise(times), strict=True):
        if not counts or end <= max(begin, from_us) or a == b:
            continue
        if begin < from_us:  # what is steered already is for the search's own report
            part = (from_us - begin) / (end - begin)
            a, begin = (a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])), from_us
        leg = LookedLeg(from_m=a, to_m=b, begin_us=begin, end_us=end)
        exponents += swept(leg, ahead.places(begin), ahead.places(end), one.sweep_width_m)
    return missed(exponents)


def too_far(one: ReadySearcher) -> Lapsed:
    """Return that a searcher cannot come in his hours."""
    hours = (one.leaves - one.starts).total_seconds() / S_PER_H
    return Lapsed(
        name=one.searcher.name,
        why=f"has {hours:.1f} h, and needs as much to go there and back",
        ask=f"whether {one.searcher.name} can stay longer or land elsewhere",
    )


def no_pattern(one: ReadySearcher) -> Lapsed:
    """Return that a searcher can come, and steer no pattern before he must leave."""
    hours = (one.leaves - one.starts).total_seconds() / S_PER_H
    return Lapsed(
        name=one.searcher.name,
        why=f"has {hours:.1f} h, in which it can steer no pattern over what drifts there",
        ask=f"whether {one.searcher.name} can stay longer, or who is faster",
    )
