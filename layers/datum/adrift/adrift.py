"""Where other objects of search are now: escapees, a raft, a buoy, each drifting by itself."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import numpy as np
import numpy.typing as npt

from layers.datum.adrift.drift import draw_drifters
from layers.datum.adrift.flock import Flock
from layers.datum.adrift.leeway import Leeway, leeway_of
from layers.datum.adrift.looked import AREA_STEPS, AreaLook, LookedLeg, legs_of, missed, swept
from layers.datum.adrift.objects import ToldObject
from layers.datum.before.prior import States
from layers.datum.model import Sighting
from layers.datum.probability.containment import ellipse_95, grid_of, radius_holding
from layers.datum.probability.heaps import most_probable
from layers.datum.probability.particles import systematic
from layers.datum.result import Adrift, Ahead
from layers.datum.search.model import NegativeSearch, SearchObject
from layers.earth.arrays import Floats
from layers.earth.clock import day_hhmm, to_us
from layers.earth.errors import InputError
from layers.earth.plane import Plane
from layers.earth.position import Position
from layers.earth.values import ConditionsField
from layers.journal.known import Entry

COUNT = 20_000
AHEAD_H, AHEAD_COUNT = 16, 2_000  # where it will be: so many hours on, for so many particles


def adrift(
    sought: ToldObject,
    sightings: list[Entry],
    searches: list[Entry],
    plane: Plane,
    states: States,
    weight: Floats,
    start: datetime,
    field: ConditionsField | None,
    at: datetime,
    seed: int,
) -> Adrift:
    """Return where an object is expected at a time, or where it was found.

    It starts where it was first seen, or where and when it left the DISSUB, and drifts on; each
    later sighting and each search that saw nothing counts at its time.

    Raises
    ------
    InputError
        It was never seen and it is not said when it left; or its leeway is not known.
    """
    entry = sought.entry
    value: SearchObject = entry.value
    if sought.found is not None and sought.found.value.all_of_it:
        at = min(at, sought.found.record.valid_at)  # it drifts no further
    leeway = leeway_of(value.object_type, value.leeway_percent, 0.5, value.leeway_source)
    seen = sorted((s for s in sightings if s.record.valid_at <= at), key=_when)
    rng = np.random.default_rng(seed)
    flock, from_at = _started(value, seen, plane, states, weight, start, field, at, leeway, rng)
    place = plane.position(float(flock.x_m.mean()), float(flock.y_m.mean()))
    rests = [entry.id, *(s.id for s in seen)]
    counted = [s for s in searches if from_at <= _when(s) <= at]
    for _, _, act in sorted(
        [
            *_sightings(seen[1:], from_at, flock),
            *(step for s in counted for step in _looks(s, flock)),
        ],
        key=lambda step: step[:2],
    ):
        act()
    rests += [s.id for s in counted]
    flock.go_to(to_us(at))
    said = [each for each in (sought.found, sought.suspended) if each is not None]
    rests += [each.id for each in said]
    return _summed(sought, flock, plane, leeway, place, from_at, at, rests)


Step = tuple[int, int, Callable[[], None]]  # when, in which order at one time, what


def _when(entry: Entry) -> datetime:
    return entry.record.valid_at


def _started(
    value: SearchObject,
    seen: list[Entry],
    plane: Plane,
    states: States,
    weight: Floats,
    start: datetime,
    field: ConditionsField | None,
    at: datetime,
    leeway: Leeway,
    rng: np.random.Generator,
) -> tuple[Flock, datetime]:
    """Return the particles at the object's first sighting, or as it left the DISSUB."""
    released: npt.NDArray[np.int64] | None = None
    if seen:
        first: Sighting = seen[0].value
        from_at = _when(seen[0])
        x0, y0 = plane.point(first.latitude_deg, first.longitude_deg)
        x = x0 + first.sigma_m * rng.standard_normal(COUNT)
        y = y0 + first.sigma_m * rng.standard_normal(COUNT)
    elif value.left_dissub_from is not None:
        from_at = value.left_dissub_from
        if from_at > at:
            raise InputError(f"{value.name} had not left her at the time shown")
        rows = systematic(weight, COUNT, rng)
        x, y, lost = states.x_m[rows], states.y_m[rows], states.lost_s[rows]
        low, high = to_us(from_at), to_us(value.left_dissub_to or from_at)
        drawn = low + rng.random(COUNT) * max(high - low, 0)
        released = np.maximum(drawn, to_us(start) + lost * 1e6).astype(np.int64)
    else:
        raise InputError(
            f"{value.name} has never been seen and it is not said when it left her",
            accepted="a sighting of it, or left_dissub_from",
        )
    flock = Flock(
        x_m=x,
        y_m=y,
        drifters=draw_drifters(leeway, COUNT, rng),
        at_us=to_us(from_at),
        began_us=to_us(from_at),
        released_us=released,
        plane=plane,
        conditions=field,
        rng=rng,
    )
    return flock, from_at


def _sightings(seen: list[Entry], from_at: datetime, flock: Flock) -> list[Step]:
    """Return the later sightings as steps of the drift."""

    def counted(entry: Entry) -> Callable[[], None]:
        def act() -> None:
            flock.go_to(to_us(_when(entry)))
            x0, y0 = flock.plane.point(entry.value.latitude_deg, entry.value.longitude_deg)
            squared = ((flock.x_m - x0) ** 2 + (flock.y_m - y0) ** 2) / entry.value.sigma_m**2
            wrong = max(entry.value.chance_wrong, 1e-6)
            flock.update((1.0 - wrong) * np.exp(-0.5 * squared) + wrong * 1e-3)

        return act

    return [(to_us(_when(s)), 2, counted(s)) for s in seen if _when(s) >= from_at]


