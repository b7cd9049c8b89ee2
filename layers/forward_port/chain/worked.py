"""A chain's draws as times that can be said: each activity, each spread."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import from_us, to_us
from layers.earth.units import S_PER_H
from layers.forward_port import model
from layers.forward_port.chain import chain
from layers.forward_port.chain.activities import ActualTimes
from layers.forward_port.legs.legs import LegTime, Surroundings
from layers.forward_port.result import ActivityForecast, Spread

US_PER_H = 3_600_000_000


def activity_of(
    option: model.Option,
    row: model.Activity,
    net: chain.Network,
    done: chain.ChainRun,
    plan: chain.ChainRun,
    times: Mapping[str, ActualTimes],
    legs: Mapping[str, LegTime],
    around: Surroundings,
    share: Floats,
    waits: np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
    saved: Mapping[int, float],
    doubt: str,
) -> ActivityForecast:
    """Return one activity as worked: its times, its slack, what holds it."""
    place = net.place[row.key]
    planned = plan.network.place[row.key]
    known = times.get(row.key, ActualTimes())
    clearance = around.facts.last("clearance", row.key)
    over = known.finished_at is not None
    return ActivityForecast(
        key=row.key,
        title=row.title,
        resource=row.resource,
        known=_has_time(row, times),
        doubt=doubt,
        planned_start=time_of(option, float(plan.start_h[planned, 0])),
        planned_finish=time_of(option, float(plan.finish_h[planned, 0])),
        start=spread_of(option, done.start_h[place]),
        finish=spread_of(option, done.finish_h[place]),
        started_at=known.started_at,
        finished_at=known.finished_at,
        critical=0.0 if over else float(share[place]),
        waits_for_window=0.0 if over else float(waits[place].mean()),
        saves_h=saved.get(place, 0.0),
        leg=legs.get(row.key),
        clearance="" if clearance is None else f"{clearance.state} ({clearance.by})",
        record_id=around.facts.source(row),
    )


def _has_time(row: model.Activity, times: Mapping[str, ActualTimes]) -> bool:
    return (
        bool(row.leg)
        or row.likely_h is not None
        or times.get(row.key, ActualTimes()).finished_at is not None
    )


def named(option: model.Option, done: chain.ChainRun, key: str) -> Spread | None:
    """Return the spread of the finish of the activity with this key, None without it."""
    place = done.network.place.get(key)
    return None if place is None else spread_of(option, done.finish_h[place])


def spread_of(option: model.Option, hours: Floats) -> Spread:
    """Return P10, P50 and P90 of hours after zero as times."""
    places = [int(share * (len(hours) - 1)) for share in (0.10, 0.50, 0.90)]
    low, middle, high = np.partition(hours, places)[places].tolist()
    return Spread(p10=time_of(option, low), p50=time_of(option, middle), p90=time_of(option, high))


def draws_us(option: model.Option, done: chain.ChainRun, place: int) -> Ints:
    """Return the draws of a finish, microseconds since 1970."""
    draws: Ints = np.rint(done.finish_h[place] * US_PER_H).astype(np.int64)
    draws += to_us(option.zero)
    return draws


def time_of(option: model.Option, hours: float) -> datetime:
    """Return hours after zero as a time."""
    return from_us(to_us(option.zero) + round(hours * US_PER_H))


def hours_of(option: model.Option, at: datetime) -> float:
    """Return a time as hours after zero."""
    return (at - option.zero).total_seconds() / S_PER_H
