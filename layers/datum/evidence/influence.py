"""What each report does to the answer: without it, how well it agrees, and what moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from layers.datum.containment import Grid, close_grid, radius_holding
from layers.datum.evidence.evidence import Built
from layers.datum.evidence.likelihood import BearingTerm, DifferenceTerm, PlaceTerm, RangeTerm
from layers.datum.heaps import Heap, heaps_of
from layers.datum.particles import Cloud, Term, thinned, without
from layers.datum.prior import Prior, States
from layers.datum.result import Evidence
from layers.earth.clock import clock_words, day_hhmm
from layers.earth.quantity import figure
from layers.earth.units import M_PER_NMI

Floats = npt.NDArray[np.float64]
DOUBTFUL, WRONG = 0.2, 0.5
MISFIT = "does not fit the rest"
THIN = 25_000  # particles enough to tell what one report does


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Grid, heaps, most probable place and the radius that holds 95 % about it, on the plane."""

    grid: Grid
    heaps: tuple[Heap, ...]
    centre_m: tuple[float, float]
    radius_m: float


def answer_of(states: States, weight: Floats) -> Answer:
    """Return grid, most probable place and radius of weighted places."""
    grid = close_grid(states.x_m, states.y_m, weight)
    heaps = heaps_of(grid)
    centre = heaps[0].centre_m
    radius = radius_holding(states.x_m, states.y_m, weight, centre)
    return Answer(grid=grid, heaps=heaps, centre_m=centre, radius_m=radius)


def judged(
    prior: Prior, built: list[Built], cloud: Cloud, first: Cloud, answer: Answer, seed: int
) -> tuple[tuple[Evidence, ...], tuple[str, ...]]:
    """Return the reports with their effect and agreement, and a sentence for each misfit."""
    terms = [item.term for item in built if item.term is not None]
    thin = thinned(cloud, THIN)
    found: list[Evidence] = []
    said: list[str] = []
    row = 0
    for item in built:
        if item.term is None:
            found.append(item.evidence)
            continue
        states, weight = without(prior, terms, first, thin, [row], seed + row)
        judgement = _judge(item, item.term, states, weight, answer)
        found.append(judgement)
        if judgement.agreement == MISFIT:
            said.append(
                f"{judgement.says} at {day_hhmm(judgement.at)} does not fit the other reports"
                f"{judgement.residual and ' (' + judgement.residual + ')'}: "
                f"{judgement.chance_wrong:.0%} likely to be wrong."
            )
        row += 1
    return tuple(found), tuple(said)


def _judge(item: Built, term: Term, states: States, weight: Floats, answer: Answer) -> Evidence:
    """Return one report with what the answer would be without it, and how well it agrees."""
    other = answer_of(states, weight)
    shift = np.hypot(other.centre_m[0] - answer.centre_m[0], other.centre_m[1] - answer.centre_m[1])
    expected = float((weight * term.likelihood(states)).sum())
    chance: float | None = None
    agreement = ""
    if item.tail is not None and expected > 0.0:
        chance = min(item.tail / expected, 1.0)
        agreement = MISFIT if chance > WRONG else "doubtful" if chance > DOUBTFUL else "agrees"
        if isinstance(term.likelihood, PlaceTerm) and not term.likelihood.identified:
            agreement, chance = f"her with a chance of {1.0 - chance:.0%}", None
    elif item.evidence.kind == "datum.negative_search":
        agreement = f"would have seen her with {1.0 - expected:.0%}"
    return replace(
        item.evidence,
        chance_wrong=chance,
        shift_m=float(shift),
        radius_without_m=other.radius_m,
        residual=_residual(term, answer, states, weight),
        agreement=agreement,
    )


def _residual(term: Term, answer: Answer, states: States, weight: Floats) -> str:
    """Return how far the report lies from the rest, in its own unit and in words."""
    likelihood = term.likelihood
    if isinstance(likelihood, BearingTerm):
        off, _ = likelihood.residual_deg(states)
        return f"{_middle(off, weight):+.1f}° from where the others put her"
    if isinstance(likelihood, RangeTerm | DifferenceTerm):
        off, _ = likelihood.residual_m(states)
        return f"{figure(_middle(off, weight), 0, plus=True)} m from where the others put her"
    return ""


def _middle(values: Floats, weight: Floats) -> float:
    order = np.argsort(values)
    edges = np.cumsum(weight[order])
    return float(values[order[int(np.searchsorted(edges, 0.5 * edges[-1]))]])


def moved_since(
    prior: Prior,
    built: list[Built],
    cloud: Cloud,
    first: Cloud,
    answer: Answer,
    now: datetime,
    hours: float,
    seed: int,
    starts: Sequence[tuple[str, datetime]] = (),
) -> str:
    """Return in one sentence what the reports of the last hours did to the datum.

    ``starts`` are what the prior rests on, by name, with when each was heard.
    """
    since = now - timedelta(hours=hours)
    begun = [f"{name}, heard {clock_words(at, now)}" for name, at in starts if at > since]
    counting = [item for item in built if item.term is not None]
    rows = [row for row, item in enumerate(counting) if item.evidence.heard_at > since]
    if begun:
        return f"Since {clock_words(since, now)} the datum begins: {'; '.join(begun)}."
    if not rows:
        return f"Nothing heard since {clock_words(since, now)} bears on the datum."
    terms = [item.term for item in counting if item.term is not None]
    states, weight = without(prior, terms, first, thinned(cloud, THIN), rows, seed + 977)
    before = answer_of(states, weight)
    east = answer.centre_m[0] - before.centre_m[0]
    north = answer.centre_m[1] - before.centre_m[1]
    bearing = float(np.degrees(np.arctan2(east, north)) % 360.0)
    named = "; ".join(counting[row].evidence.says for row in rows[:3])
    more = f" and {len(rows) - 3} more" if len(rows) > 3 else ""
    distance_nmi = float(np.hypot(east, north)) / M_PER_NMI
    return (
        f"Since {clock_words(since, now)} the datum moved {distance_nmi:.1f} nmi "
        f"towards {bearing:03.0f}° and its 95 % radius went from "
        f"{before.radius_m / M_PER_NMI:.1f} to {answer.radius_m / M_PER_NMI:.1f} nmi, by "
        f"{named}{more}."
    )
