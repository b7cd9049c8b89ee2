"""A vehicle's way from its fixes: where it was between them, which does not fit, where it is now.

Along each axis the velocity is a first-order Gauss-Markov process (Singer 1970, IEEE Trans.
Aerospace and Electronic Systems AES-6, 473-483, with velocity in the place of his acceleration):
it forgets within `HOLDS_S` and is seldom above twice `SPEED_M_S`. A Kalman filter goes forward
through the fixes and the smoother of Rauch, Tung and Striebel (1965, AIAA Journal 3, 1445-1450)
back, so that a later fix betters an earlier place. A fix too far from where the vehicle can be is
set aside and told, not used; two in a row that agree with each other mean that the vehicle went
faster than believed, and the way begins anew there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.plane import Plane, ellipse_of
from layers.earth.position import Position
from layers.earth.values import Ellipse

# How an underwater vehicle goes: under way at a knot or two, turning every few minutes. Common
# practice, no source.
SPEED_M_S = 0.6
HOLDS_S = 300.0
ONE_IN_TWENTY = -2.0 * float(np.log(0.05))  # exceeds this: chi-square of two
GATE = -2.0 * float(np.log(0.001))  # one right fix in a thousand is set aside


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedFix:
    """A place with its error at a time, in metres east and north of the plane."""

    at_s: float
    place_m: Floats  # (2,)
    covariance: Floats  # (2, 2), m²


@dataclass(frozen=True, slots=True, kw_only=True)
class SmoothWay:
    """Places at the times of the fixes, smoothed; ``fits`` says which fix was used.

    ``state`` (n, 4) is east, north and the velocity, m and m/s, with ``covariance`` (n, 4, 4).
    """

    at_s: Floats
    state: Floats
    covariance: Floats
    fits: tuple[bool, ...]
    gap_m: Floats  # of each fix from where the way had it, (n,)

    def ahead(self, at_s: float) -> tuple[Floats, Floats]:
        """Return state and covariance at a time after the last fix: slower and wider with it."""
        return _go(self.state[-1], self.covariance[-1], max(0.0, at_s - float(self.at_s[-1])))


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """A vehicle's way as told: where it is now, and the fixes that do not fit."""

    now: Position
    now_ellipse: Ellipse
    speed_m_s: float
    course_true_deg: float | None  # None where it may as well lie still
    at: tuple[datetime, ...]
    places: tuple[Position, ...]  # smoothed, one a fix that fits
    strays: tuple[tuple[datetime, float], ...]  # time of a fix set aside, metres from the way


def way(fixes: Sequence[PlacedFix]) -> SmoothWay:
    """Return the smoothed way through fixes in order of time; at least one."""
    state, covariance = _begun(fixes[0])
    held = [(state, covariance, state, covariance)]
    kept, fits, gaps = [0], [True], [0.0]
    for n, fix in enumerate(fixes[1:], start=1):
        lapse = fix.at_s - fixes[kept[-1]].at_s
        before, wide = _go(held[-1][0], held[-1][1], lapse)
        off = fix.place_m - before[:2]
        gaps.append(float(np.hypot(*off)))
        sure = np.linalg.inv(wide[:2, :2] + fix.covariance)
        if off @ sure @ off > GATE and not _agrees(fixes, fits, n):
            fits.append(False)
            continue
        if off @ sure @ off > GATE:  # she went faster than believed: from the stray before it
            state, covariance = _begun(fix)
            before, wide = state, covariance
        else:
            gain = wide[:, :2] @ sure
            state, covariance = before + gain @ off, wide - gain @ wide[:2]
        held.append((state, covariance, before, wide))
        kept.append(n)
        fits.append(True)
    return _smoothed(fixes, kept, held, tuple(fits), np.array(gaps))


def _agrees(fixes: Sequence[PlacedFix], fits: list[bool], n: int) -> bool:
    """Return whether a fix off the way agrees with the stray right before it."""
    if fits[n - 1]:
        return False
    stray = fixes[n - 1]
    before, wide = _go(*_begun(stray), fixes[n].at_s - stray.at_s)
    off = fixes[n].place_m - before[:2]
    return bool(off @ np.linalg.inv(wide[:2, :2] + fixes[n].covariance) @ off <= GATE)


def _begun(fix: PlacedFix) -> tuple[Floats, Floats]:
    covariance = np.zeros((4, 4))
    covariance[:2, :2] = fix.covariance
    covariance[2:, 2:] = np.eye(2) * SPEED_M_S**2
    return np.append(fix.place_m, [0.0, 0.0]), covariance


