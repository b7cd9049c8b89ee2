"""A fix from bearings, ranges and time differences: weighted least squares on the ellipsoid.

Each line is compared with the geodesic from its observer (`pyproj.Geod`), so the answer does not
depend on a projection. Where the geometry allows two places, both are found and shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import scipy

from layers.datum.lines.crossings import crossings
from layers.datum.lines.line import LineOfPosition
from layers.earth.arrays import Floats
from layers.earth.errors import InputError
from layers.earth.geodesy import WGS84
from layers.earth.plane import Plane, ellipse_of
from layers.earth.position import Position
from layers.earth.values import Ellipse

SUSPECT_Z = 3.0  # a line farther than this from what the others say is suspect
ALSO_POSSIBLE = (
    9.21  # chi-square, 99 %, 2 degrees of freedom: a second place this much worse is still shown
)
CHANCE_LIMIT = 0.01
STANDS_OUT = 4.0  # chi-square by which the next likely line must fit worse when left out


@dataclass(frozen=True, slots=True, kw_only=True)
class Residual:
    """How far a line lies from the solution: measured minus computed."""

    name: str
    residual: float
    unit: str
    standardised: float
    without_z: float | None = None  # the same against the solution without this line


@dataclass(frozen=True, slots=True, kw_only=True)
class FixSolution:
    """One place that fits the lines.

    Parameters
    ----------
    covariance_m2 : ndarray, shape (2, 2)
        East and north.
    chi_square, degrees_of_freedom, chance : float, int, float or None
        Weighted sum of squares, and the chance of one at least so large; None when no line is
        over.
    cut_deg : float
        Angle between the two lines that cross most squarely, 0 to 90.
    dop : float or None
        ``sqrt(trace((H^T H)^-1))`` for unit sigma, when all lines are ranges.
    suspect : str or None
        The line that does not belong, by leaving each out.
    """

    position: Position
    ellipse_95: Ellipse
    covariance_m2: Floats
    cep_m: float
    residuals: tuple[Residual, ...]
    chi_square: float
    degrees_of_freedom: int
    chance: float | None
    cut_deg: float
    dop: float | None
    suspect: str | None
    remark: str


def fix(lines: Sequence[LineOfPosition]) -> tuple[FixSolution, ...]:
    """Return the places that fit, the best first.

    Raises
    ------
    InputError
        Fewer than two lines, all from one point in one direction, or lines that do not meet.
    """
    check(lines)
    plane = Plane(
        float(np.mean([line.latitude_deg for line in lines])),
        _mean_longitude(lines),
    )
    found = _places(lines, plane)
    if not found:
        raise InputError(
            "the lines do not meet in any place",
            where="fix",
            accepted="lines that cross: check each bearing's sense and each observer's position",
        )
    found.sort(key=lambda pair: pair[0])
    best = found[0][0]
    kept = [place for cost, place in found if cost <= best + ALSO_POSSIBLE][:2]
    return tuple(_solution(lines, plane, place) for place in kept)


def _places(lines: Sequence[LineOfPosition], plane: Plane) -> list[tuple[float, Floats]]:
    """Return the weighted sum of squares and the place of every minimum that is found."""
    found: list[tuple[float, Floats]] = []
    for start in crossings(lines, plane):
        cost, place = _solve(lines, plane, start)
        near = [k for k, (_, other) in enumerate(found) if np.hypot(*(place - other)) < 20.0]
        if not near and np.isfinite(cost):
            found.append((cost, place))
    return found


def check(lines: Sequence[LineOfPosition]) -> None:
    """Refuse lines that cannot give a fix."""
    if len(lines) < 2:
        raise InputError(
            f"{len(lines)} line cannot give a fix", where="fix", accepted="two lines or more"
        )
    only_bearings = all(line.bearing_true_deg is not None for line in lines)
    places = {(line.latitude_deg, line.longitude_deg) for line in lines}
    if only_bearings and len(places) == 1:
        raise InputError(
            f"all {len(lines)} bearings are from the same point and cross only there",
            where="fix",
            accepted="bearings from two places, or a range with the bearing",
        )


def _mean_longitude(lines: Sequence[LineOfPosition]) -> float:
    turn = np.radians([line.longitude_deg for line in lines])
    return float(np.degrees(np.arctan2(np.sin(turn).mean(), np.cos(turn).mean())))


def _residuals(lines: Sequence[LineOfPosition], lat: float, lon: float) -> tuple[Floats, Floats]:
    """Return residuals in their own units and the standard deviations, shape (n,)."""
    off, sigma = np.zeros(len(lines)), np.zeros(len(lines))
    for row, line in enumerate(lines):
        azimuth, _, metres = WGS84.inv(line.longitude_deg, line.latitude_deg, lon, lat)
        if line.bearing_true_deg is not None:
            off[row] = (line.bearing_true_deg - azimuth + 180.0) % 360.0 - 180.0
            sway = np.degrees(line.position_sigma_m / max(metres, 1.0))
            sigma[row] = np.hypot(line.sigma, sway)
        elif line.range_m is not None:
            off[row] = line.range_m - metres
            sigma[row] = np.hypot(line.sigma, line.position_sigma_m)
        elif line.difference_m is not None and line.second is not None:
            far = WGS84.inv(line.second[1], line.second[0], lon, lat)[2]
            off[row] = line.difference_m - (far - metres)
            sigma[row] = np.hypot(line.sigma, line.position_sigma_m)
    return off, sigma


def _solve(lines: Sequence[LineOfPosition], plane: Plane, start: Floats) -> tuple[float, Floats]:
    """Return the weighted sum of squares and the place on the plane."""

    def scaled(place: Floats) -> Floats:
        where = plane.position(float(place[0]), float(place[1]))
        off, sigma = _residuals(lines, where.latitude_deg, where.longitude_deg)
        return off / sigma

    from scipy.optimize import least_squares  # imported here: slow to start

    def slope(place: Floats) -> Floats:
        # East and north stand for the axes of the plane: a turn of a degree or so only changes
        # the path to the answer, never the answer.
        return -_jacobian(lines, plane.position(float(place[0]), float(place[1])))[0]

    try:
        found = least_squares(
            scaled, start, slope, x_scale=1_000.0, xtol=1e-10, ftol=1e-12, gtol=1e-10
        )
    except (ValueError, InputError):  # ran off to where no place is
        return np.inf, start
    if np.hypot(*found.x) > 5.0e6:
        return np.inf, start
    return 2.0 * float(found.cost), np.asarray(found.x)


def _jacobian(lines: Sequence[LineOfPosition], place: Position) -> tuple[Floats, Floats]:
    """Return d(computed)/d(east, north) per line, scaled by its sigma, and bare, shape (n, 2)."""
    lat, lon = place.latitude_deg, place.longitude_deg
    scaled, bare = np.zeros((len(lines), 2)), np.zeros((len(lines), 2))
    _, sigma = _residuals(lines, lat, lon)
    for row, line in enumerate(lines):
        unit, metres = _towards(line.latitude_deg, line.longitude_deg, lat, lon)
        if line.bearing_true_deg is not None:
            bare[row] = np.degrees(np.array([unit[1], -unit[0]]) / max(metres, 1.0))
        elif line.range_m is not None:
            bare[row] = unit
        elif line.second is not None:
            bare[row] = _towards(line.second[0], line.second[1], lat, lon)[0] - unit
        scaled[row] = bare[row] / sigma[row]
    return scaled, bare


def _towards(lat0: float, lon0: float, lat: float, lon: float) -> tuple[Floats, float]:
    """Return the unit vector (east, north) at a place away from an observer, and metres."""
    _, back, metres = WGS84.inv(lon0, lat0, lon, lat)
    turn = np.radians(back + 180.0)
    return np.array([np.sin(turn), np.cos(turn)]), float(metres)


def covariance(scaled: Floats) -> Floats:
    """Return the covariance in square metres of a fix from its scaled Jacobian.

    Raises
    ------
    InputError
        The lines run along each other and leave one direction open.
    """
    normal = scaled.T @ scaled
    if np.linalg.cond(normal) > 1e12:
        raise InputError(
            "the lines run along each other and leave her place open along them",
            where="fix",
            accepted="a line that crosses the others",
        )
    return np.asarray(np.linalg.inv(normal))


def _solution(lines: Sequence[LineOfPosition], plane: Plane, place: Floats) -> FixSolution:
    position = plane.position(float(place[0]), float(place[1]))
    off, sigma = _residuals(lines, position.latitude_deg, position.longitude_deg)
    scaled, bare = _jacobian(lines, position)
    spread = covariance(scaled)
    total = float(np.sum((off / sigma) ** 2))
    freedom = len(lines) - 2
    chance = float(scipy.special.chdtrc(freedom, total)) if freedom > 0 else None
    left_out = [_without(lines, row, plane, place) for row in range(len(lines))]
    without = [item[0] for item in left_out]
    suspect, remark = _suspect(lines, left_out, chance, freedom)
    if chance is not None and chance <= CHANCE_LIMIT:
        # lines that do not agree are worse than they say: the ellipse grows with their misfit
        spread = spread * max(total / freedom, 1.0)
    ranges = all(line.range_m is not None for line in lines)
    return FixSolution(
        position=position,
        ellipse_95=ellipse_of(spread),
        covariance_m2=spread,
        cep_m=cep_m(spread),
        residuals=tuple(
            Residual(
                name=line.name,
                residual=float(off[row]),
                unit=line.unit,
                standardised=float(off[row] / sigma[row]),
                without_z=without[row],
            )
            for row, line in enumerate(lines)
        ),
        chi_square=total,
        degrees_of_freedom=freedom,
        chance=chance,
        cut_deg=_cut_deg(scaled),
        dop=dop(bare) if ranges else None,
        suspect=suspect,
        remark=remark,
    )


def dop(directions: Floats) -> float:
    """Return ``sqrt(trace((H^T H)^-1))`` for range lines of unit sigma, shape (n, 2)."""
    return float(np.sqrt(np.trace(np.linalg.inv(directions.T @ directions))))


def _cut_deg(scaled: Floats) -> float:
    units = scaled / np.linalg.norm(scaled, axis=1, keepdims=True)
    sines = [abs(a[0] * b[1] - a[1] * b[0]) for a, b in combinations(units, 2)]
    return float(np.degrees(np.arcsin(min(max(sines), 1.0))))


def _without(
    lines: Sequence[LineOfPosition], row: int, plane: Plane, start: Floats
) -> tuple[float | None, float | None]:
    """Return how many sigmas a line lies from the others' solution, and their sum of squares.

    The others are solved from all their crossings again: from the place that the bad line drew
    them to they would only find the minimum next to it.
    """
    rest = [line for number, line in enumerate(lines) if number != row]
    if len(rest) < 2:
        return None, None
    try:
        check(rest)
        found = [*_places(rest, plane), _solve(rest, plane, start)]
        cost, place = min(found, key=lambda pair: pair[0])
        if not np.isfinite(cost):
            return None, None
        position = plane.position(float(place[0]), float(place[1]))
        spread = covariance(_jacobian(rest, position)[0])
    except InputError:
        return None, None
    off, sigma = _residuals([lines[row]], position.latitude_deg, position.longitude_deg)
    slope = _jacobian([lines[row]], position)[1][0]
    return float(off[0] / np.sqrt(sigma[0] ** 2 + slope @ spread @ slope)), cost


def _suspect(
    lines: Sequence[LineOfPosition],
    left_out: Sequence[tuple[float | None, float | None]],
    chance: float | None,
    freedom: int,
) -> tuple[str | None, str]:
    """Return the line that does not belong, and what is to be said about the fit.

    It is the one without which the others agree best; where they do not agree without it either,
    or would nearly as well without another, none stands out.
    """
    if chance is None:
        return None, "no line is over: nothing checks the fix"
    if chance > CHANCE_LIMIT:
        return None, f"the lines agree (chance of a misfit this large {chance:.0%})"
    if freedom == 1:
        return None, "the lines do not agree, and three cannot tell which one is wrong"
    costs = [np.inf if cost is None else cost for _, cost in left_out]
    order = np.argsort(costs)
    row = int(order[0])
    size = abs(left_out[row][0] or 0.0)
    agree = float(scipy.special.chdtrc(freedom - 1, costs[row])) > CHANCE_LIMIT
    apart = costs[int(order[1])] - costs[row] >= STANDS_OUT
    if size < SUSPECT_Z or not agree or not apart:
        return None, "the lines do not agree, and no single one stands out"
    return lines[row].name, (
        f"the lines do not agree; without {lines[row].name} they would put it {size:.1f} times "
        "its error off"
    )


def cep_m(spread: Floats, part: float = 0.5) -> float:
    """Return the radius of the circle about the fix that holds this part (CEP for one half).

    The normal density is integrated over the circle: in polar form the radius integral is
    closed, and the angle is summed evenly, which is exact to machine precision for a period.
    """
    from scipy.optimize import brentq  # imported here: slow to start

    small, large = np.sqrt(np.maximum(np.linalg.eigvalsh(spread), 1e-12))
    turn = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)
    inverse = np.cos(turn) ** 2 / large**2 + np.sin(turn) ** 2 / small**2

    def held(radius: float) -> float:
        inside = (1.0 - np.exp(-0.5 * radius**2 * inverse)) / inverse
        return float(inside.mean() / (small * large)) - part

    return float(brentq(held, 1e-6 * small, 20.0 * large))


def renamed(lines: Sequence[LineOfPosition]) -> list[LineOfPosition]:
    """Return the lines with names that differ, numbered where they were alike."""
    seen: dict[str, int] = {}
    found = []
    for line in lines:
        seen[line.name] = seen.get(line.name, 0) + 1
        alike = sum(other.name == line.name for other in lines) > 1
        found.append(replace(line, name=f"{line.name} {seen[line.name]}") if alike else line)
    return found
