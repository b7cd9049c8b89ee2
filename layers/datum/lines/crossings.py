"""Where lines of position cross on the plane, two at a time: starts for a fix."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from layers.datum.lines.line import LineOfPosition
from layers.earth.arrays import Floats
from layers.earth.plane import Plane

MOST_PAIRS = 12  # crossings to start from, the squarest first: many lines say the same


def crossings(lines: Sequence[LineOfPosition], plane: Plane) -> list[Floats]:
    """Return places on the plane to start from: crossings of pairs, or a ring about the middle.

    Lines that do not quite meet start where they come nearest.
    """
    found = [place for place, _, _ in crossed(lines, plane, MOST_PAIRS)]
    if found and not any(line.difference_m is not None for line in lines):
        return found
    places = np.array([plane.point(line.latitude_deg, line.longitude_deg) for line in lines])
    middle = places.mean(axis=0)
    longest = max([line.range_m for line in lines if line.range_m is not None], default=0.0)
    reach = max(float(np.hypot(*(places - middle).T).max()), longest, 5_000.0)
    for turn in np.radians(np.arange(0.0, 360.0, 60.0)):
        found.append(middle + reach * np.array([np.sin(turn), np.cos(turn)]))
    return found


def crossed(
    lines: Sequence[LineOfPosition], plane: Plane, most: int
) -> list[tuple[Floats, LineOfPosition, LineOfPosition]]:
    """Return the places where pairs of lines cross, with the pair, the squarest first."""
    found = [
        (place, one, two) for one, two in combinations(lines, 2) for place in _pair(one, two, plane)
    ]
    found.sort(key=lambda item: -_square(item[0], item[1], item[2], plane))
    return found[:most]


def _square(place: Floats, one: LineOfPosition, two: LineOfPosition, plane: Plane) -> float:
    """Return the sine of the angle at which two lines cross at a place."""
    across = []
    for line in (one, two):
        out = place - np.array(plane.point(line.latitude_deg, line.longitude_deg))
        turn = np.arctan2(*out)
        across.append(turn if line.range_m is None else turn + np.pi / 2.0)
    return float(abs(np.sin(across[0] - across[1])))


def _pair(one: LineOfPosition, two: LineOfPosition, plane: Plane) -> list[Floats]:
    if one.bearing_true_deg is not None and two.bearing_true_deg is not None:
        return _bearings(one, two, plane)
    if one.range_m is not None and two.range_m is not None:
        return _ranges(one, two, plane)
    if one.bearing_true_deg is not None and two.range_m is not None:
        return _mixed(one, two, plane)
    if two.bearing_true_deg is not None and one.range_m is not None:
        return _mixed(two, one, plane)
    return []


def _ray(line: LineOfPosition, plane: Plane) -> tuple[Floats, Floats]:
    place = np.array(plane.point(line.latitude_deg, line.longitude_deg))
    turned = plane.convergence_deg(line.latitude_deg, line.longitude_deg)
    turn = np.radians((line.bearing_true_deg or 0.0) + turned)
    return place, np.array([np.sin(turn), np.cos(turn)])


def _bearings(one: LineOfPosition, two: LineOfPosition, plane: Plane) -> list[Floats]:
    p, u = _ray(one, plane)
    q, v = _ray(two, plane)
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 1e-6:
        return []
    gap = q - p
    run = (gap[0] * v[1] - gap[1] * v[0]) / cross
    return [p + run * u]


def _ranges(one: LineOfPosition, two: LineOfPosition, plane: Plane) -> list[Floats]:
    p = np.array(plane.point(one.latitude_deg, one.longitude_deg))
    q = np.array(plane.point(two.latitude_deg, two.longitude_deg))
    apart = float(np.hypot(*(q - p)))
    if apart < 1.0:
        return []
    unit = (q - p) / apart
    r, s = one.range_m or 0.0, two.range_m or 0.0
    along = (apart**2 + r**2 - s**2) / (2.0 * apart)
    off = np.sqrt(max(r**2 - along**2, 0.0))
    side = np.array([-unit[1], unit[0]])
    nudge = max(off, 1.0)  # circles that just touch still start on both sides
    return [p + along * unit + nudge * side, p + along * unit - nudge * side]


def _mixed(ray: LineOfPosition, ring: LineOfPosition, plane: Plane) -> list[Floats]:
    p, u = _ray(ray, plane)
    q = np.array(plane.point(ring.latitude_deg, ring.longitude_deg))
    gap = p - q
    half = float(gap @ u)
    inside = half**2 - float(gap @ gap) + (ring.range_m or 0.0) ** 2
    root = np.sqrt(max(inside, 0.0))
    runs = [run for run in (-half + root, -half - root) if run > 0.0]
    return [p + run * u for run in runs] or [p + max(-half, 100.0) * u]
