"""The chain of one option, drawn ten thousand times."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import from_us
from layers.earth.errors import InputError
from layers.earth.units import S_PER_H
from layers.earth.values import SeaSeries
from layers.forward_port import model
from layers.forward_port.chain import chain, gates, pert
from layers.forward_port.chain.activities import ActualTimes, activities_of, times_of
from layers.forward_port.chain.gate_words import gate_not_known, limits_of, sea_for
from layers.forward_port.chain.worked import (
    _has_time,
    activity_of,
    draws_us,
    hours_of,
    named,
    spread_of,
)
from layers.forward_port.facts import Facts
from layers.forward_port.legs.legs import LegTime, Surroundings, leg_time
from layers.forward_port.result import DRAWS, SEED, ActivityForecast, Spread

SAVED_DRAWS = 2_000
WORTH_TRYING = 0.01  # an activity critical in fewer draws than this saves nothing to speak of


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainForecast:
    """The chain of one option, worked."""

    activities: tuple[ActivityForecast, ...]
    ready_us: Ints
    last_us: Ints
    first_sight: Spread | None
    ready: Spread | None
    last: Spread
    done_at: datetime | None
    unknown: tuple[str, ...]
    sea_known: bool


def forecast(
    option: model.Option,
    around: Surroundings,
    series: SeaSeries | None,
    *,
    from_now: bool,
) -> ChainForecast:
    """Return the chain of one option worked for all draws.

    Parameters
    ----------
    option : Option
        Which.
    around : Surroundings
        Facts, sea, ships and routes at the time.
    series : SeaSeries or None
        The sea at the datum, for the windows.
    from_now : bool
        What has not started cannot start before now: for the option followed, not for one that
        is only kept for comparison.

    Raises
    ------
    InputError
        A circle, a wait for nothing, a leg without a speed; it names the row.
    """
    rows = activities_of(option, around.facts)
    if option.last not in {row.key for row in rows}:
        raise InputError(
            f"its last activity {option.last!r} is not in it",
            where=f"option {option.key}",
            accepted=", ".join(row.key for row in rows) or "an activity of this option",
        )
    times = times_of(option, around.facts)
    # Only for the option followed is what she really did reckoned from her last fix: for the
    # others it says when they would have come about, whatever she has done since.
    fixed = around if from_now else replace(around, ships=())
    legs = _legs(option, rows, times, fixed)
    links = [_link(option, row, rows, times, legs, series, around) for row in rows]
    net = chain.network(links, f"option {option.title}")
    level = np.arange(DRAWS, dtype=np.int64)
    now_h = hours_of(option, around.now) if from_now else None
    done = chain.run(net, level=level, now_h=now_h)
    plan = _plan(option, rows, replace(around, ships=()))
    last = net.place[option.last]
    is_critical, waits = chain.critical(done, last)
    share = is_critical.mean(axis=1)
    saved = _saved(net, last, level, now_h, share)
    lacks = _lacks(option, rows, net, done, times, legs, series, around)
    activities = tuple(
        activity_of(
            option,
            row,
            net,
            done,
            plan,
            times,
            legs,
            around,
            share,
            waits,
            saved,
            lacks.get(row.key, ""),
        )
        for row in sorted(rows, key=lambda r: float(plan.start_h[plan.network.place[r.key], 0]))
    )
    unknown = tuple(f"how long: {row.title}" for row in rows if not _has_time(row, times))
    unknown += tuple(
        f"how much longer: {row.title}, overdue by {late:.1f} h"
        for row in rows
        if (late := overdue_h(row, legs.get(row.key), times, around.now)) is not None
    )
    unknown += gate_not_known(option, rows, times, series, around, done)
    sea_known = not any(row.hs_max_m for row in rows) or _covers(
        series, option, float(np.percentile(done.finish_h[last], 90))
    )
    return ChainForecast(
        activities=activities,
        ready_us=draws_us(option, done, net.place.get(option.ready, last)),
        last_us=draws_us(option, done, last),
        first_sight=named(option, done, option.sight),
        ready=named(option, done, option.ready),
        last=spread_of(option, done.finish_h[last]),
        done_at=times.get(option.last, ActualTimes()).finished_at,
        unknown=unknown,
        sea_known=sea_known,
    )


def _lacks(
    option: model.Option,
    rows: tuple[model.Activity, ...],
    net: chain.Network,
    done: chain.ChainRun,
    times: Mapping[str, ActualTimes],
    legs: Mapping[str, LegTime],
    series: SeaSeries | None,
    around: Surroundings,
) -> dict[str, str]:
    """Return what each activity's times rest on that nobody knows, its own or of one before it."""
    by_key, found = {row.key: row for row in rows}, dict[str, str]()
    for link, waits in zip(net.links, net.waits, strict=True):
        row = by_key[link.key]
        if times.get(row.key, ActualTimes()).finished_at is not None:
            continue
        late = overdue_h(row, legs.get(row.key), times, around.now)
        gate = gate_not_known(option, (row,), times, series, around, done)
        if not _has_time(row, times):
            found[row.key] = "how long is not known; counted as nothing, so not before"
        elif late is not None:
            found[row.key] = f"overdue by {late:.1f} h; how much longer is not known"
        elif gate:
            found[row.key] = f"{'; '.join(gate)}: so not before"
        elif row_waits := [net.links[i].key for i in waits if net.links[i].key in found]:
            titles = ", ".join(by_key[key].title for key in row_waits)
            found[row.key] = f"after {titles}, so not before"
    return found