def _looks(entry: Entry, flock: Flock) -> list[Step]:
    """Return a search that saw nothing as steps: each leg while it was steered, then its end."""
    value: NegativeSearch = entry.value
    key, end_us = entry.id, to_us(_when(entry))
    steps: list[Step] = []

    def begin() -> None:
        flock.anchors[key] = flock.x_m.copy(), flock.y_m.copy()

    def steered(leg: LookedLeg) -> Callable[[], None]:
        def act() -> None:
            flock.go_to(leg.end_us)
            # what began before the object was adrift counts from where it came adrift
            before = flock.anchors.get(key, (flock.x_m, flock.y_m))
            add(swept(leg, before, (flock.x_m, flock.y_m), value.sweep_width_m, value.pod_curve))
            begin()

        return act

    def looked(look: AreaLook, at_us: int) -> Callable[[], None]:
        def act() -> None:
            flock.go_to(at_us)
            add(look.swept(flock.x_m, flock.y_m))

        return act

    def add(more: Floats) -> None:
        flock.exponents[key] = flock.exponents.get(key, np.zeros(len(flock.x_m))) + more

    def ended() -> None:
        flock.go_to(end_us)
        gone = missed(flock.exponents.pop(key, np.zeros(len(flock.x_m))))
        flock.anchors.pop(key, None)
        flock.left *= float(gone.mean())
        flock.update(gone)

    def first(at_us: int) -> Callable[[], None]:
        def act() -> None:
            flock.go_to(at_us)
            begin()

        return act

    if value.waypoints:
        legs = [leg for leg in legs_of(value, end_us, flock.plane) if leg.end_us >= flock.at_us]
        if legs:
            begun = max(legs[0].begin_us, flock.at_us)
            steps.append((begun, 0, first(begun)))
        steps += [(leg.end_us, 1, steered(leg)) for leg in legs]
    else:
        look = AreaLook(value=value, plane=flock.plane, share=1.0 / AREA_STEPS)
        times = np.linspace(to_us(value.started_at), end_us, AREA_STEPS).astype(np.int64)
        steps += [(int(t), 1, looked(look, int(t))) for t in times if t >= flock.at_us]
    return [*steps, (end_us, 3, ended)]


def _summed(
    sought: ToldObject,
    flock: Flock,
    plane: Plane,
    leeway: Leeway,
    place: Position,
    from_at: datetime,
    at: datetime,
    rests: list[str],
) -> Adrift:
    value: SearchObject = sought.entry.value
    equal = np.full(COUNT, 1.0 / COUNT)
    grid = grid_of(flock.x_m, flock.y_m, equal, across=40, smooth=1.0)
    centre = most_probable(grid)
    notes: tuple[str, ...] = ()
    if lacks := flock.unknown_words:
        still = (
            "calm"
            if "current" not in lacks
            else "still water"
            if "wind" not in lacks
            else ("still water and calm")
        )
        notes = (f"drift: {lacks}; {still} with a wide error is assumed there",)
    return Adrift(
        name=value.name,
        object_type=value.object_type,
        persons=value.persons,
        still_sought=sought.still_sought,
        state=state_words(sought),
        given_up=sought.suspended is not None and not sought.still_sought,
        found_at=_found_place(sought),
        position=_found_place(sought) or plane.position(*centre),
        radius_95_m=radius_holding(flock.x_m, flock.y_m, equal, centre),
        ellipse=ellipse_95(flock.x_m, flock.y_m, equal),
        grid=grid,
        from_place=place,
        from_at=from_at,
        at=at,
        leeway_words=(
            f"{leeway.slope:.1%} of the wind {leeway.offset_kn:+.2f} kn, up to "
            f"{leeway.divergence_deg:.0f}° off down-wind ({leeway.source}; {leeway.mark})"
        ),
        rests_on=tuple(dict.fromkeys(rests)),
        notes=notes,
        still_there=flock.left,
        ahead=_ahead(flock),  # last: it drifts on
    )


def _found_place(sought: ToldObject) -> Position | None:
    found = sought.found.value if sought.found is not None else None
    if found is None or not found.all_of_it or found.latitude_deg is None:
        return None
    return Position(found.latitude_deg, found.longitude_deg)


def state_words(sought: ToldObject) -> str:
    """Return how an object stands: sought, found by whom, or given up for now by whom."""
    found, stopped = sought.found, sought.suspended
    said = []
    if found is not None:
        value = found.value
        rest = "" if value.all_of_it else ", the rest still sought"
        dead = f", {value.dead} dead" if value.dead else ""
        said.append(f"found {day_hhmm(found.record.valid_at)} by {value.by}: {value.alive} alive"
                    f"{dead}{rest}")  # fmt: skip
    if stopped is not None:
        value = stopped.value
        why = f": {value.reason}" if value.reason else ""
        said.append(f"search suspended {day_hhmm(stopped.record.valid_at)} by {value.by}{why}")
    if not said:
        said.append("still sought" if sought.still_sought else "no longer sought")
    return "; ".join(said)


def _ahead(flock: Flock) -> Ahead:
    """Return where a part of the particles will be, hour by hour, for planning a search."""
    step = max(len(flock.x_m) // AHEAD_COUNT, 1)
    flock.keep(np.arange(0, len(flock.x_m), step))
    times, xs, ys = [flock.at_us], [flock.x_m], [flock.y_m]
    for _ in range(AHEAD_H):
        flock.go_to(flock.at_us + 3_600_000_000)
        times.append(flock.at_us)
        xs.append(flock.x_m)
        ys.append(flock.y_m)
    return Ahead(
        at_us=tuple(times),
        x_m=np.stack(xs).astype(np.float32),
        y_m=np.stack(ys).astype(np.float32),
    )
