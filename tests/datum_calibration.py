"""Simulated losses: how often the 95 % circle holds the truth."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np

from layers.datum.containment import grid_of, smallest_circle
from layers.datum.evidence.likelihood import BearingTerm, RangeTerm
from layers.datum.evidence.plane import Plane, range_bearing
from layers.datum.evidence.searched import NotSeenTerm
from layers.datum.particles import Term, estimate
from layers.datum.prior import TrackPrior

PLANE = Plane(49.83, -8.5)
PARTICLES = 12_000  # fewer than the 200,000 in use serve here
BEARINGS = 5
WRONG_DEG = 10.0


def prior() -> TrackPrior:
    """Return the prior that every loss is drawn from."""
    return TrackPrior(
        words="",
        start=datetime(2027, 3, 12, 22, 0, tzinfo=UTC),
        span_s=8 * 3_600.0,
        x_m=np.array([-60_000.0, 0.0, 55_000.0]),
        y_m=np.array([-20_000.0, 0.0, 30_000.0]),
        sigma_m=900.0,
        growth_m_per_s=0.13,
        speed_min_m_s=3.7,
        speed_max_m_s=4.5,
        off_track_chance=0.05,
    )


def coverage_counts(losses: int, *, wrong_one_in_five: bool, seed: int = 20_270_313) -> int:
    """Return in how many of the losses the 95 % circle holds the truth."""
    return sum(_held(seed + number, wrong_one_in_five) for number in range(losses))


def _held(seed: int, wrong_one_in_five: bool) -> bool:
    rng = np.random.default_rng(seed)
    start = prior()
    truth = start.draw(1, rng)
    x, y = float(truth.x_m[0]), float(truth.y_m[0])
    terms = [Term(key="searched", likelihood=_search(x, y, rng))]
    for number in range(BEARINGS):
        wrong = wrong_one_in_five and number == 0
        terms.append(Term(key=str(number), likelihood=_bearing(x, y, rng, wrong)))
    terms.append(Term(key="range", likelihood=_range(x, y, rng)))
    cloud, _ = estimate(start, terms, seed, PARTICLES, enough=1_500.0)
    places = cloud.states.x_m, cloud.states.y_m, cloud.weight
    centre, radius = smallest_circle(*places, grid_of(*places))
    return bool(np.hypot(centre[0] - x, centre[1] - y) <= radius)


def _post(x: float, y: float, rng: np.random.Generator) -> dict[str, float]:
    turn, metres = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(6_000.0, 20_000.0)
    place = PLANE.position(x + metres * np.sin(turn), y + metres * np.cos(turn))
    return {"latitude_deg": place.latitude_deg, "longitude_deg": place.longitude_deg}


def _bearing(x: float, y: float, rng: np.random.Generator, wrong: bool) -> BearingTerm:
    post = _post(x, y, rng)
    _, true_deg = range_bearing(PLANE, *post.values(), np.array([x]), np.array([y]))
    error = WRONG_DEG * rng.choice([-1.0, 1.0]) if wrong else 2.0 * rng.standard_normal()
    return BearingTerm(
        plane=PLANE,
        **post,
        bearing_true_deg=float(true_deg[0] + error) % 360.0,
        sigma_deg=2.0,
        position_sigma_m=50.0,
        wrong=0.07,
    )


def _range(x: float, y: float, rng: np.random.Generator) -> RangeTerm:
    post = _post(x, y, rng)
    metres, _ = range_bearing(PLANE, *post.values(), np.array([x]), np.array([y]))
    return RangeTerm(
        plane=PLANE,
        **post,
        horizontal_m=[float(metres[0] + 400.0 * rng.standard_normal())],
        sigma_m=400.0,
        position_sigma_m=0.0,
        wrong=0.02,
    )


def _search(x: float, y: float, rng: np.random.Generator) -> NotSeenTerm:
    """Return a search that truly saw nothing: laid anew until it would have missed her."""
    while True:
        turn = rng.uniform(0.0, 2.0 * np.pi)
        off = 5_000.0 * rng.standard_normal(2)
        along = 10_000.0 * np.array([np.sin(turn), np.cos(turn)])
        ends = np.array([x, y]) + off + np.array([[-1.0], [1.0]]) * along
        term = NotSeenTerm(x_m=ends[:, 0], y_m=ends[:, 1], sweep_width_m=2_000.0,
                           curve="inverse cube")  # fmt: skip
        if rng.random() > term.detected(np.array([x]), np.array([y]))[0]:
            return term
