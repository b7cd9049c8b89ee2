"""Where she may have been lost before any evidence: the intended track, and off it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

import numpy as np
import numpy.typing as npt
import scipy

from layers.datum.model import IntendedMovement, LastKnownPosition
from layers.earth import rhumb
from layers.earth.arrays import Floats
from layers.earth.clock import dtg
from layers.earth.errors import InputError
from layers.earth.geodesy import WGS84
from layers.earth.plane import Plane
from layers.earth.units import M_PER_NMI, M_S_PER_KN, S_PER_H

TWO_PI = 2.0 * np.pi
OFF_RHUMB_M = 60.0  # of a straight line between two vertices of a track


@dataclass(frozen=True, slots=True)
class States:
    """Particles: place on the plane in metres and time of loss in seconds after the start."""

    x_m: Floats
    y_m: Floats
    lost_s: Floats

    def __len__(self) -> int:
        return len(self.x_m)

    def take(self, rows: npt.NDArray[np.int64]) -> States:
        """Return these rows."""
        return States(self.x_m[rows], self.y_m[rows], self.lost_s[rows])


class Prior(Protocol):
    """A distribution of place and time of loss that can be drawn from and evaluated."""

    @property
    def words(self) -> str:
        """What is assumed, in words."""
        ...

    @property
    def start(self) -> datetime:
        """Earliest time of loss, UTC."""
        ...

    @property
    def span_s(self) -> float:
        """Seconds from then to the latest time of loss."""
        ...

    def draw(self, count: int, rng: np.random.Generator) -> States:
        """Return ``count`` states."""
        ...

    def log_density(self, states: States) -> Floats:
        """Return the log density per square metre and second, shape (n,)."""
        ...

    def under_way(self, states: States, at_s: Floats) -> tuple[Floats, Floats]:
        """Return where she was at a time before her loss, on her way to the place of it."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackPrior:
    """Lost anywhere between the last report and the missed one, along the intended track.

    The speed is equally likely between its limits, the time of loss equally likely over the
    span; the error of place starts at that of the last report and grows with time.

    Parameters
    ----------
    x_m, y_m : ndarray, shape (m,)
        Vertices of the track on the plane, the last known position first.
    """

    words: str
    start: datetime
    span_s: float
    x_m: Floats
    y_m: Floats
    sigma_m: float
    growth_m_per_s: float
    speed_min_m_s: float
    speed_max_m_s: float
    off_track_chance: float

    def _along(self) -> Floats:
        steps = np.hypot(np.diff(self.x_m), np.diff(self.y_m))
        return np.concatenate(([0.0], np.cumsum(steps)))

    def place_at(self, run_m: Floats) -> tuple[Floats, Floats]:
        """Return the places after a run along the track; past its end it goes straight on."""
        along = self._along()
        leg = np.clip(np.searchsorted(along, run_m, side="right") - 1, 0, len(along) - 2)
        part = (run_m - along[leg]) / (along[leg + 1] - along[leg])
        x = self.x_m[leg] + part * (self.x_m[leg + 1] - self.x_m[leg])
        y = self.y_m[leg] + part * (self.y_m[leg + 1] - self.y_m[leg])
        return x, y

    def spread_m(self, lost_s: Floats) -> Floats:
        """Return the standard deviation per axis after that time."""
        return np.hypot(self.sigma_m, self.growth_m_per_s * lost_s)

    def off_track_m(self, lost_s: Floats) -> Floats:
        """Return the standard deviation per axis for a boat that left her track."""
        return np.hypot(self.sigma_m, 0.5 * self.speed_max_m_s * lost_s)

    def draw(self, count: int, rng: np.random.Generator) -> States:
        """Return ``count`` states."""
        lost = rng.uniform(0.0, self.span_s, count)
        speed = rng.uniform(self.speed_min_m_s, self.speed_max_m_s, count)
        x, y = self.place_at(speed * lost)
        off = rng.random(count) < self.off_track_chance
        x = np.where(off, self.x_m[0], x)
        y = np.where(off, self.y_m[0], y)
        spread = np.where(off, self.off_track_m(lost), self.spread_m(lost))
        x += spread * rng.standard_normal(count)
        y += spread * rng.standard_normal(count)
        return States(x, y, lost)

    def under_way(self, states: States, at_s: Floats) -> tuple[Floats, Floats]:
        """Return where she was at a time before her loss, at an even speed along the track.

        What she is off the track at the loss has grown evenly.
        """
        run, best = np.zeros(len(states)), np.full(len(states), np.inf)
        along = self._along()
        for leg, start in enumerate(along[:-1]):
            length = along[leg + 1] - start
            east = (self.x_m[leg + 1] - self.x_m[leg]) / length
            north = (self.y_m[leg + 1] - self.y_m[leg]) / length
            dx, dy = states.x_m - self.x_m[leg], states.y_m - self.y_m[leg]
            part = np.clip(dx * east + dy * north, 0.0, None if leg == len(along) - 2 else length)
            away = (dx - part * east) ** 2 + (dy - part * north) ** 2
            run, best = np.where(away < best, start + part, run), np.minimum(best, away)
        there, then = self.place_at(run), np.clip(at_s / np.maximum(states.lost_s, 1.0), 0.0, 1.0)
        x, y = self.place_at(run * then)
        return x + then * (states.x_m - there[0]), y + then * (states.y_m - there[1])

    def log_density(self, states: States) -> Floats:
        """Return the log density per square metre and second, shape (n,).

        Notes
        -----
        With the run uniform between ``v_min t`` and ``v_max t`` and an isotropic normal error,
        each leg contributes a difference of two normal integrals along it times a normal density
        across it.
        """
        lost = states.lost_s
        inside = (lost >= 0.0) & (lost <= self.span_s)
        sigma = self.spread_m(lost)
        first, last = self.speed_min_m_s * lost, self.speed_max_m_s * lost
        width = np.maximum(last - first, 1e-3 * sigma)
        last = first + width
        density = np.zeros(len(states))
        along = self._along()
        legs = len(along) - 1
        for leg in range(legs):
            length = along[leg + 1] - along[leg]
            east = (self.x_m[leg + 1] - self.x_m[leg]) / length
            north = (self.y_m[leg + 1] - self.y_m[leg]) / length
            dx, dy = states.x_m - self.x_m[leg], states.y_m - self.y_m[leg]
            run, off = dx * east + dy * north, dx * north - dy * east
            low = np.maximum(first, along[leg]) - along[leg]
            high = last - along[leg] if leg == legs - 1 else np.minimum(last, along[leg + 1])
            high = high if leg == legs - 1 else high - along[leg]
            covered = high > low
            ends = scipy.special.ndtr(np.stack((high - run, low - run)) / sigma)
            part = ends[0] - ends[1]
            across = np.exp(-0.5 * (off / sigma) ** 2) / (sigma * np.sqrt(TWO_PI))
            density += np.where(covered, part * across / width, 0.0)
        spread = self.off_track_m(lost)
        squared = ((states.x_m - self.x_m[0]) ** 2 + (states.y_m - self.y_m[0]) ** 2) / spread**2
        off_track = np.exp(-0.5 * squared) / (TWO_PI * spread**2)
        density = (1.0 - self.off_track_chance) * density + self.off_track_chance * off_track
        with np.errstate(divide="ignore"):
            return np.where(inside, np.log(density / self.span_s), -np.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class DiscPrior:
    """Equally likely anywhere in a circle and at any time of a span: no track is known."""

    words: str
    start: datetime
    span_s: float
    centre_x_m: float
    centre_y_m: float
    radius_m: float

    def draw(self, count: int, rng: np.random.Generator) -> States:
        """Return ``count`` states."""
        out = self.radius_m * np.sqrt(rng.random(count))
        turn = rng.uniform(0.0, TWO_PI, count)
        lost = rng.uniform(0.0, self.span_s, count)
        return States(
            self.centre_x_m + out * np.sin(turn), self.centre_y_m + out * np.cos(turn), lost
        )

    def under_way(self, states: States, at_s: Floats) -> tuple[Floats, Floats]:
        """Return where she was at a time before her loss: straight on from the middle."""
        then = np.clip(at_s / np.maximum(states.lost_s, 1.0), 0.0, 1.0)
        return (
            self.centre_x_m + then * (states.x_m - self.centre_x_m),
            self.centre_y_m + then * (states.y_m - self.centre_y_m),
        )

    def log_density(self, states: States) -> Floats:
        """Return the log density per square metre and second, shape (n,)."""
        out = np.hypot(states.x_m - self.centre_x_m, states.y_m - self.centre_y_m)
        inside = (out <= self.radius_m) & (states.lost_s >= 0.0) & (states.lost_s <= self.span_s)
        level = -np.log(np.pi * self.radius_m**2 * self.span_s)
        return np.where(inside, level, -np.inf)


def places_m(prior: Prior, count: int = 2_000) -> tuple[Floats, Floats]:
    """Return some places of a prior, east and north on the plane, each of shape (count,)."""
    states = prior.draw(count, np.random.default_rng(2))
    return states.x_m, states.y_m


def area_m2(prior: Prior) -> float:
    """Return the area of the 95 % ellipse of a prior, square metres."""
    spread = np.cov(*places_m(prior))
    return float(np.pi * 5.991 * np.sqrt(max(np.linalg.det(spread), 0.0)))


def track_vertices(known: LastKnownPosition, movement: IntendedMovement) -> tuple[Floats, Floats]:
    """Return latitudes and longitudes of the intended track, the last known position first.

    Every leg is a rhumb line, a course and length as well as a pair of waypoints; it gets as
    many vertices as keep the straight lines between them within `OFF_RHUMB_M` of it.
    """
    lat, lon = [known.latitude_deg], [known.longitude_deg]
    if movement.waypoints:
        ends = [(point.latitude_deg, point.longitude_deg) for point in movement.waypoints]
    else:
        assert movement.length_nmi is not None  # the model refuses a track without either
        end = rhumb.forward(
            lat[0], lon[0], movement.course_true_deg or 0.0, movement.length_nmi * M_PER_NMI
        )
        ends = [(float(end[0]), float(end[1]))]
    for end_lat, end_lon in ends:
        leg_lat, leg_lon = _rhumb_leg(lat[-1], lon[-1], end_lat, end_lon)
        lat += [float(value) for value in leg_lat]
        lon += [float(value) for value in leg_lon]
    return np.array(lat), np.array(lon)


def _rhumb_leg(lat0: float, lon0: float, lat1: float, lon1: float) -> tuple[Floats, Floats]:
    """Return the vertices of a rhumb line after its first."""
    run = rhumb.inverse(lat0, lon0, lat1, lon1)
    length, course = float(run.distance_m), float(run.bearing_true_deg)
    if length < 1.0:
        return np.array([lat1]), np.array([lon1])
    for count in (1, 2, 4, 8, 16, 32):
        ends = np.linspace(0.0, length, count + 1)
        lat, lon = rhumb.forward(lat0, lon0, course, ends)
        middle_lat, middle_lon = rhumb.forward(lat0, lon0, course, 0.5 * (ends[:-1] + ends[1:]))
        azimuth, _, metres = WGS84.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
        half_lon, half_lat, _ = WGS84.fwd(lon[:-1], lat[:-1], azimuth, np.asarray(metres) / 2.0)
        off = WGS84.inv(half_lon, half_lat, middle_lon, middle_lat)[2]
        if float(np.max(off)) <= OFF_RHUMB_M:
            break
    return np.asarray(lat)[1:], np.asarray(lon)[1:]


def from_track(
    plane: Plane, known: LastKnownPosition, reported_at: datetime, movement: IntendedMovement
) -> TrackPrior:
    """Return the prior of a last known position and an intended movement."""
    assert movement.speed_min_kn is not None
    assert movement.speed_max_kn is not None
    assert movement.report_due is not None  # filled by layers.datum.before.movement
    lat, lon = track_vertices(known, movement)
    x, y = plane.project(lat, lon)
    moved = np.concatenate(([True], np.hypot(np.diff(x), np.diff(y)) > 1.0))
    x, y = x[moved], y[moved]
    span_s = (movement.report_due - reported_at).total_seconds()
    if span_s <= 0.0:
        raise InputError(
            f"the next report was due at {dtg(movement.report_due)}, not after the last one at "
            f"{dtg(reported_at)}",
            where="intended movement",
            accepted="a report_due after the last known position",
        )
    if len(x) < 2:
        raise InputError(
            "the intended track never leaves the last known position",
            where="intended movement",
            accepted="waypoints ahead of it, or a course and length",
        )
    return TrackPrior(
        words=(
            f"lost at any time from the last report to {movement.report_due:%d%H%M}Z, along the "
            f"intended track at {movement.speed_min_kn:g} to {movement.speed_max_kn:g} kn, "
            f"off it with a chance of {movement.off_track_chance:.0%}, and straight on past its end"
        ),
        start=reported_at,
        span_s=span_s,
        x_m=x,
        y_m=y,
        sigma_m=known.sigma_m,
        growth_m_per_s=movement.navigation_sigma_nmi_per_h * M_PER_NMI / S_PER_H,
        speed_min_m_s=movement.speed_min_kn * M_S_PER_KN,
        speed_max_m_s=movement.speed_max_kn * M_S_PER_KN,
        off_track_chance=movement.off_track_chance,
    )
