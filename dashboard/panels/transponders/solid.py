"""What lies and moves about her in three dimensions: shapes in metres, from the layers' results.

East, north and up in metres from her fix (else the net's middle), the surface at nought; the
same places, depths and ranges as the chart and the tables beside it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from layers.earth.clock import clock_words
from layers.earth.plane import Plane
from layers.earth.position import Position
from layers.scene.ink import Ink
from layers.tracks.model import ShipTrack
from layers.transponders.hull import SEAT_SHARE, Hull
from layers.transponders.result import Fixed, Result
from layers.weather.sea.expected import ExpectedSea

Point = list[float]
Colour = list[int]
CELLS = 28
RINGS_M = (100.0, 200.0, 300.0)
LEAST_REACH_M, MOST_REACH_M = 380.0, 3_000.0
ASSUMED_LENGTH_M, ASSUMED_BEAM_M = 60.0, 7.0  # drawn where nobody has told them, and said


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """Everything to be drawn, and what is said beside it.

    ``quads``, ``lines``, ``points`` and ``texts`` are rows for the drawing; ``reach_m`` is half
    the width of the ground shown.
    """

    quads: tuple[dict[str, Any], ...]
    lines: tuple[dict[str, Any], ...]
    points: tuple[dict[str, Any], ...]
    texts: tuple[dict[str, Any], ...]
    reach_m: float
    depth_m: float
    heading_true_deg: float | None
    said: tuple[str, ...]


def solid(
    result: Result,
    ships: Sequence[ShipTrack],
    ahead: ExpectedSea | None,
    ink: Ink,
    heights: float = 1.0,
) -> Solid | None:
    """Return the scene about her; None where nothing is known to lie down there.

    Parameters
    ----------
    heights : float
        How many times the heights are drawn.
    """
    centre = _centre(result)
    if centre is None:
        return None
    plane = Plane.about(centre)
    made = _Maker(plane, ink, heights)
    depth = _depth(result)
    reach = _reach(result, plane)
    made.ground(result, reach, depth)
    for radius in RINGS_M:
        if radius < reach:
            made.ring(radius, depth)
    made.net(result)
    made.hull(result, depth)
    made.vehicles(result)
    made.ships(ships, result, reach)
    made.current(ahead, result, depth, reach)
    made.north(reach, depth)
    return Solid(
        quads=tuple(made.quads),
        lines=tuple(made.lines),
        points=tuple(made.points),
        texts=tuple(made.texts),
        reach_m=reach,
        depth_m=depth,
        heading_true_deg=None if result.hull is None else result.hull.heading_true_deg,
        said=tuple(made.said),
    )


def her_fix(result: Result) -> Fixed | None:
    """Return her own fix, if there is one."""
    return next((fix for fix in result.fixes if fix.is_dissub), None)


def _centre(result: Result) -> Position | None:
    fix = her_fix(result)
    if fix is not None:
        return fix.position
    if result.transponders:
        lat = float(np.mean([one.position.latitude_deg for one in result.transponders]))
        lon = float(np.mean([one.position.longitude_deg for one in result.transponders]))
        return Position(lat, lon)
    return None


def _depth(result: Result) -> float:
    """Return the depth of the bottom about her: charted, else the net's, else her fix's."""
    centre, grid = _centre(result), result.seabed.grid
    if centre is not None and grid is not None:
        found = grid.depth_m(np.array([centre.latitude_deg]), np.array([centre.longitude_deg]))
        if np.isfinite(found[0]):
            return float(found[0])
    if result.transponders:
        return float(np.median([one.depth_m for one in result.transponders]))
    fix = her_fix(result)
    return 100.0 if fix is None else fix.depth_m


def _reach(result: Result, plane: Plane) -> float:
    far = [LEAST_REACH_M]
    for one in result.transponders:
        east, north = plane.project(one.position.latitude_deg, one.position.longitude_deg)
        far.append(1.25 * float(np.hypot(east, north)))
    return min(max(far), MOST_REACH_M)


class _Maker:
    """Collects rows for the drawing."""

    def __init__(self, plane: Plane, ink: Ink, heights: float) -> None:
        self.plane, self.ink, self.heights = plane, ink, heights
        self.quads: list[dict[str, Any]] = []
        self.lines: list[dict[str, Any]] = []
        self.points: list[dict[str, Any]] = []
        self.texts: list[dict[str, Any]] = []
        self.said: list[str] = []

    def at(self, east: float, north: float, depth_m: float) -> Point:
        return [float(east), float(north), -float(depth_m) * self.heights]

    def place(self, position: Position, depth_m: float) -> Point:
        east, north = self.plane.project(position.latitude_deg, position.longitude_deg)
        return self.at(float(east), float(north), depth_m)

    def line(self, start: Point, end: Point, colour: str, width: float = 1.5) -> None:
        self.lines.append({"start": start, "end": end, "colour": rgba(colour), "width": width})

    def text(
        self, point: Point, words: str, colour: str, size: int = 15, anchor: str = "start"
    ) -> None:
        self.texts.append(
            {"at": point, "text": words, "colour": rgba(colour), "size": size, "anchor": anchor}
        )

    def point(self, point: Point, colour: str, size: float = 7.0) -> None:
        self.points.append({"at": point, "colour": rgba(colour), "size": size})

    def ground(self, result: Result, reach: float, depth_m: float) -> None:
        edges = np.linspace(-reach, reach, CELLS + 1)
        east, north = np.meshgrid(edges, edges)
        deep = np.full(east.shape, depth_m)
        if result.seabed.grid is not None:
            lat, lon = self.plane.unproject(east.ravel(), north.ravel())
            found = result.seabed.grid.depth_m(lat, lon).reshape(east.shape)
            deep = np.where(np.isfinite(found), found, np.nan)
        else:
            self.said.append(f"no depth grid here: the bottom is drawn flat at {depth_m:.0f} m")
        tints = self.ink.tints[::-1]  # shallow first
        low, high = float(np.nanmin(deep)), float(np.nanmax(deep))
        span = max(high - low, 1e-6)
        for i in range(CELLS):
            for j in range(CELLS):
                corners = [(i, j), (i, j + 1), (i + 1, j + 1), (i + 1, j)]
                depths = [float(deep[c]) for c in corners]
                if not np.isfinite(depths).all():
                    continue
                share = (float(np.mean(depths)) - low) / span
                tint = tints[min(len(tints) - 1, int(share * len(tints)))]
                self.quads.append(
                    {
                        "corners": [
                            self.at(float(east[c]), float(north[c]), d)
                            for c, d in zip(corners, depths, strict=True)
                        ],
                        "fill": rgba(tint, 235),
                        "edge": rgba(self.ink.contour, 130),
                    }
                )
        if result.seabed.grid is not None:
            self.said.append(f"seabed {low:.0f} to {high:.0f} m here, {result.seabed.grid.source}")

    def ring(self, radius_m: float, depth_m: float) -> None:
        turn = np.linspace(0.0, 2.0 * np.pi, 49)
        edge = [
            self.at(radius_m * math.sin(a), radius_m * math.cos(a), depth_m - 0.5) for a in turn
        ]
        for start, end in itertools.pairwise(edge):
            self.line(start, end, self.ink.contour, 1.0)
        self.text(self.at(radius_m, 0.0, depth_m - 8.0), f"{radius_m:.0f} m", self.ink.quiet, 14)

    def net(self, result: Result) -> None:
        for one in result.transponders:
            foot = self.place(one.position, one.depth_m)
            head = [foot[0], foot[1], foot[2] + 12.0]
            self.line(foot, head, self.ink.sound)
            self.point(head, self.ink.sound)
            state = "" if one.answers else f" {one.state}"
            self.text([head[0] + 14.0, head[1], head[2]], one.name + state, self.ink.sound)

    def hull(self, result: Result, depth_m: float) -> None:
        fix, hull = her_fix(result), result.hull
        if fix is None:
            return
        lies = _lies(hull, fix, depth_m)
        middle = self.at(0.0, 0.0, lies)
        length = ASSUMED_LENGTH_M if hull is None or hull.length_m is None else hull.length_m
        beam = ASSUMED_BEAM_M if hull is None or hull.beam_m is None else hull.beam_m
        if hull is None or hull.heading_true_deg is None:
            self._circle(middle, length / 2.0)
            self.said.append("heading not told: she lies somewhere in the ring about her place")
        else:
            for face in hull_faces(hull, length, beam):
                corners = [
                    [middle[0] + e, middle[1] + n, middle[2] + u * self.heights] for e, n, u in face
                ]
                self.quads.append(
                    {
                        "corners": corners,
                        "fill": rgba(self.ink.plate, 255),
                        "edge": rgba(self.ink.page, 255),
                    }
                )
        for name in () if hull is None else hull.missing:
            if name != "heading":
                self.said.append(f"{name} not told")
        self._seats(hull, middle, length)

    def _circle(self, middle: Point, radius: float) -> None:
        turn = np.linspace(0.0, 2.0 * np.pi, 37)
        edge = [
            [middle[0] + radius * math.sin(a), middle[1] + radius * math.cos(a), middle[2]]
            for a in turn
        ]
        for start, end in itertools.pairwise(edge):
            self.line(start, end, self.ink.plate, 2.0)
        self.point(middle, self.ink.plate, 9.0)

    def _seats(self, hull: Hull | None, middle: Point, length: float) -> None:
        heading = None if hull is None else hull.heading_true_deg
        for number, seat in enumerate(() if hull is None else hull.seats):
            share = SEAT_SHARE.get(seat.name, 0.0)
            turn = math.radians(heading or 0.0)
            along = share * length if heading is not None else 0.0
            place = [
                middle[0] + along * math.sin(turn),
                middle[1] + along * math.cos(turn),
                -seat.depth_m * self.heights,
            ]
            if heading is not None:
                self.point(place, self.ink.ink, 6.0)
            label = [place[0] - 30.0, place[1], place[2] + 14.0 + 18.0 * number]
            self.line(place, label, self.ink.quiet, 1.0)
            words = f"{seat.name} seat {seat.depth_m:.1f} m"
            self.text(label, words, self.ink.ink, 15, anchor="end")

    def vehicles(self, result: Result) -> None:
        for name, path in result.paths.items():
            if path[-1].stale:  # it has moved since, and may be on deck
                self.said.append(
                    f"{name} last fixed {clock_words(path[-1].at, result.at)} at "
                    f"{path[-1].depth_m:.0f} m: where it is by now is not known"
                )
                continue
            places = [self.place(fix.position, fix.depth_m) for fix in path]
            for start, end in itertools.pairwise(places):
                self.line(start, end, self.ink.ink, 2.0)
            for place in places:
                self.point(place, self.ink.ink, 5.0)
            last = path[-1]
            words = f"{name} {clock_words(last.at, result.at)}, {last.depth_m:.0f} m"
            self.text([places[-1][0], places[-1][1], places[-1][2] + 10.0], words, self.ink.ink)

    def ships(self, ships: Sequence[ShipTrack], result: Result, reach: float) -> None:
        for ship in ships:
            if ship.role == "other":
                continue
            place = self.place(ship.position, 0.0)
            if max(abs(place[0]), abs(place[1])) > reach:
                continue
            self.point(place, self.ink.ink, 10.0)
            when = clock_words(ship.fixed_at, result.at)
            self.text([place[0], place[1], 14.0], f"{ship.name} {when}", self.ink.ink)

    def current(
        self, ahead: ExpectedSea | None, result: Result, depth_m: float, reach: float
    ) -> None:
        if ahead is None:
            self.said.append("current at the seat not known")
            return
        step = ahead.at(result.at)
        speed, towards = float(ahead.current_seat_kn[step]), float(ahead.current_seat_set_deg[step])
        if not math.isfinite(speed):
            self.said.append("current at the seat not known")
            return
        turn, far = math.radians(towards), 0.55 * reach
        start = self.at(0.55 * reach, -0.55 * reach, depth_m - 8.0)
        long = 0.12 * reach * (0.5 + speed)
        end = [start[0] + long * math.sin(turn), start[1] + long * math.cos(turn), start[2]]
        self.line(start, end, self.ink.ink, 3.0)
        for side in (150.0, -150.0):
            barb = math.radians(towards + side)
            tip = [end[0] + 0.03 * far * math.sin(barb), end[1] + 0.03 * far * math.cos(barb)]
            self.line(end, [*tip, end[2]], self.ink.ink, 3.0)
        estimated = ", carried down" if ahead.seat_estimated else ""
        words = f"{speed:.1f} kn at the seat, sets {towards:03.0f}°T{estimated}"
        self.text([start[0], start[1] - 0.05 * reach, start[2]], words, self.ink.ink)

    def north(self, reach: float, depth_m: float) -> None:
        start = self.at(-0.9 * reach, -0.95 * reach, depth_m - 2.0)
        end = [start[0], start[1] + 0.15 * reach, start[2]]
        self.line(start, end, self.ink.ink, 2.0)
        for side in (-1.0, 1.0):
            tip = [end[0] + side * 0.02 * reach, end[1] - 0.03 * reach, end[2]]
            self.line(end, tip, self.ink.ink, 2.0)
        self.text([end[0], end[1] + 0.04 * reach, end[2]], "N", self.ink.ink, 15)
        corners = [(-1, -1), (-1, 1), (1, 1), (1, -1), (-1, -1)]
        for (a, b), (c, d) in itertools.pairwise(corners):
            self.line(self.at(a * reach, b * reach, 0), self.at(c * reach, d * reach, 0),
                      self.ink.line, 1.0)  # fmt: skip
            self.line(self.at(a * reach, b * reach, 0), self.at(a * reach, b * reach, depth_m),
                      self.ink.line, 1.0)  # fmt: skip


# Where a seat of this name is drawn, in lengths forward of her middle: ours, for the picture only.


def _lies(hull: Hull | None, fix: Fixed, depth_m: float) -> float:
    """Return the depth of the middle of her hull: as told, else her fix's, never in the bottom."""
    told = fix.depth_m if hull is None or hull.depth_m is None else hull.depth_m
    return min(told, depth_m)


