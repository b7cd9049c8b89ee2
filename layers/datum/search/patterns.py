"""Search patterns that a ship can steer, as waypoints with times.

Codes as in IAMSAR vol II: PS parallel sweep, CS creeping line, SS expanding square, VS sector,
TS track line. Lanes for a towed or hull sonar are parallel tracks with a turn of stated radius
and a run-in before each lane. Shapes are laid out on the plane and given as WGS 84 positions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Literal

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.errors import InputError
from layers.earth.geodesy import WGS84
from layers.earth.plane import Plane
from layers.earth.position import Position
from layers.earth.said.quantity import figure
from layers.earth.shore.land import Land
from layers.earth.units import M_PER_NMI, M_S_PER_KN

Code = Literal["PS", "CS", "SS", "VS", "TS", "lanes"]
TITLES: dict[Code, str] = {
    "PS": "parallel sweep",
    "CS": "creeping line",
    "SS": "expanding square",
    "VS": "sector",
    "TS": "track line",
    "lanes": "sonar lanes with turns",
}
MOST_LEGS = 2_000


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternTurn:
    """One corner of a pattern with the time it is reached."""

    name: str
    position: Position
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """A pattern to be steered.

    ``searching`` says for each leg whether it counts as search (lanes have turns between).
    """

    code: Code
    searcher: str
    turns: tuple[PatternTurn, ...]
    searching: tuple[bool, ...]
    spacing_m: float
    speed_kn: float

    @property
    def title(self) -> str:
        """What it is called."""
        return f"{TITLES[self.code]} ({self.code})" if self.code != "lanes" else TITLES["lanes"]

    @property
    def track_m(self) -> float:
        """Length of the legs that search, metres."""
        return sum(
            length
            for length, counts in zip(self.lengths_m(), self.searching, strict=True)
            if counts
        )

    def lengths_m(self) -> list[float]:
        """Return the length of every leg on the ellipsoid."""
        return [
            float(
                WGS84.inv(
                    a.position.longitude_deg,
                    a.position.latitude_deg,
                    b.position.longitude_deg,
                    b.position.latitude_deg,
                )[2]
            )
            for a, b in pairwise(self.turns)
        ]


def pattern(
    code: Code,
    *,
    plane: Plane,
    middle: Position,
    length_m: float,
    width_m: float,
    bearing_true_deg: float,
    spacing_m: float,
    speed_kn: float,
    start: datetime,
    searcher: str,
    turn_radius_m: float = 0.0,
    run_in_m: float = 0.0,
    track: Sequence[Position] = (),
) -> Pattern:
    """Return a pattern over a rectangle about a middle.

    Parameters
    ----------
    length_m, width_m : float
        Of the rectangle; the length lies along ``bearing_true_deg``. Parallel sweep steers
        along the length, creeping line across it; square and sector take the shorter half.
    spacing_m : float
        Between tracks; for a sector search it sets the number of sectors only.
    turn_radius_m, run_in_m : float
        For sonar lanes.
    track : sequence of Position
        For a track line: the intended track, searched along and back one spacing to the side.

    Raises
    ------
    InputError
        A size or speed that is not more than 0, or more than 2,000 legs.
    """
    for name, value in (("spacing", spacing_m), ("speed", speed_kn), ("length", length_m),
                        ("width", width_m)):  # fmt: skip
        if not (np.isfinite(value) and value > 0.0):
            raise InputError(f"a {name} of {value:g}", where="pattern", accepted="more than 0")
    if max(length_m, width_m) / spacing_m > MOST_LEGS:
        raise InputError(
            f"tracks {figure(spacing_m, 0)} m apart over "
            f"{figure(max(length_m, width_m) / M_PER_NMI, 1)} nmi make "
            f"more than {figure(MOST_LEGS, 0)} legs",
            where="pattern",
            accepted="a wider spacing or a smaller area",
        )
    if code == "TS":
        x, y = _track_line(plane, track, spacing_m)
        flags = [True] * (len(x) - 1)
    else:
        shape: tuple[Floats, list[bool]] = {
            "PS": lambda: sweeps(length_m, width_m, spacing_m),
            "CS": lambda: creeping(length_m, width_m, spacing_m),
            "SS": lambda: square(min(length_m, width_m), spacing_m),
            "VS": lambda: sector(min(length_m, width_m) / 2.0),
            "lanes": lambda: lanes(length_m, width_m, spacing_m, turn_radius_m, run_in_m),
        }[code]()
        points, flags = shape
        x, y = _placed(points, plane, middle, bearing_true_deg)
    lat, lon = plane.unproject(x, y)
    places = [Position(float(a), float(o)) for a, o in zip(lat, lon, strict=True)]
    return Pattern(
        code=code,
        searcher=searcher,
        turns=_timed(places, start, speed_kn),
        searching=tuple(flags),
        spacing_m=spacing_m,
        speed_kn=speed_kn,
    )


def _placed(
    points: Floats, plane: Plane, middle: Position, bearing_true_deg: float
) -> tuple[Floats, Floats]:
    """Return points given as (along, right of) about a middle on the plane."""
    x0, y0 = plane.point(middle.latitude_deg, middle.longitude_deg)
    turned = plane.convergence_deg(middle.latitude_deg, middle.longitude_deg)
    turn = np.radians(bearing_true_deg + turned)
    sin, cos = np.sin(turn), np.cos(turn)
    along, right = points[:, 0], points[:, 1]
    return x0 + along * sin + right * cos, y0 + along * cos - right * sin


def _timed(places: Sequence[Position], start: datetime, speed_kn: float) -> tuple[PatternTurn, ...]:
    speed, at = speed_kn * M_S_PER_KN, start
    turns = [PatternTurn(name="1", position=places[0], at=at)]
    for number, (a, b) in enumerate(pairwise(places), start=2):
        metres = WGS84.inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)[2]
        at = at + timedelta(seconds=float(metres) / speed)
        turns.append(PatternTurn(name=str(number), position=b, at=at))
    return tuple(turns)


def _offsets(width_m: float, spacing_m: float) -> Floats:
    """Return track offsets: spread evenly, the outer ones half a step inside the edge.

    The step is the spacing, or a little less, so that the tracks fill the width.
    """
    tracks = max(int(np.ceil(width_m / spacing_m - 1e-9)), 1)
    step = width_m / tracks
    return np.asarray((np.arange(tracks) - (tracks - 1) / 2.0) * step, dtype=np.float64)


def sweeps(length_m: float, width_m: float, spacing_m: float) -> tuple[Floats, list[bool]]:
    """Return parallel tracks along the length, (along, right of) the middle."""
    half = max(length_m / 2.0 - spacing_m / 2.0, spacing_m / 2.0)
    points: list[tuple[float, float]] = []
    for number, off in enumerate(_offsets(width_m, spacing_m)):
        ends = (-half, half) if number % 2 == 0 else (half, -half)
        points += [(ends[0], float(off)), (ends[1], float(off))]
    return np.array(points), [True] * (len(points) - 1)


def creeping(length_m: float, width_m: float, spacing_m: float) -> tuple[Floats, list[bool]]:
    """Return parallel tracks across the length, creeping along it."""
    points, flags = sweeps(width_m, length_m, spacing_m)
    return np.column_stack([points[:, 1], points[:, 0]]), flags


def square(side_m: float, spacing_m: float) -> tuple[Floats, list[bool]]:
    """Return an expanding square: legs of 1, 1, 2, 2, 3, 3 … spacings, turning right."""
    points, here, turn, leg = [(0.0, 0.0)], np.zeros(2), 0, 1
    heads = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])
    while np.abs(here).max() < side_m / 2.0 - spacing_m / 2.0 or leg < 3:
        here = here + heads[turn % 4] * spacing_m * ((leg + 1) // 2)
        points.append((float(here[0]), float(here[1])))
        turn, leg = turn + 1, leg + 1
    return np.array(points), [True] * (len(points) - 1)


def sector(radius_m: float) -> tuple[Floats, list[bool]]:
    """Return a sector search: nine legs of one radius, every turn 120° to the right.

    After each chord the ship comes back through the middle and goes straight on.
    """
    points = [(0.0, 0.0)]
    for start in (0.0, 240.0, 120.0):
        for turn in (start, start + 60.0):
            angle = np.radians(turn)
            points.append((float(radius_m * np.cos(angle)), float(radius_m * np.sin(angle))))
        points.append((0.0, 0.0))
    return np.array(points), [True] * (len(points) - 1)


def lanes(
    length_m: float, width_m: float, spacing_m: float, radius_m: float, run_in_m: float
) -> tuple[Floats, list[bool]]:
    """Return lanes joined by turns of at least the radius: near lanes are steered far apart."""
    offs = _offsets(width_m, spacing_m)
    order = lane_order(len(offs), max(int(np.ceil(2.0 * radius_m / spacing_m)), 1))
    half = length_m / 2.0
    points: list[tuple[float, float]] = []
    for number, lane in enumerate(order):
        off, sign = float(offs[lane]), 1.0 if number % 2 == 0 else -1.0
        if number:
            points += _half_turn(-sign * half, float(offs[order[number - 1]]), off, radius_m,
                                 run_in_m)  # fmt: skip
        if run_in_m > 0.0:
            points.append((-sign * (half + run_in_m), off))
        points += [(-sign * half, off), (sign * half, off)]
    kept = np.array(points)
    moved = np.concatenate(([True], np.abs(np.diff(kept, axis=0)).max(axis=1) > 0.5))
    return kept[moved], _lane_flags(kept[moved], half)


def lane_order(count: int, skip: int) -> list[int]:
    """Return the order of lanes in which each lies at least ``skip`` lanes from the one before.

    In a block of ``m >= 2 skip`` lanes the lower and the upper half, both from the top down, are
    taken by turns: the steps are ``m // 2`` and one more.

    Raises
    ------
    InputError
        Too few lanes to turn between them.
    """
    if count > 1 and count < 2 * skip and skip > 1:
        raise InputError(
            f"{count} lanes are too few to turn between: the turn needs {skip} lanes' width",
            where="pattern",
            accepted=f"at least {2 * skip} lanes, a smaller turning radius, or one lane",
        )
    order: list[int] = []
    for block in np.array_split(np.arange(count), max(count // (2 * skip), 1)):
        middle = (len(block) + 1) // 2
        lower, upper = block[:middle][::-1], block[middle:][::-1]
        for place in range(middle):
            order.append(int(lower[place]))
            order += [int(upper[place])] if place < len(upper) else []
    return order if skip > 1 else list(range(count))


def _lane_flags(points: Floats, half: float) -> list[bool]:
    """Return which legs run along a lane from end to end."""
    return [
        bool(abs(a[1] - b[1]) < 1e-6 and abs(abs(a[0]) - half) < 1e-6 and abs(a[0] + b[0]) < 1e-6)
        for a, b in pairwise(points)
    ]


def _half_turn(
    end: float, from_off: float, to_off: float, radius_m: float, run_in_m: float
) -> list[tuple[float, float]]:
    """Return the points of a turn beyond the end of a lane: a quarter circle, a straight, another.

    What is towed follows a circle of the radius asked for, not a flat half ellipse. Steps of 30
    degrees; the corners lie on the circle.
    """
    if radius_m <= 0.0:
        return []
    sign = 1.0 if end > 0.0 else -1.0
    across = to_off - from_off
    side = 1.0 if across > 0.0 else -1.0
    # lanes nearer than two radii are not steered one after the other (lane_order)
    radius = min(radius_m, abs(across) / 2.0)
    start = end + sign * run_in_m
    turns = np.radians(np.arange(0.0, 91.0, 30.0))
    out = [
        (
            float(start + sign * radius * np.sin(t)),
            float(from_off + side * radius * (1 - np.cos(t))),
        )
        for t in turns
    ]
    back = [
        (
            float(start + sign * radius * np.cos(t)),
            float(to_off - side * radius * (1.0 - np.sin(t))),
        )
        for t in turns
    ]
    return out + back


def _track_line(plane: Plane, track: Sequence[Position], spacing_m: float) -> tuple[Floats, Floats]:
    """Return a search out along one side of a track and back along the other."""
    if len(track) < 2:
        raise InputError(
            "a track line search needs the track", where="pattern", accepted="two places or more"
        )
    x, y = plane.project(
        np.array([place.latitude_deg for place in track]),
        np.array([place.longitude_deg for place in track]),
    )
    dx, dy = np.gradient(x), np.gradient(y)
    length = np.hypot(dx, dy)
    right_x, right_y = dy / length * spacing_m / 2.0, -dx / length * spacing_m / 2.0
    out_x, out_y = x - right_x, y - right_y
    back_x, back_y = (x + right_x)[::-1], (y + right_y)[::-1]
    return np.concatenate([out_x, back_x]), np.concatenate([out_y, back_y])


def keep_off_land(found: Pattern, land: Land) -> str:
    """Return a warning when the coastline is not at hand, else nothing.

    Raises
    ------
    InputError
        A leg comes on land: which one, where.
    """
    if not land.ready():
        return "The coastline is not cut yet: no leg was checked against land."
    for number, (a, b) in enumerate(pairwise(found.turns), start=1):
        hit = land.crosses(
            [a.position.latitude_deg, b.position.latitude_deg],
            [a.position.longitude_deg, b.position.longitude_deg],
        )
        if hit is not None:
            raise InputError(
                f"leg {number} comes on land at {hit.position}",
                where=f"{found.title} for {found.searcher}",
                accepted="a pattern that keeps off the land: move, turn or shrink it",
            )
    return ""
