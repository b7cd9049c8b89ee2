"""The parts of a whole sortie: what is done in which order, how long it takes, in what sea.

Launch, the way down, mating, transfer, the way up and recovery follow on each other, each with
the limits in force for it. Lengths of time are the vehicle's own where one is recorded (ninety of
a hundred sorties take no longer), else those that stand with the limits. Where two authorities
set limits for one part, the stricter of the two holds.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import reduce
from typing import Any

from layers.journal.known import Entry, Known
from layers.weather.model import Limit
from layers.weather.sea.windows import LIMITS

LIFT_LIMITS, VEHICLE = "survivors.lift_limits", "survivors.vehicle"  # kinds of another layer
NEEDED = ("launch", "dive", "mating", "recovery")  # without limits of these: not known
AT_SURFACE = ("launch", "recovery")
NINETY = 1.2816  # standard normal quantile of 0.9
MIN_PER_H = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SortiePart:
    """One part of a sortie, from when to when after its beginning, and the limit it keeps."""

    name: str
    from_h: float
    until_h: float
    limit: Limit


@dataclass(frozen=True, slots=True, kw_only=True)
class SortieWeather:
    """A whole sortie as it would be made now.

    ``missing`` names what must be entered before anything can be said of a whole sortie; the
    parts then are those that are known. ``whole_h`` is None where its length is not known.
    """

    parts: tuple[SortiePart, ...]
    whole_h: float | None
    notice_h: float
    timed_by: str
    missing: tuple[str, ...]
    rests_on: tuple[str, ...]


def sortie_of(
    known: Known, limits: Mapping[str, Entry], at: datetime, depth_m: float | None
) -> SortieWeather:
    """Return the sortie of the limits and the vehicle in force at a time."""
    lift_limits, vehicle = _newest(known, LIFT_LIMITS, at), _vehicle(known, at)
    held = {name: entry.value for name, entry in limits.items()}
    lifts = None if lift_limits is None else lift_limits.value
    merged = _merged(held, lifts)
    given = _given(held, lifts)
    missing = [f"limits of {name}" for name in NEEDED if name not in given]
    # a wind limit alone would let her be launched in any sea
    missing += [
        f"limit of Hs for {name}"
        for name in AT_SURFACE
        if name in given and given[name].hs_max_m is None
    ]
    depth = depth_m or (None if lifts is None else lifts.seat_depth_m)
    spans, timed_by, untimed = _spans(held, vehicle, depth)
    parts = tuple(
        SortiePart(name=name, from_h=begin, until_h=end, limit=merged[operation])
        for name, operation, begin, end in spans
        if operation in merged
    )
    whole = max((end for *_, end in spans), default=None) if not untimed else None
    if lifts is not None and lifts.recoverable_throughout and whole:
        parts += (SortiePart(name="recovery", from_h=0.0, until_h=whole, limit=merged["recovery"]),)
    rests = (*limits.values(), lift_limits, vehicle)
    return SortieWeather(
        parts=parts,
        whole_h=whole,
        notice_h=max((held[n].notice_h for n in ("launch",) if n in held), default=0.0),
        timed_by=timed_by,
        missing=(*missing, *untimed),
        rests_on=tuple(e.id for e in rests if e is not None),
    )


def _newest(known: Known, kind: str, at: datetime) -> Entry | None:
    if kind not in known.kinds:
        return None
    held = [e for e in known.entries(kind) if e.record.valid_at <= at]
    return max(held, key=lambda e: (e.adopted, e.record.valid_at, e.record.seq), default=None)


def _vehicle(known: Known, at: datetime) -> Entry | None:
    """Return the vehicle that is planned; of several the slowest, of each the newest record."""
    if VEHICLE not in known.kinds:
        return None
    newest: dict[str, Entry] = {}
    for entry in known.entries(VEHICLE):
        if entry.record.valid_at <= at:
            newest[entry.value.name] = entry
    planned = [e for e in newest.values() if e.value.planned]
    return max(planned, key=lambda e: (_ninety(e.value, 100.0)[0], e.value.name), default=None)


def _given(held: Mapping[str, Limit], lifts: Any) -> dict[str, Limit]:
    """Return the limits of each operation, the stricter of both where two are set."""
    found = dict(held)
    if lifts is not None:
        dark = {"daylight_only": lifts.daylight_only}
        given: dict[str, dict[str, Any]] = {
            "launch": {"hs_max_m": lifts.launch_hs_m},
            "recovery": {"hs_max_m": lifts.recovery_hs_m},
            "mating": {"current_seat_max_kn": lifts.mating_kn},
            "dive": {"current_surface_max_kn": lifts.through_water_kn},
        }
        for name, values in given.items():
            other = Limit.model_validate(
                {"operation": name, "duration_h": 0.1, "set_by": lifts.source, **dark, **values}
            )
            found[name] = stricter(found[name], other) if name in found else other
    return found


def _merged(held: Mapping[str, Limit], lifts: Any) -> dict[str, Limit]:
    """Return the limit of each part of a sortie.

    Limits of the dive hold all the time under water; the way through the water and the seat
    have their own besides.
    """
    given = _given(held, lifts)
    found: dict[str, Limit] = {n: given[n] for n in ("launch", "recovery") if n in given}
    for part, names in {
        "way": ("dive",),
        "way up": ("ascent", "dive"),
        "seat": ("mating",),
        "transfer": ("transfer", "mating"),
    }.items():
        here = [given[name] for name in names if name in given]
        if part in ("seat", "transfer") and here and "dive" in held:
            here.append(held["dive"])
        if here:
            found[part] = reduce(stricter, here)
    return found


def stricter(one: Limit, other: Limit) -> Limit:
    """Return a limit that keeps both, with the first one's operation and length of time."""
    values = one.model_dump()
    for _, _, field, greatest, _ in LIMITS:
        given = [v for v in (getattr(one, field), getattr(other, field)) if v is not None]
        values[field] = None if not given else (min(given) if greatest else max(given))
    values["daylight_only"] = one.daylight_only or other.daylight_only
    return Limit.model_validate(values)


