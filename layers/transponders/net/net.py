"""Where the vehicle or the DISSUB is, from the net and from the ship; and where the net is good."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy

from layers.earth.arrays import Floats
from layers.earth.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class LineInSpace:
    """One line of position in space: a range, a bearing, a depression or a depth.

    ``origin_m`` is east, north, depth of where it is measured from. A range is in metres, the
    others in degrees or metres; ``sigma`` in the same unit, the origin's own error included.
    """

    name: str
    sort: str  # "range", "bearing", "depression" or "depth"; "scale" is the ranges' common error
    origin_m: tuple[float, float, float]
    measured: float
    sigma: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NetFix:
    """A place in the plane with its covariance, and how each line agrees with it."""

    place_m: Floats  # (3,) east, north, depth
    covariance: Floats  # (3, 3), from the stated errors, widened by what the lines say
    residual: dict[str, float]  # in the line's own unit
    chi2: float
    freedom: int
    suspect: str | None
    second_m: Floats | None  # a second place that fits as well
    without_m: Floats | None = None  # the place without the suspect
    scale: float = 1.0  # of the ranges, as these lines say it


def scale_line(sigma: float) -> LineInSpace:
    """Return the common error of all ranges (sound speed, clock) as a line of its own."""
    return LineInSpace(
        name="scale", sort="scale", origin_m=(0.0, 0.0, 0.0), measured=0.0, sigma=sigma
    )


def fix(lines: tuple[LineInSpace, ...], guess_m: Floats) -> NetFix:
    """Return the place where the lines meet, by weighted least squares.

    Where the lines disagree by more than their errors, the covariance is widened by how much
    (Birge, The calculation of errors by the method of least squares, Phys. Rev. 40 (1932)); a
    line that spoils the rest is named, with the place without it.

    Raises
    ------
    InputError
        Fewer than three lines, or lines that do not fix a place.
    """
    many = sum(line.sort != "scale" for line in lines)
    if many < 3:
        raise InputError(
            f"{many} lines do not fix a place in three dimensions",
            where="fix by the net",
            accepted="three lines or more: ranges, bearing, depression, depth",
        )
    found = [one for start in _starts(lines, guess_m) if (one := _solve(lines, start))]
    if not found:
        raise InputError(
            "the lines do not meet",
            where="fix by the net",
            accepted="lines that cross at a good angle",
        )
    found.sort(key=lambda one: one[2])
    place, covariance, chi2 = found[0]
    second = next(
        (
            other[0]
            for other in found[1:]
            if other[2] - chi2 < scipy.special.chdtri(1, 0.05)
            and _apart(other[0], place, covariance)
        ),
        None,
    )
    gap, _ = _rows(lines, place)
    residual = {
        line.name: float(g * line.sigma)
        for line, g in zip(lines, gap, strict=True)
        if line.sort != "scale"
    }
    freedom = many - 3
    suspect = _suspect(lines, place, chi2, freedom)
    without = None
    if suspect is not None:
        without = _solve(tuple(line for line in lines if line.name != suspect), place)
    wider = max(1.0, chi2 / freedom) if freedom else 1.0
    return NetFix(
        place_m=place[:3],
        covariance=covariance[:3, :3] * wider,
        residual=residual,
        chi2=chi2,
        freedom=freedom,
        suspect=suspect,
        second_m=None if second is None else second[:3],
        without_m=None if without is None else without[0][:3],
        scale=1.0 + float(place[3]) if len(place) > 3 else 1.0,
    )


def _starts(lines: tuple[LineInSpace, ...], guess_m: Floats) -> list[Floats]:
    """Return places to start from: the guess, and the guess mirrored in the line of the origins."""
    starts = [guess_m]
    origins = np.array([line.origin_m[:2] for line in lines if line.sort == "range"])
    if len(origins) >= 2:
        middle = np.mean(origins, axis=0)
        along = np.linalg.svd(origins - middle, full_matrices=False)[2][0]
        offset = guess_m[:2] - middle
        normal = np.array([-along[1], along[0]])
        out = abs(float(offset @ normal)) + 50.0
        foot = middle + (offset @ along) * along
        starts += [np.append(foot + side * out * normal, guess_m[2]) for side in (1.0, -1.0)]
    return starts


def _apart(a: Floats, b: Floats, covariance: Floats) -> bool:
    gap = float(np.hypot(*(a[:2] - b[:2])))
    return gap > max(10.0, 5.0 * float(np.sqrt(np.max(np.linalg.eigvalsh(covariance[:2, :2])))))


def _rows(lines: tuple[LineInSpace, ...], place: Floats) -> tuple[Floats, Floats]:
    """Return standardised misfits (n,) and their derivatives, (n, 3) or (n, 4) with a scale."""
    gaps, rows = np.zeros(len(lines)), np.zeros((len(lines), len(place)))
    more = place[3] if len(place) > 3 else 0.0
    for i, line in enumerate(lines):
        if line.sort == "scale":
            gaps[i], rows[i, 3] = more / line.sigma, 1.0 / line.sigma
            continue
        offset = place[:3] - np.array(line.origin_m)
        level = max(float(np.hypot(offset[0], offset[1])), 1e-6)
        slant = max(float(np.linalg.norm(offset)), 1e-6)
        if line.sort == "range":
            gap, row = slant - line.measured * (1.0 + more), offset / slant
            if len(place) > 3:
                rows[i, 3] = -line.measured / line.sigma
        elif line.sort == "depth":
            gap, row = place[2] - line.measured, np.array([0.0, 0.0, 1.0])
        elif line.sort == "bearing":
            bearing = np.degrees(np.arctan2(offset[0], offset[1]))
            gap = (bearing - line.measured + 180.0) % 360.0 - 180.0
            row = np.degrees(np.array([offset[1], -offset[0], 0.0])) / level**2
        else:  # depression
            gap = float(np.degrees(np.arctan2(offset[2], level))) - line.measured
            down = np.array([-offset[0] * offset[2] / level, -offset[1] * offset[2] / level, level])
            row = np.degrees(down) / slant**2
        gaps[i], rows[i, :3] = gap / line.sigma, row / line.sigma
    return gaps, rows


def _solve(lines: tuple[LineInSpace, ...], start: Floats) -> tuple[Floats, Floats, float] | None:
    """Return place, covariance and chi-square; None when it does not settle."""
    place, damping = np.array(start, dtype=float), 1e-3
    if any(line.sort == "scale" for line in lines) and len(place) == 3:
        place = np.append(place, 0.0)
    gap, rows = _rows(lines, place)
    cost = float(gap @ gap)
    for _ in range(80):
        normal = rows.T @ rows
        try:
            step = -np.linalg.solve(
                normal + damping * np.diag(np.diag(normal) + 1e-9), rows.T @ gap
            )
        except np.linalg.LinAlgError:
            return None
        trial_gap, trial_rows = _rows(lines, place + step)
        trial = float(trial_gap @ trial_gap)
        if trial <= cost:
            place, gap, rows, cost, damping = (
                place + step,
                trial_gap,
                trial_rows,
                trial,
                (damping / 5.0),
            )
            if np.linalg.norm(step) < 1e-4:
                break
        else:
            damping *= 6.0
            if damping > 1e12:
                break
    normal = rows.T @ rows
    if np.linalg.cond(normal[:3, :3]) > 1e10:
        return None
    return place, np.asarray(np.linalg.inv(normal)), cost


def _suspect(
    lines: tuple[LineInSpace, ...], place: Floats, chi2: float, freedom: int
) -> str | None:
    """Return the line that does not belong: without it the rest agree, with it they do not."""
    if freedom < 1 or chi2 <= scipy.special.chdtri(freedom, 0.01):
        return None
    best: tuple[float, str] | None = None
    for out in lines:
        rest = tuple(line for line in lines if line is not out)
        if out.sort == "scale" or sum(line.sort != "scale" for line in rest) < 3:
            continue
        solved = _solve(rest, place)
        if solved and (best is None or solved[2] < best[0]):
            best = (solved[2], out.name)
    if best is None or freedom < 2:  # with one line over, any one left out makes the rest agree
        return None
    return best[1] if best[0] <= scipy.special.chdtri(freedom - 1, 0.01) else None


def hdop(net_m: Floats, east_m: Floats, north_m: Floats, depth_m: float) -> Floats:
    """Return the horizontal dilution of precision where depth is known by the object's gauge.

    Parameters
    ----------
    net_m : ndarray, shape (k, 3)
        East, north, depth of the transponders that answer.
    east_m, north_m : ndarray
        Places, any shape.
    depth_m : float
        Depth of the object.

    Returns
    -------
    ndarray
        Metres of position error (root of the summed variances) per metre of range error; inf
        where the lines do not cross.
    """
    a, b, c = _sums(net_m, east_m, north_m, depth_m)
    return _dop(a, b, c)


def _sums(
    net_m: Floats, east_m: Floats, north_m: Floats, depth_m: float
) -> tuple[Floats, Floats, Floats]:
    de = np.asarray(east_m)[..., None] - net_m[:, 0]
    dn = np.asarray(north_m)[..., None] - net_m[:, 1]
    slant2 = np.maximum(de**2 + dn**2 + (depth_m - net_m[:, 2]) ** 2, 1e-6)
    return (
        np.sum(de * de / slant2, -1),
        np.sum(de * dn / slant2, -1),
        np.sum(dn * dn / slant2, -1),
    )


def _dop(a: Floats, b: Floats, c: Floats) -> Floats:
    det = a * c - b * b
    return np.where(det > 1e-9, np.sqrt((a + c) / np.where(det > 1e-9, det, 1.0)), np.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class Better:
    """Where one more transponder would help most, and what it would give."""

    east_m: float
    north_m: float
    mean_before: float
    mean_after: float


def one_more(
    net_m: Floats, depth_m: float, centre_m: tuple[float, float], radius_m: float, out_m: float
) -> Better:
    """Return the place of one more transponder that gives the least mean HDOP over a circle.

    Candidates lie on a grid out to ``out_m`` from the centre; the working area is the circle of
    ``radius_m``. Where the net alone fixes nothing, HDOP is counted as 20.
    """
    side = np.linspace(-1.0, 1.0, 21)
    east, north = (grid.ravel() for grid in np.meshgrid(side, side))
    work = np.hypot(east, north) <= 1.0
    work_e, work_n = centre_m[0] + radius_m * east[work], centre_m[1] + radius_m * north[work]
    a, b, c = _sums(net_m, work_e, work_n, depth_m)
    before = float(np.mean(np.minimum(_dop(a, b, c), 20.0)))
    cand_e, cand_n = centre_m[0] + out_m * east[work], centre_m[1] + out_m * north[work]
    de, dn = work_e[None, :] - cand_e[:, None], work_n[None, :] - cand_n[:, None]
    slant2 = np.maximum(de**2 + dn**2, 1.0)
    with_it = _dop(a + de * de / slant2, b + de * dn / slant2, c + dn * dn / slant2)
    means = np.mean(np.minimum(with_it, 20.0), axis=1)
    best = int(np.argmin(means))
    return Better(
        east_m=float(cand_e[best]),
        north_m=float(cand_n[best]),
        mean_before=before,
        mean_after=float(means[best]),
    )