def _legs(
    option: model.Option,
    rows: tuple[model.Activity, ...],
    times: Mapping[str, ActualTimes],
    around: Surroundings,
) -> dict[str, LegTime]:
    """Return the legs by activity, worked for the start that the chain itself expects."""
    starts = {row.key: option.zero for row in rows}
    found: dict[str, LegTime] = {}
    alike: dict[str, LegTime] = {}  # flights and roads take as long whenever they start
    # First in a calm, for the starts; then in the sea that is expected when she is there.
    for circumstances in (replace(around, field=None), around):
        for row in rows:
            if row.leg and row.leg not in alike:
                found[row.key] = _leg(option, row, times, starts[row.key], circumstances)
                if found[row.key].mode != "sea":
                    alike[row.leg] = found[row.key]
            elif row.leg:
                found[row.key] = alike[row.leg]
        links = [_mean_link(option, row, rows, times, found) for row in rows]
        net = chain.network(links, f"option {option.title}")
        done = chain.run(net, level=np.zeros(1, dtype=np.int64))
        starts = {
            key: option.zero + timedelta(hours=float(done.start_h[place, 0]))
            for key, place in net.place.items()
        }
    return found


def _leg(
    option: model.Option,
    row: model.Activity,
    times: Mapping[str, ActualTimes],
    start: datetime,
    around: Surroundings,
) -> LegTime:
    leg = around.facts.last("leg", row.leg)
    if leg is None:
        raise InputError(f"no leg {row.leg!r} is entered", where=f"activity {row.key}")
    if option.backwards_of:
        leg = leg.model_copy(update={"points": leg.points[::-1], "ship": ""})
    known = times.get(row.key, ActualTimes())
    under_way = known.started_at is not None and known.finished_at is None
    return leg_time(leg, known.started_at or start, around, under_way)


def _three(row: model.Activity, leg: LegTime | None) -> tuple[float, float, float] | None:
    if leg is not None:
        return leg.hours * row.leg_least, leg.hours, leg.hours * row.leg_most
    if row.least_h is None or row.likely_h is None or row.most_h is None:
        return None
    return row.least_h, row.likely_h, row.most_h


def _link(
    option: model.Option,
    row: model.Activity,
    rows: tuple[model.Activity, ...],
    times: Mapping[str, ActualTimes],
    legs: Mapping[str, LegTime],
    series: SeaSeries | None,
    around: Surroundings,
) -> chain.Link:
    three = _three(row, legs.get(row.key))
    duration = np.zeros(DRAWS)
    if three is not None:
        duration = pert.draws_of(row.key, SEED, DRAWS, *three, row.cause)
    link = _bare_link(option, row, rows, times, legs, duration, around.facts)
    if three is not None and link.started_h is not None and link.finished_h is None:
        elapsed = hours_of(option, around.now) - link.started_h
        u = pert.of_cause(row.key, SEED, DRAWS, row.cause)
        left = pert.under_way_h(*three, elapsed, u)
        link = replace(link, duration_h=np.full(DRAWS, elapsed) if left is None else left)
    sea = sea_for(option, row, series, around)
    if sea is None:
        return link
    return replace(link, gate=gates.gate(sea, option.zero, limits_of(option, row, around.facts)))


