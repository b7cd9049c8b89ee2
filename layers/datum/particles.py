"""Weighted particles over place and time of loss, updated by every piece of evidence.

The first particles come from the prior and are weighted. When too few of them still count, the
cloud has collapsed: it is then led to the evidence in steps (the likelihood raised to a growing
power), resampled and moved at each, and the answer says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from layers.datum.evidence.likelihood import Likelihood
from layers.datum.prior import Prior, States

Floats = npt.NDArray[np.float64]
COUNT = 200_000
PILOT = 16_000
ENOUGH = 4_000.0  # effective particles below which a weighted cloud counts as collapsed
QUICK = 6_000
QUICK_ENOUGH = 400.0


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
    """

    states: States
    weight: Floats
    log_terms: Floats
    effective: float
    stages: int


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
    prior: Prior, terms: Sequence[Term], seed: int, count: int = COUNT, enough: float = ENOUGH
) -> tuple[Cloud, Cloud]:
    """Return the cloud after all evidence, and the first one drawn from the prior.

    The first cloud (weighted by nothing but the prior) serves to leave evidence out again.
    """
    rng = np.random.default_rng(seed)
    states = prior.draw(count, rng)
    log_terms = log_likelihoods(terms, states)
    weight = weights(log_terms.sum(axis=0))
    effective = effective_number(weight)
    first = Cloud(
        states=states,
        weight=np.full(count, 1.0 / count),
        log_terms=log_terms,
        effective=float(count),
        stages=0,
    )
    if effective >= enough:
        found = Cloud(
            states=states, weight=weight, log_terms=log_terms, effective=effective, stages=0
        )
        return found, first
    return _led(prior, terms, states, log_terms, effective, count, rng), first


def without(
    prior: Prior,
    terms: Sequence[Term],
    first: Cloud,
    found: Cloud,
    left_out: Sequence[int],
    seed: int,
) -> tuple[States, Floats]:
    """Return places and weights for all evidence but some.

    Reweights what is at hand where enough particles still count, else leads a smaller cloud.
    """
    for cloud in (found, first):
        rest = np.delete(cloud.log_terms, list(left_out), axis=0).sum(axis=0)
        # Led particles follow the whole posterior: take the part left out away again.
        counted = cloud.log_terms.sum(axis=0) if cloud is found and found.stages else 0.0
        weight = weights(rest - counted)
        if effective_number(weight) >= QUICK_ENOUGH:
            return cloud.states, weight
    kept = [term for row, term in enumerate(terms) if row not in left_out]
    rng = np.random.default_rng(seed)
    rows = np.delete(first.log_terms, list(left_out), axis=0)
    led = _led(prior, kept, first.states, rows, 0.0, QUICK, rng, pilot=QUICK)
    return led.states, led.weight


def _led(
    prior: Prior,
    terms: Sequence[Term],
    states: States,
    log_terms: Floats,
    effective: float,
    count: int,
    rng: np.random.Generator,
    pilot: int = PILOT,
) -> Cloud:
    """Return a cloud led from the prior to the evidence in steps."""
    total = log_terms.sum(axis=0)
    power = _next_power(total, 0.0, min(pilot, len(states) // 4) / len(states))
    rows = systematic(weights(power * total), min(pilot, count), rng)
    held, stages = states.take(rows), 1
    held, log_held = _moved(prior, terms, held, log_terms[:, rows], power, 1, rng)
    while power < 1.0:
        total = log_held.sum(axis=0)
        step = _next_power(total, power, 0.4)
        rows = systematic(weights((step - power) * total), len(held), rng)
        held, power, stages = held.take(rows), step, stages + 1
        held, log_held = _moved(prior, terms, held, log_held[:, rows], power, 2, rng)
    if count > len(held):
        rows = systematic(np.full(len(held), 1.0 / len(held)), count, rng)
        held, log_held = _moved(prior, terms, held.take(rows), log_held[:, rows], 1.0, 2, rng)
    return Cloud(
        states=held,
        weight=np.full(len(held), 1.0 / len(held)),
        log_terms=log_held,
        effective=effective,
        stages=stages,
    )


def _next_power(total: Floats, power: float, keep: float) -> float:
    """Return the power up to 1 at which this part of the particles still counts."""
    if effective_number(weights((1.0 - power) * total)) >= keep * len(total):
        return 1.0
    low, high = 0.0, 1.0 - power
    for _ in range(40):
        middle = 0.5 * (low + high)
        if effective_number(weights(middle * total)) >= keep * len(total):
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
        size = np.where(rng.random(count) < 0.5, 0.95, 0.3)
        step = [
            column + size * (other[one] - other[two]) + noise * rng.standard_normal(count)
            for column, other, noise in zip(
                (states.x_m, states.y_m, states.lost_s),
                (pool.x_m, pool.y_m, pool.lost_s),
                jitter,
                strict=True,
            )
        ]
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
