"""One watch of one searcher: the pattern over a rectangle that finds most in the time he has."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from layers.datum.result import Ahead, Planned
from layers.datum.search.boxes import Box
from layers.datum.search.model import Searcher
from layers.datum.search.patterns import Code, Pattern, lanes, sector, square, sweeps
from layers.datum.search.ready import ReadySearcher
from layers.datum.search.steer import Way, missed_by, steered_pattern
from layers.earth.arrays import Floats
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.geodesy import WGS84
from layers.earth.plane import Plane
from layers.earth.position import Position
from layers.earth.units import M_S_PER_KN, S_PER_H

LEAST_H = 0.1
MOST_LANES = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """What is searched for: its name and where it may be from now on."""

    name: str
    ahead: Ahead
    plane: Plane


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """A searcher's time on one ground: from where and when, until when, and where he must be then.

    ``home`` is None where another watch follows: then nothing is kept for the way back.
    """

    ready: ReadySearcher
    place: Position
    starts: datetime
    until: datetime
    home: Position | None

    def on_scene(self, plane: Plane, box: Box) -> tuple[datetime, float]:
        """Return when he is in the middle of a rectangle, and for how many hours from then."""
        middle = plane.position(box.x_m, box.y_m)
        begins = self.starts + timedelta(hours=self.ready.way_h(self.place, middle))
        return begins, (self.leaves(middle) - begins).total_seconds() / S_PER_H

    def leaves(self, last: Position) -> datetime:
        """Return when he must leave a place to be where he must be in the end."""
        back = 0.0 if self.home is None else self.ready.way_h(last, self.home)
        return self.until - timedelta(hours=back)

    def way(self, plane: Plane, first_m: Floats, drift_m_s: tuple[float, float]) -> Way:
        """Return how he steers a pattern from its first corner, from when he can be there."""
        first = plane.position(float(first_m[0]), float(first_m[1]))
        begins = self.starts + timedelta(hours=self.ready.way_h(self.place, first))
        searcher, home = self.ready.searcher, self.home
        return Way(
            plane=plane,
            start=begins,
            hours=(self.until - begins).total_seconds() / S_PER_H,
            speed_kn=searcher.search_speed_kn,
            drift_m_s=drift_m_s,
            home_m=None if home is None else plane.point(home.latitude_deg, home.longitude_deg),
            transit_kn=searcher.transit_speed_kn,
        )

    def swept_m2(self, plane: Plane) -> Callable[[Floats, Floats], Floats]:
        """Return what he can sweep about places of the plane, both ways taken off his time."""
        ends = [plane.point(self.place.latitude_deg, self.place.longitude_deg)]
        if self.home is not None:
            ends.append(plane.point(self.home.latitude_deg, self.home.longitude_deg))
        whole_s = (self.until - self.starts).total_seconds()
        speed = self.ready.searcher.transit_speed_kn * M_S_PER_KN

        def swept(east_m: Floats, north_m: Floats) -> Floats:
            way = sum((np.hypot(east_m - x, north_m - y) for x, y in ends), np.zeros(len(east_m)))
            return np.maximum(whole_s - way / speed, 0.0) * self.ready.rate

        return swept


def best_pattern(
    sought: Sought, watch: Watch, box: Box, left: Floats
) -> tuple[Planned, Floats] | None:
    """Return the pattern over a box that finds most, and what it misses of each particle.

    None where the way there and back leaves no time.
    """
    searcher, ahead, plane = watch.ready.searcher, sought.ahead, sought.plane
    begins, hours = watch.on_scene(plane, box)
    if hours < LEAST_H:
        return None
    drift = _drift_m_s(ahead, begins, hours)
    # the box was chosen for the middle of the hours: laid back to where it lies at the start
    half_s = hours * S_PER_H / 2.0
    start_box = Box(
        box.x_m - drift[0] * half_s, box.y_m - drift[1] * half_s, box.length_m, box.width_m,
        box.turn_rad,
    )  # fmt: skip
    track = hours * S_PER_H * searcher.search_speed_kn * M_S_PER_KN
    place = np.array(plane.point(watch.place.latitude_deg, watch.place.longitude_deg))
    tried: list[tuple[float, Pattern, Floats, float, float]] = []
    for code, shape, flags, spacing in _shapes(box, track, searcher):
        corners = _nearest_first(start_box.placed(shape), place, code)
        try:
            first_way = watch.way(plane, corners[0], drift)
            # he is at the first corner before or after he would be in the middle: so far it drifts
            off_s = (first_way.start - begins).total_seconds()
            corners = corners + np.array(drift) * off_s
            way = watch.way(plane, corners[0], drift)
            pattern = steered_pattern(code, corners, flags, way, searcher.name, spacing)
        except InputError:
            return None
        if pattern is None:
            continue
        gone = missed_by(pattern, plane, ahead, searcher.sweep_width_m)
        tried.append((float((left * (1.0 - gone)).mean()), pattern, gone, spacing, off_s))
    if not tried:
        return None
    tried.sort(key=lambda item: -item[0])
    pos, pattern, gone, spacing, off_s = tried[0]
    best_of: dict[str, float] = {}
    for worth, other, *_ in tried:
        best_of.setdefault(other.title, worth)
    first, last = pattern.turns[0], pattern.turns[-1]
    there = timedelta(hours=watch.ready.way_h(watch.place, first.position))
    east, north_m = drift[0] * off_s, drift[1] * off_s
    middle = plane.position(start_box.x_m + east, start_box.y_m + north_m)
    north = plane.convergence_deg(middle.latitude_deg, middle.longitude_deg)
    outline = tuple(
        plane.position(float(x) + east, float(y) + north_m) for x, y in start_box.corners
    )
    return (
        Planned(
            searcher=searcher,
            pattern=pattern,
            leaves_for_it=first.at - there,
            begins=first.at,
            ends=last.at,
            must_leave=max(watch.leaves(last.position), last.at),
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
            record=watch.ready.record,
            starts_from=watch.place,
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
    box: Box, track_m: float, searcher: Searcher
) -> list[tuple[Code, Floats, list[bool], float]]:
    """Return the shapes to try over a box, each as long as the track: spacing fills the hours.

    What is towed gets lanes with turns of its radius only: it can follow no corner.
    """
    found: list[tuple[Code, Floats, list[bool], float]] = []
    sweep_width_m = searcher.sweep_width_m
    if searcher.turn_radius_m is not None:
        return _lanes(box, track_m, searcher)
    for code, length, width in (
        ("PS", box.length_m, box.width_m),
        ("CS", box.width_m, box.length_m),
    ):
        spacing = width / _tracks(length, width, track_m)
        points = _and_between(sweeps(length, width, spacing)[0], spacing)
        points = points if code == "PS" else points[:, ::-1]
        along = [True] * (len(points) - 1)
        found.append((code, points, along, spacing))  # type: ignore[arg-type]  # an array of pairs
    for part in (0.6, 1.0, 1.5):
        spacing = part * sweep_width_m
        side = max(float(np.sqrt(track_m * spacing)), 2.0 * spacing)
        points = _and_turned(square(side, spacing)[0], 45.0)
        found.append(("SS", points, [True] * (len(points) - 1), spacing))
    for part in (0.6, 1.0):
        points = _and_turned(sector(part * track_m / 9.0)[0], 30.0)
        found.append(("VS", points, [True] * (len(points) - 1), 0.0))
    return found


def _and_between(points: Floats, spacing_m: float) -> Floats:
    """Return parallel tracks, and the way back between them for the time that is left over."""
    back = points[::-1].copy()
    back[:, 1] -= 0.5 * spacing_m * np.sign(points[-1, 1] - points[0, 1] or 1.0)
    return np.concatenate([points, back])


def _and_turned(points: Floats, by_deg: float) -> Floats:
    """Return a shape, and the same again turned, for the time that is left over."""
    sin, cos = np.sin(np.radians(by_deg)), np.cos(np.radians(by_deg))
    return np.concatenate([points, points @ np.array([[cos, sin], [-sin, cos]])])


def _lanes(
    box: Box, track_m: float, searcher: Searcher
) -> list[tuple[Code, Floats, list[bool], float]]:
    """Return the most lanes over a box, along and across it, that the track is long enough for."""
    found: list[tuple[Code, Floats, list[bool], float]] = []
    for length, width, across in (
        (box.length_m, box.width_m, False),
        (box.width_m, box.length_m, True),
    ):
        best: tuple[Floats, list[bool], float] | None = None
        for count in range(1, MOST_LANES):
            spacing = width / count
            try:
                points, flags = lanes(
                    length, width, spacing, searcher.turn_radius_m or 0.0, searcher.run_in_m
                )
            except InputError:
                continue
            if np.hypot(*np.diff(points, axis=0).T).sum() > track_m and best is not None:
                break
            best = points, flags, spacing
        if best is not None:
            points, flags, spacing = best
            found.append(("lanes", points[:, ::-1] if across else points, flags, spacing))
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


def _nearest_first(corners: Floats, place: Floats, code: Code) -> Floats:
    """Return a shape begun at the end that lies nearer to the searcher."""
    if code not in ("PS", "CS"):
        return corners
    ends = np.hypot(*(corners[0] - place)), np.hypot(*(corners[-1] - place))
    return corners if ends[0] <= ends[1] else corners[::-1].copy()


def _creep_deg(pattern: Pattern) -> float | None:
    """Return the direction in which the tracks of a pattern follow each other, degrees true."""
    if pattern.code not in ("PS", "CS") or len(pattern.turns) < 4:
        return None
    a, b = pattern.turns[1].position, pattern.turns[2].position
    towards = WGS84.inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)[0]
    return float(towards) % 360.0
