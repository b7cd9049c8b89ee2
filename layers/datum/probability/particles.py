"""Weighted particles over place and time of loss, updated by every piece of evidence.

The first particles come from the prior and are weighted. When too few of them still count, the
cloud has collapsed: it is then led to the evidence in steps (the likelihood raised to a growing
power), resampled and moved at each, and the answer says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, runtime_checkable

import numpy as np
import numpy.typing as npt

from layers.datum.before.prior import Prior, States
from layers.datum.evidence.likelihood import Likelihood
from layers.earth.arrays import Floats

COUNT = 200_000
PILOT = 16_000
ENOUGH = 4_000.0  # effective particles below which a weighted cloud counts as collapsed
SETTLE = 8  # rounds that let the shares of separate heaps settle
QUICK = 6_000
QUICK_ENOUGH = 400.0
AIMED_SHARE, AIMED_MOST = 0.15, 0.6  # of the particles, drawn by one such term and by all


@runtime_checkable
class Aimed(Protocol):
    """A likelihood that knows its place so well that it must draw particles itself."""

    def draw(self, count: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Return east and north of places to try, each of shape (count,)."""
        ...

    def density(self, x_m: Floats, y_m: Floats) -> Floats:
        """Return the density per square metre that they are drawn with, shape (n,)."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One piece of evidence as it counts: its likelihood, and a weight 0 to 1."""

    key: str
    likelihood: Likelihood
    weight: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cloud:
    """Particles with weights that add up to 1.

    Parameters
    ----------
    states : States
        Places and times of loss.
    weight : ndarray, shape (n,)
        Non-negative, sum 1.
    log_terms : ndarray, shape (terms, n)
        Weighted log likelihood of each term.
    effective : float
        Effective number of the particles first drawn from the prior.
    stages : int
        Steps of resampling that were needed; 0 when the first cloud was good enough.
    log_base : ndarray, shape (n,)
        Log of prior over the density it was drawn from, for a cloud still weighted; 0 when led.
    """

    states: States
    weight: Floats
    log_terms: Floats
    effective: float
    stages: int
    log_base: Floats


