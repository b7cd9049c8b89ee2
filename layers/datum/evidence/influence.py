"""What each report does to the answer: without it, how well it agrees, and what moved."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from layers.datum.before.prior import Prior, States
from layers.datum.evidence.counted import Counted
from layers.datum.evidence.likelihood import BearingTerm, DifferenceTerm, PlaceTerm, RangeTerm
from layers.datum.evidence.setting import Built
from layers.datum.evidence.shared import SharedTerm
from layers.datum.evidence.timed import TimedReport
from layers.datum.probability.containment import Grid, close_grid, radius_holding
from layers.datum.probability.heaps import Heap, heaps_of
from layers.datum.probability.particles import Cloud, thinned, without
from layers.datum.result import Evidence, OwnerEffect
from layers.earth.arrays import Floats
from layers.earth.clock import clock_words, day_hhmm
from layers.earth.said.quantity import figure
from layers.earth.units import M_PER_NMI

# A report is accused when it is WRONG with such a chance, or OFF with such a one by twice what it
# states or more: of those accused 95 in 100 shall be wrong indeed, also where two of five agree on
# a false place (tests/datum_calibration.py).
DOUBTFUL, WRONG, OFF = 0.2, 0.85, 0.95
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimated:
    """An estimate with all that it was made from, to leave reports out again."""

    prior: Prior
    built: tuple[Built, ...]
    counted: Counted
    cloud: Cloud
    first: Cloud
    thin: Cloud
    answer: Answer
    seed: int

    def without(self, keys: Collection[str], draw: int) -> tuple[States, Floats]:
        """Return places and weights without some reports."""
        changed = self.counted.less(keys)
        return without(
            self.prior, self.counted.terms, self.first, self.thin, changed, self.seed + draw
        )

    def shift_m(self, other: Answer) -> float:
        """Return how far another answer lies from this one."""
        return float(
            np.hypot(
                other.centre_m[0] - self.answer.centre_m[0],
                other.centre_m[1] - self.answer.centre_m[1],
            )
        )


def estimated(
    prior: Prior,
    built: Sequence[Built],
    counted: Counted,
    clouds: tuple[Cloud, Cloud],
    seed: int,
) -> Estimated:
    """Return an estimate ready to have reports left out."""
    cloud, first = clouds
    return Estimated(
        prior=prior,
        built=tuple(built),
        counted=counted,
        cloud=cloud,
        first=first,
        thin=thinned(cloud, THIN),
        answer=answer_of(cloud.states, cloud.weight),
        seed=seed,
    )


def judged(made: Estimated) -> tuple[tuple[Evidence, ...], tuple[str, ...]]:
    """Return the reports with their effect and agreement, and a sentence for each misfit."""
    found: list[Evidence] = []
    said: list[str] = []
    for number, item in enumerate(made.built):
        if item.term is None:
            found.append(item.evidence)
            continue
        states, weight = made.without([item.term.key], number)
        judgement = _judge(made, item, states, weight)
        found.append(judgement)
        if judgement.agreement == MISFIT:
            said.append(
                f"{judgement.says} at {day_hhmm(judgement.at)} does not fit the other reports"
                f"{judgement.residual and ' (' + judgement.residual + ')'}: "
                f"{judgement.chance_wrong:.0%} likely to be off by much more than it states."
            )
    return tuple(found), tuple(said)


def owners(made: Estimated) -> tuple[OwnerEffect, ...]:
    """Return what the reports that share one owner's error add together, the most first."""
    found = []
    for number, (owner, keys) in enumerate(made.counted.owners.items()):
        other = answer_of(*made.without(keys, 500 + number))
        found.append(
            OwnerEffect(
                owner=owner,
                reports=len(keys),
                shift_m=made.shift_m(other),
                radius_without_m=other.radius_m,
            )
        )
    return tuple(sorted(found, key=lambda effect: -effect.radius_without_m))