def hull_faces(
    hull: Hull, length_m: float, beam_m: float
) -> list[list[tuple[float, float, float]]]:
    """Return the faces of a hull about its middle: east, north, up, metres.

    A box with a bow that narrows, turned by heading, list (starboard down) and trim (bow down).
    """
    half, side, high = length_m / 2.0, beam_m / 2.0, beam_m * 0.45
    waist = 0.6 * half
    outline = [(-half, -side), (waist, -side), (half, 0.0), (waist, side), (-half, side)]
    turned = {
        up: [_turned(forward, right, up * high, hull) for forward, right in outline]
        for up in (-1.0, 1.0)
    }
    faces = [turned[1.0], turned[-1.0]]
    for k in range(len(outline)):
        other = (k + 1) % len(outline)
        faces.append([turned[1.0][k], turned[1.0][other], turned[-1.0][other], turned[-1.0][k]])
    return faces


def _turned(forward: float, right: float, up: float, hull: Hull) -> tuple[float, float, float]:
    """Return east, north and up of a place in her own axes: list, then trim, then heading."""
    roll, pitch = math.radians(hull.list_deg or 0.0), math.radians(hull.bow_down_deg or 0.0)
    right, up = (
        right * math.cos(roll) + up * math.sin(roll),
        up * math.cos(roll) - right * math.sin(roll),
    )
    forward, up = (
        forward * math.cos(pitch) + up * math.sin(pitch),
        up * math.cos(pitch) - forward * math.sin(pitch),
    )
    turn = math.radians(hull.heading_true_deg or 0.0)
    east = forward * math.sin(turn) + right * math.cos(turn)
    north = forward * math.cos(turn) - right * math.sin(turn)
    return east, north, up


def rgba(colour: str, opacity: int = 255) -> Colour:
    """Return ``#rrggbb`` as four numbers."""
    return [int(colour[k : k + 2], 16) for k in (1, 3, 5)] + [opacity]