def thinned(cloud: Cloud, count: int) -> Cloud:
    """Return every so-manieth particle of a cloud, about ``count`` in all."""
    step = max(len(cloud.states) // count, 1)
    weight = cloud.weight[::step]
    return Cloud(
        states=States(
            cloud.states.x_m[::step], cloud.states.y_m[::step], cloud.states.lost_s[::step]
        ),
        weight=weight / weight.sum(),
        log_terms=cloud.log_terms[:, ::step],
        effective=cloud.effective,
        stages=cloud.stages,
        log_base=cloud.log_base[::step],
    )


def effective_number(weight: Floats) -> float:
    """Return the number of equal particles that these weights (sum 1) are worth."""
    return float(1.0 / np.sum(weight**2))


def weights(log_weight: Floats) -> Floats:
    """Return weights that add up to 1; all equal when nothing is possible."""
    top = log_weight.max()
    if not np.isfinite(top):
        return np.full(len(log_weight), 1.0 / len(log_weight))
    raw = np.exp(log_weight - top)
    return np.asarray(raw / raw.sum())


def systematic(weight: Floats, count: int, rng: np.random.Generator) -> npt.NDArray[np.int64]:
    """Return rows drawn in proportion to their weights, evenly spread."""
    marks = (np.arange(count) + rng.random()) / count
    edges = np.cumsum(weight)
    edges[-1] = 1.0 + 1e-12
    return np.searchsorted(edges, marks).astype(np.int64)


def log_likelihoods(terms: Sequence[Term], states: States) -> Floats:
    """Return the weighted log likelihood of each term, shape (terms, n)."""
    found = np.zeros((len(terms), len(states)))
    with np.errstate(divide="ignore"):
        for row, term in enumerate(terms):
            if term.weight > 0.0:
                found[row] = term.weight * np.log(term.likelihood(states))
    return found


def estimate(
    prior: Prior,
    terms: Sequence[Term],
    seed: int,
    count: int = COUNT,
    enough: float = ENOUGH,
    aims: Sequence[Aimed] = (),
) -> tuple[Cloud, Cloud]:
    """Return the cloud after all evidence, and the first one drawn from the prior.

    ``aims`` draw particles where the evidence may meet, beside the terms that know their place.

    The first cloud (weighted by nothing but the prior) serves to leave evidence out again.
    """
    rng = np.random.default_rng(seed)
    states, log_base = _drawn(prior, terms, aims, count, rng)
    log_terms = log_likelihoods(terms, states)
    weight = weights(log_base + log_terms.sum(axis=0))
    effective = effective_number(weight)
    first = Cloud(
        states=states,
        weight=weights(log_base),
        log_terms=log_terms,
        effective=float(count),
        stages=0,
        log_base=log_base,
    )
    if effective >= enough:
        return replace(first, weight=weight, effective=effective), first
    return _led(prior, terms, states, log_terms, log_base, effective, count, rng), first


def _drawn(
    prior: Prior,
    terms: Sequence[Term],
    aims: Sequence[Aimed],
    count: int,
    rng: np.random.Generator,
) -> tuple[States, Floats]:
    """Return the first particles, and the log of the prior over the density they were drawn from.

    A place known to metres is a needle in a prior of tens of miles: no particle of the prior
    lies near it and none would ever be led there. So each term that knows its place draws a part
    of the particles itself; weighted by prior over mixture they stand for the prior unchanged.
    """
    knowing: list[object] = [term.likelihood for term in terms if term.weight > 0.0]
    aimed = [*aims, *(likelihood for likelihood in knowing if isinstance(likelihood, Aimed))]
    states = prior.draw(count, rng)
    if not aimed:
        return states, np.zeros(count)
    share = min(AIMED_SHARE, AIMED_MOST / len(aimed))
    part = int(count * share)
    for number, term in enumerate(aimed):
        rows = slice(number * part, (number + 1) * part)
        states.x_m[rows], states.y_m[rows] = term.draw(part, rng)
        states.lost_s[rows] = rng.uniform(0.0, prior.span_s, part)
    log_prior = prior.log_density(states)
    mixed = (1.0 - share * len(aimed)) * np.exp(log_prior)
    for term in aimed:
        mixed += share * term.density(states.x_m, states.y_m) / prior.span_s
    return states, np.where(np.isfinite(log_prior), log_prior - np.log(mixed), -np.inf)


def without(
    prior: Prior,
    terms: Sequence[Term],
    first: Cloud,
    found: Cloud,
    changed: Mapping[int, Term | None],
    seed: int,
) -> tuple[States, Floats]:
    """Return places and weights for all evidence but some.

    Reweights what is at hand where enough particles still count, else leads a smaller cloud.

    Parameters
    ----------
    changed : mapping of int to Term or None
        What stands in the row of a term instead; None: nothing.
    """
    instead = [term for term in changed.values() if term is not None]
    for cloud in (found, first):
        rest = np.delete(cloud.log_terms, list(changed), axis=0).sum(axis=0)
        if instead:
            rest = rest + log_likelihoods(instead, cloud.states).sum(axis=0)
        # Led particles follow the whole posterior: take the part left out away again.
        counted = cloud.log_terms.sum(axis=0) if cloud is found and found.stages else 0.0
        weight = weights(cloud.log_base + rest - counted)
        if effective_number(weight) >= QUICK_ENOUGH:
            return cloud.states, weight
    kept = [changed.get(row, term) for row, term in enumerate(terms)]
    left = [term for term in kept if term is not None]
    rng = np.random.default_rng(seed)
    rows = log_likelihoods(left, first.states)
    led = _led(prior, left, first.states, rows, first.log_base, 0.0, QUICK, rng, pilot=QUICK)
    return led.states, led.weight


def _led(
    prior: Prior,
    terms: Sequence[Term],
    states: States,
    log_terms: Floats,
    log_base: Floats,
    effective: float,
    count: int,
    rng: np.random.Generator,
    pilot: int = PILOT,
) -> Cloud:
    """Return a cloud led from the prior to the evidence in steps."""
    total = log_terms.sum(axis=0)
    power = _next_power(total, 0.0, min(pilot, len(states) // 4) / len(states), log_base)
    rows = systematic(weights(log_base + power * total), min(pilot, count), rng)
    held, stages = states.take(rows), 1
    held, log_held = _moved(prior, terms, held, log_terms[:, rows], power, 1, rng)
    while power < 1.0:
        total = log_held.sum(axis=0)
        step = _next_power(total, power, 0.4)
        rows = systematic(weights((step - power) * total), len(held), rng)
        held, power, stages = held.take(rows), step, stages + 1
        held, log_held = _moved(prior, terms, held, log_held[:, rows], power, 3, rng)
    held, log_held = _moved(prior, terms, held, log_held, 1.0, SETTLE, rng)
    if count > len(held):
        rows = systematic(np.full(len(held), 1.0 / len(held)), count, rng)
        held, log_held = _moved(prior, terms, held.take(rows), log_held[:, rows], 1.0, 2, rng)
    return Cloud(
        states=held,
        weight=np.full(len(held), 1.0 / len(held)),
        log_terms=log_held,
        effective=effective,
        stages=stages,
        log_base=np.zeros(len(held)),
    )


def _next_power(total: Floats, power: float, keep: float, log_base: Floats | float = 0.0) -> float:
    """Return the power up to 1 at which this part of the particles still counts."""
    if effective_number(weights(log_base + (1.0 - power) * total)) >= keep * len(total):
        return 1.0
    low, high = 0.0, 1.0 - power
    for _ in range(40):
        middle = 0.5 * (low + high)
        if effective_number(weights(log_base + middle * total)) >= keep * len(total):
            low = middle
        else:
            high = middle
    return power + max(low, 1e-6)


def _moved(
    prior: Prior,
    terms: Sequence[Term],
    states: States,
    log_terms: Floats,
    power: float,
    rounds: int,
    rng: np.random.Generator,
) -> tuple[States, Floats]:
    """Return states moved by Metropolis steps along differences of other particles.

    The step between two particles of the cloud fits its shape by itself, so a crescent or two
    separate places are walked as easily as a circle (ter Braak 2006, differential evolution
    Markov chain; from memory).
    """
    count = len(states)
    log_here = prior.log_density(states) + power * log_terms.sum(axis=0)
    pool = states
    jitter = [0.02 * np.std(column) + 1e-9 for column in (pool.x_m, pool.y_m, pool.lost_s)]
    for _ in range(rounds):
        one, two = rng.integers(0, count, count), rng.integers(0, count, count)
        # whole differences carry particles from heap to heap, so that their shares come right
        size = np.where(rng.random(count) < 0.5, 1.0, 0.3)
        step = [
            column + size * (other[one] - other[two]) + noise * rng.standard_normal(count)
            for column, other, noise in zip(
                (states.x_m, states.y_m, states.lost_s),
                (pool.x_m, pool.y_m, pool.lost_s),
                jitter,
                strict=True,
            )
        ]
        # half keep their time of loss: a step out of its span would only be refused
        step[2] = np.where(rng.random(count) < 0.5, states.lost_s, step[2])
        tried = States(*step)
        tried_terms = log_likelihoods(terms, tried)
        log_there = prior.log_density(tried) + power * tried_terms.sum(axis=0)
        with np.errstate(invalid="ignore"):
            take = np.log(rng.random(count)) < log_there - log_here
        states = States(
            np.where(take, tried.x_m, states.x_m),
            np.where(take, tried.y_m, states.y_m),
            np.where(take, tried.lost_s, states.lost_s),
        )
        log_terms = np.where(take, tried_terms, log_terms)
        log_here = np.where(take, log_there, log_here)
    return states, log_terms
