"""Where other objects of search are now: escapees, a raft, a buoy, each drifting by itself."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime

import numpy as np
import numpy.typing as npt

from layers.datum.adrift.drift import Drifters, DriftField, draw_drifters, drift, sample_field
from layers.datum.adrift.leeway import Leeway, leeway_of
from layers.datum.containment import ellipse_95, grid_of, radius_holding
from layers.datum.evidence.plane import Plane
from layers.datum.evidence.searched import NotSeenTerm
from layers.datum.heaps import most_probable
from layers.datum.model import NegativeSearch, SearchObject, Sighting
from layers.datum.particles import systematic, weights
from layers.datum.prior import States
from layers.datum.result import Adrift
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.values import ConditionsField
from layers.journal.known import Entry

Floats = npt.NDArray[np.float64]
COUNT = 20_000
REACH_M = 90_000.0  # half side of the square the field is sampled on, about the start


@dataclass(slots=True, kw_only=True)
class _Flock:
    """Particles of one object on their way."""

    x_m: Floats
    y_m: Floats
    drifters: Drifters
    at_us: int
    released_us: npt.NDArray[np.int64] | None
    field: DriftField
    rng: np.random.Generator
    left: float = 1.0

    def go_to(self, at_us: int) -> None:
        if at_us > self.at_us:
            self.x_m, self.y_m = drift(
                self.field,
                self.x_m,
                self.y_m,
                self.at_us,
                at_us,
                self.drifters,
                self.rng,
                released_us=self.released_us,
            )
            self.at_us = at_us

    def update(self, likelihood: Floats) -> None:
        with np.errstate(divide="ignore"):
            rows = systematic(weights(np.log(likelihood)), len(self.x_m), self.rng)
        self.x_m, self.y_m = self.x_m[rows], self.y_m[rows]
        if self.released_us is not None:
            self.released_us = self.released_us[rows]
        self.drifters = Drifters(
            **{item.name: getattr(self.drifters, item.name)[rows] for item in fields(Drifters)}
        )


def adrift(
    entry: Entry,
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
    """Return where an object is expected at a time.

    It starts where it was first seen, or where and when it left the DISSUB, and drifts on; each
    later sighting and each search that saw nothing counts at its time.

    Raises
    ------
    InputError
        It was never seen and it is not said when it left; or its leeway is not known.
    """
    value: SearchObject = entry.value
    leeway = leeway_of(value.object_type, value.leeway_percent, 0.5, value.leeway_source)
    seen = sorted((s for s in sightings if s.record.valid_at <= at), key=_when)
    rng = np.random.default_rng(seed)
    flock, from_at = _started(value, seen, plane, states, weight, start, field, at, leeway, rng)
    place = plane.position(float(flock.x_m.mean()), float(flock.y_m.mean()))
    rests = [entry.id]
    events = sorted((e for e in (*seen[1:], *searches) if from_at <= _when(e) <= at), key=_when)
    for event in events:
        flock.go_to(to_us(_when(event)))
        rests.append(event.id)
        _count(event, flock, plane)
    flock.go_to(to_us(at))
    return _summed(value, flock, plane, leeway, place, from_at, at, [*rests, *(s.id for s in seen)])


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
) -> tuple[_Flock, datetime]:
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
    middle = float(x.mean()), float(y.mean())
    sampled = sample_field(field, plane, middle, 2.0 * REACH_M, to_us(from_at), to_us(at) + 1)
    drifters = draw_drifters(leeway, sampled, COUNT, rng)
    flock = _Flock(
        x_m=x,
        y_m=y,
        drifters=drifters,
        at_us=to_us(from_at),
        released_us=released,
        field=sampled,
        rng=rng,
    )
    return flock, from_at


def _count(event: Entry, flock: _Flock, plane: Plane) -> None:
    """Count a later sighting or a search that saw nothing."""
    if isinstance(event.value, Sighting):
        x0, y0 = plane.point(event.value.latitude_deg, event.value.longitude_deg)
        squared = ((flock.x_m - x0) ** 2 + (flock.y_m - y0) ** 2) / event.value.sigma_m**2
        wrong = max(event.value.chance_wrong, 1e-6)
        flock.update((1.0 - wrong) * np.exp(-0.5 * squared) + wrong * 1e-3)
    elif isinstance(event.value, NegativeSearch):
        lat = np.array([point.latitude_deg for point in event.value.waypoints])
        lon = np.array([point.longitude_deg for point in event.value.waypoints])
        x, y = plane.project(lat, lon)
        term = NotSeenTerm(
            x_m=x, y_m=y, sweep_width_m=event.value.sweep_width_m, curve=event.value.pod_curve
        )
        missed = term(States(flock.x_m, flock.y_m, flock.x_m))
        flock.left *= float(missed.mean())
        flock.update(missed)


def _summed(
    value: SearchObject,
    flock: _Flock,
    plane: Plane,
    leeway: Leeway,
    place: Position,
    from_at: datetime,
    at: datetime,
    rests: list[str],
) -> Adrift:
    equal = np.full(COUNT, 1.0 / COUNT)
    grid = grid_of(flock.x_m, flock.y_m, equal, across=40, smooth=1.0)
    centre = most_probable(grid)
    notes: tuple[str, ...] = ()
    if flock.field.unknown > 0.05:
        notes = (
            f"no wind or current is known for {flock.field.unknown:.0%} of the drift; "
            "still water with a wide error is assumed there",
        )
    return Adrift(
        name=value.name,
        object_type=value.object_type,
        persons=value.persons,
        still_sought=value.still_sought,
        position=plane.position(*centre),
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
    )