def overdue_h(
    row: model.Activity, leg: LegTime | None, times: Mapping[str, ActualTimes], now: datetime
) -> float | None:
    """Return by how many hours something under way is past its longest time, else None."""
    known, three = times.get(row.key, ActualTimes()), _three(row, leg)
    if known.started_at is None or known.finished_at is not None or three is None:
        return None
    begun = known.started_at
    if leg is not None and leg.fix_at is not None:
        begun = max(begun, leg.fix_at)
    late = (now - begun).total_seconds() / S_PER_H - three[2]
    return late if late > 0.0 else None


def _mean_link(
    option: model.Option,
    row: model.Activity,
    rows: tuple[model.Activity, ...],
    times: Mapping[str, ActualTimes],
    legs: Mapping[str, LegTime],
) -> chain.Link:
    three = _three(row, legs.get(row.key))
    mean = 0.0 if three is None else pert.mean_h(*three)
    return _bare_link(option, row, rows, times, legs, np.array([mean]), None)


def _bare_link(
    option: model.Option,
    row: model.Activity,
    rows: tuple[model.Activity, ...],
    times: Mapping[str, ActualTimes],
    legs: Mapping[str, LegTime],
    duration_h: Floats,
    facts: Facts | None,
) -> chain.Link:
    mine = {other.key for other in rows}
    elsewhere = set(facts.names("activity")) if facts is not None else set(row.after)
    known = times.get(row.key, ActualTimes())
    leg = legs.get(row.key)
    started = known.started_at
    if started is not None and leg is not None and leg.fix_at is not None:
        started = max(started, leg.fix_at)  # what is left is reckoned from the fix
    return chain.Link(
        key=row.key,
        # A wait for an activity that only other options have is no wait here.
        after=tuple(key for key in row.after if key in mine or key not in elsewhere),
        duration_h=duration_h,
        resource=row.resource,
        capacity=row.capacity,
        priority=row.priority,
        not_before_h=None if row.not_before is None else hours_of(option, row.not_before),
        started_h=None if started is None else hours_of(option, started),
        finished_h=None if known.finished_at is None else hours_of(option, known.finished_at),
    )


def _plan(
    option: model.Option, rows: tuple[model.Activity, ...], around: Surroundings
) -> chain.ChainRun:
    """Return the chain as planned: its mean times, no window waited for, nothing begun."""
    legs = _legs(option, rows, {}, around)
    links = [_mean_link(option, row, rows, {}, legs) for row in rows]
    net = chain.network(links, f"option {option.title}")
    return chain.run(net, level=np.zeros(1, dtype=np.int64))


def _saved(
    net: chain.Network, last: int, level: Ints, now_h: float | None, share: Floats
) -> dict[int, float]:
    """Return by how many hours the end comes sooner for an hour less, per link worth trying."""
    few = chain.Network(
        links=tuple(replace(link, duration_h=link.duration_h[:SAVED_DRAWS]) for link in net.links),
        waits=net.waits,
        place=net.place,
    )
    levels = level[:SAVED_DRAWS]
    base = float(chain.run(few, level=levels, now_h=now_h).finish_h[last].mean())
    found = {}
    for place in np.flatnonzero(share > WORTH_TRYING).tolist():
        if few.links[place].finished_h is None:
            shorter = chain.run(few, level=levels, now_h=now_h, shorten=(place, 1.0))
            found[place] = base - float(shorter.finish_h[last].mean())
    return found


def _covers(series: SeaSeries | None, option: model.Option, hours: float) -> bool:
    """Return whether the sea is known as far as the end is likely to be."""
    if series is None or not series.waves_forecast:
        return False
    known = series.at_us[np.isfinite(series.hs_m)]
    return bool(len(known)) and hours_of(option, from_us(int(known[-1]))) >= hours