def _judge(made: Estimated, item: Built, states: States, weight: Floats) -> Evidence:
    """Return one report with what the answer would be without it, and how well it agrees."""
    other = answer_of(states, weight)
    expected, wrong, off = _expected(made.counted, item, states, weight)
    chance: float | None = None
    agreement = ""
    likelihood: Any = item.term.likelihood if item.term is not None else None
    plain = likelihood.likelihood if isinstance(likelihood, TimedReport) else likelihood
    if wrong is not None and expected > 0.0:
        chance, beyond = min(wrong / expected, 1.0), min(off / expected, 1.0)
        accused = chance > WRONG or beyond > OFF
        agreement = MISFIT if accused else "doubtful" if chance > DOUBTFUL else "agrees"
        chance = max(chance, beyond) if accused else chance
        if isinstance(plain, PlaceTerm) and not plain.identified:
            agreement, chance = f"her with a chance of {1.0 - chance:.0%}", None
    elif item.evidence.kind == "datum.negative_search":
        agreement = f"would have seen her with {1.0 - expected:.0%}"
    elif item.evidence.kind == "datum.not_heard":
        agreement = f"would have heard her with {1.0 - expected:.0%}"
    return replace(
        item.evidence,
        chance_wrong=chance,
        shift_m=made.shift_m(other),
        radius_without_m=other.radius_m,
        residual=_residual(plain, states, weight),
        agreement=agreement,
    )


def _expected(
    counted: Counted, item: Built, states: States, weight: Floats
) -> tuple[float, float | None, float]:
    """Return how likely the others make the report, how likely as a wrong one, and as one far off.

    A report that shares its owner's error is read with what his other reports say of it.
    """
    assert item.term is not None  # only reports that count are judged
    likelihood: Any = item.term.likelihood
    term = counted.terms[counted.row_of[item.term.key]].likelihood
    if isinstance(term, SharedTerm):
        rest = term.without([item.term.key])
        if rest is not None:
            # what its owner's other reports say of his error is in the joint likelihood only
            with np.errstate(divide="ignore", invalid="ignore"):
                ratio = np.where(rest(states) > 0.0, term(states) / rest(states), 0.0)
            wrong = float((weight * likelihood.wrong_part(states)).sum())
            return float((weight * ratio).sum()), wrong, wrong
    expected = float((weight * likelihood(states)).sum())
    if not hasattr(likelihood, "wrong_part"):
        return expected, None, 0.0
    wrong = float((weight * likelihood.wrong_part(states)).sum())
    if not hasattr(likelihood, "doubled_part"):
        return expected, wrong, wrong
    return expected, wrong, wrong + float((weight * likelihood.doubled_part(states)).sum())


def _residual(likelihood: Any, states: States, weight: Floats) -> str:
    """Return how far the report lies from the rest, in its own unit and in words."""
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
    made: Estimated, now: datetime, hours: float, starts: Sequence[tuple[str, datetime]] = ()
) -> str:
    """Return in one sentence what the reports of the last hours did to the datum.

    ``starts`` are what the prior rests on, by name, with when each was heard.
    """
    since = now - timedelta(hours=hours)
    begun = [f"{name}, heard {clock_words(at, now)}" for name, at in starts if at > since]
    fresh = [
        item for item in made.built if item.term is not None and item.evidence.heard_at > since
    ]
    if begun:
        return f"Since {clock_words(since, now)} the datum begins: {'; '.join(begun)}."
    if not fresh:
        return f"No report of the last {hours:g} h bears on the datum."
    before = answer_of(*made.without([item.evidence.key for item in fresh], 977))
    answer = made.answer
    east = answer.centre_m[0] - before.centre_m[0]
    north = answer.centre_m[1] - before.centre_m[1]
    bearing = float(np.degrees(np.arctan2(east, north)) % 360.0)
    named = "; ".join(item.evidence.says for item in fresh[:3])
    more = f" and {len(fresh) - 3} more" if len(fresh) > 3 else ""
    distance_nmi = float(np.hypot(east, north)) / M_PER_NMI
    return (
        f"Since {clock_words(since, now)} the datum moved {distance_nmi:.1f} nmi "
        f"towards {bearing:03.0f}°T and its 95 % radius went from "
        f"{before.radius_m / M_PER_NMI:.1f} to {answer.radius_m / M_PER_NMI:.1f} nmi, by "
        f"{named}{more}."
    )