KEEPS = {
    "launch": "launch",
    "dive": "way",
    "mating": "seat",
    "transfer": "transfer",
    "ascent": "way up",
    "recovery": "recovery",
}
Span = tuple[str, str, float, float]  # name, operation whose limits hold, from, until (h)


def _spans(
    held: Mapping[str, Limit], vehicle: Entry | None, depth_m: float | None
) -> tuple[list[Span], str, tuple[str, ...]]:
    """Return the parts one after another, what times them, and what is missing for it."""
    if vehicle is not None and depth_m is not None:
        return _in_turn(_ninety(vehicle.value, depth_m)[1]), vehicle.value.name, ()
    lengths = {name: limit.duration_h for name, limit in held.items()}
    absent = [name for name in ("launch", "dive", "recovery") if name not in lengths]
    if absent:
        first = [("launch", "launch", 0.0, lengths["launch"])] if "launch" in lengths else []
        what = f"how long {' and '.join(absent)} takes"
        if vehicle is not None:
            what = "depth of the seat (how long the way down and up takes)"
        return list(first), "", (what,)
    if "transfer" in lengths or "ascent" in lengths:
        order = [
            (name, KEEPS[name], lengths[name])
            for name in ("launch", "dive", "mating", "transfer", "ascent", "recovery")
            if name in lengths
        ]
        return _in_turn(order), "the limits", ()
    spans = _in_turn([(n, KEEPS[n], lengths[n]) for n in ("launch", "dive", "recovery")])
    if "mating" in lengths:  # somewhere in the dive: its middle, and never longer than the dive
        _, _, begin, end = spans[1]
        half = min(lengths["mating"], end - begin) / 2
        middle = (begin + end) / 2
        spans.insert(2, ("mating", "seat", middle - half, middle + half))
    return spans, "the limits", ()


def _in_turn(lengths: Iterable[tuple[str, str, float]]) -> list[Span]:
    spans, at = [], 0.0
    for name, operation, length in lengths:
        spans.append((name, operation, at, at + length))
        at += length
    return spans


def _ninety(vehicle: Any, depth_m: float) -> tuple[float, list[tuple[str, str, float]]]:
    """Return how long ninety of a hundred sorties take at most, hours, and its parts.

    Each part's time is a triangle of its three points, the parts independent; the sum is taken
    as normal, and what it takes beyond the most likely is spread over the parts alike.
    """
    down, up = depth_m / vehicle.speed_down_m_min, depth_m / vehicle.speed_up_m_min
    people = vehicle.seats
    each: list[tuple[str, str, tuple[float, float, float]]] = [
        ("launch", "launch", _points(vehicle.launch)),
        ("way down", "way", (down, down, down)),
        ("search", "way", _points(vehicle.search)),
        ("mating", "seat", _points(vehicle.mate)),
        ("transfer", "transfer", _points(vehicle.transfer_walking, people)),
        ("leaving the seat", "seat", _points(vehicle.away)),
        ("way up", "way up", (up, up, up)),
        ("recovery", "recovery", _points(vehicle.recover)),
    ]
    mean = sum(sum(points) / 3.0 for *_, points in each)
    # variance of a triangle (a, c, b): (a2 + b2 + c2 - ab - ac - bc) / 18
    variance = sum((a * a + b * b + c * c - a * b - a * c - b * c) / 18.0 for *_, (a, c, b) in each)
    likely = sum(points[1] for *_, points in each)
    whole = mean + NINETY * math.sqrt(variance)
    more = max(whole / likely, 1.0) if likely > 0.0 else 1.0
    parts = [(name, op, points[1] * more / MIN_PER_H) for name, op, points in each]
    return whole / MIN_PER_H, parts


def _points(spread: Any, times: int = 1) -> tuple[float, float, float]:
    return spread.low * times, spread.likely * times, spread.high * times