def _step(lapse_s: float) -> tuple[Floats, Floats]:
    """Return transition (4, 4) and added covariance of a lapse (Singer's integrals)."""
    a = np.exp(-lapse_s / HOLDS_S)
    move = np.eye(4)
    move[0, 2] = move[1, 3] = HOLDS_S * (1.0 - a)
    move[2, 2] = move[3, 3] = a
    speed = SPEED_M_S**2
    pp = speed * HOLDS_S * (2.0 * lapse_s - HOLDS_S * (1.0 - a) * (3.0 - a))
    pv = speed * HOLDS_S * (1.0 - a) ** 2
    vv = speed * (1.0 - a * a)
    added = np.zeros((4, 4))
    for axis in (0, 1):
        added[axis, axis], added[axis + 2, axis + 2] = max(pp, 0.0), vv
        added[axis, axis + 2] = added[axis + 2, axis] = pv
    return move, added


def _go(state: Floats, covariance: Floats, lapse_s: float) -> tuple[Floats, Floats]:
    move, added = _step(lapse_s)
    return move @ state, move @ covariance @ move.T + added


def _smoothed(
    fixes: Sequence[PlacedFix],
    kept: list[int],
    held: list[tuple[Floats, Floats, Floats, Floats]],
    fits: tuple[bool, ...],
    gaps: Floats,
) -> SmoothWay:
    states, covariances = [held[-1][0]], [held[-1][1]]
    for k in range(len(kept) - 2, -1, -1):
        state, covariance, (_, _, before, wide) = *held[k][:2], held[k + 1]
        if np.array_equal(before, held[k + 1][0]):  # the way began anew there: nothing goes back
            states.append(state)
            covariances.append(covariance)
            continue
        move, _ = _step(fixes[kept[k + 1]].at_s - fixes[kept[k]].at_s)
        gain = covariance @ move.T @ np.linalg.inv(wide)
        states.append(state + gain @ (states[-1] - before))
        covariances.append(covariance + gain @ (covariances[-1] - wide) @ gain.T)
    return SmoothWay(
        at_s=np.array([fixes[n].at_s for n in kept]),
        state=np.array(states[::-1]),
        covariance=np.array(covariances[::-1]),
        fits=fits,
        gap_m=gaps,
    )


def spread(ellipse: Ellipse) -> Floats:
    """Return the covariance (2, 2), m², east first, whose 95 % ellipse this is."""
    turn = np.radians(ellipse.bearing_true_deg)
    axes = np.array([[np.sin(turn), -np.cos(turn)], [np.cos(turn), np.sin(turn)]])
    halves = np.array([ellipse.semi_major_m, ellipse.semi_minor_m]) ** 2 / ONE_IN_TWENTY
    return np.asarray(axes @ np.diag(np.maximum(halves, 1e-4)) @ axes.T)


def told(
    at: Sequence[datetime],
    places: Sequence[Position],
    covariances: Sequence[Floats],
    now: datetime,
) -> Track:
    """Return a vehicle's way from its fixes, oldest first, and where it is by it now."""
    plane = Plane.about(places[-1])
    start = at[0]
    found = way(
        [
            PlacedFix(
                at_s=(when - start).total_seconds(),
                place_m=np.array(plane.point(place.latitude_deg, place.longitude_deg)),
                covariance=covariance,
            )
            for when, place, covariance in zip(at, places, covariances, strict=True)
        ]
    )
    state, covariance = found.ahead((now - start).total_seconds())
    speed = float(np.hypot(state[2], state[3]))
    moving = state[2:] @ np.linalg.inv(covariance[2:, 2:]) @ state[2:] > ONE_IN_TWENTY
    return Track(
        now=plane.position(float(state[0]), float(state[1])),
        now_ellipse=ellipse_of(covariance[:2, :2]),
        speed_m_s=speed,
        course_true_deg=float(np.degrees(np.arctan2(state[2], state[3])) % 360.0)
        if moving
        else None,
        at=tuple(when for when, fits in zip(at, found.fits, strict=True) if fits),
        places=tuple(plane.position(float(one[0]), float(one[1])) for one in found.state),
        strays=tuple(
            (when, float(gap))
            for when, fits, gap in zip(at, found.fits, found.gap_m, strict=True)
            if not fits
        ),
    )
