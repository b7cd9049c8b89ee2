"""What the answer says beside the place: searches proved, time of loss, localisation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np

from layers.datum.before.prior import States
from layers.datum.evidence.influence import Estimated
from layers.datum.probability.containment import cell_sums, grid_of, quantile, span
from layers.datum.result import Evidence, Localisation, LossSpan, Searched
from layers.earth.arrays import Floats
from layers.earth.units import M_PER_NMI

SEARCHES = "datum.negative_search"
# A time of loss is told as known when its 5 to 95 % is at most this part of what was possible.
NARROWED = 0.75


def searched(made: Estimated) -> Searched | None:
    """Return what the searches that saw nothing have proved, by cell, before and after."""
    terms = [
        item.term for item in made.built if item.term is not None and item.evidence.kind == SEARCHES
    ]
    if not terms:
        return None
    states, weight = made.without([term.key for term in terms], 701)
    missed = np.ones(len(states))
    for term in terms:
        missed *= term.likelihood(states) ** term.weight
    after = weight * missed
    left = float(after.sum())
    before = grid_of(states.x_m, states.y_m, weight, across=30, smooth=0.8)
    held = cell_sums(
        states.x_m, states.y_m, after / left, before.x0_m, before.y0_m, before.cell_m,
        before.held.shape[1], before.held.shape[0],
    )  # fmt: skip
    return Searched(
        before=before,
        after=replace(before, held=held, outside=max(1.0 - float(held.sum()), 0.0)),
        probability_seen=1.0 - left,
        left_outside=float(after[missed > 0.9].sum() / left),
    )


def loss_span(made: Estimated) -> LossSpan:
    """Return when she was lost, with its span, and whether any report narrowed it."""
    cloud, prior = made.cloud, made.prior
    low, middle, high = (
        prior.start + timedelta(seconds=quantile(cloud.states.lost_s, cloud.weight, part))
        for part in (0.05, 0.5, 0.95)
    )
    whole = 0.9 * prior.span_s
    told = any(
        item.term is not None
        and (item.evidence.kind == "datum.loss_time" or item.evidence.on_the_bottom)
        for item in made.built
    )
    narrow = (high - low).total_seconds() <= NARROWED * whole
    return LossSpan(
        p5=low,
        p50=middle,
        p95=high,
        first=prior.start,
        last=prior.start + timedelta(seconds=prior.span_s),
        narrowed=told and narrow,
    )


def localisation(evidence: Sequence[Evidence], circle_m: float, limit_nmi: float) -> Localisation:
    """Return whether the 95 % circle is within the limit, and what forbids to rely on it.

    A thing seen adrift that nobody has tied to her does not localise her by itself: the vehicle
    would be sent on it alone.
    """
    within = 2.0 * circle_m <= limit_nmi * M_PER_NMI
    if not within:
        return Localisation(yes=False, why="")
    alone = [
        item
        for item in evidence
        if item.kind == "datum.sighting"
        and item.radius_without_m is not None
        and 2.0 * item.radius_without_m > limit_nmi * M_PER_NMI
    ]
    others = [
        item
        for item in evidence
        if item.state == "counts" and item.kind not in ("datum.sighting", SEARCHES)
    ]
    if alone and not others:
        why = f"it rests on {alone[0].says.partition(' (')[0]} alone; confirm that it is of her"
        return Localisation(yes=False, why=why)
    return Localisation(yes=True, why="")


def longest_m(states: States, weight: Floats) -> float:
    """Return the length that holds 95 % along the way in which the places spread most."""
    mx, my = (weight * states.x_m).sum(), (weight * states.y_m).sum()
    dx, dy = states.x_m - mx, states.y_m - my
    cross = (weight * dx * dy).sum()
    _, vectors = np.linalg.eigh(
        [[(weight * dx * dx).sum(), cross], [cross, (weight * dy * dy).sum()]]
    )
    along = dx * vectors[0, 1] + dy * vectors[1, 1]
    low, high = span(along, weight, out=0.025)
    return high - low
