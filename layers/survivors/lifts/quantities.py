"""Draws of last out and of the air as what can be said: a number, bounds, or not known.

A refuge of whose air nothing is known has no margin, whatever its lifts; one of whose levels some
are not known has at most the margin of the others. Where somebody is in no lift the last is out
no sooner than the lifts there are, so that the margin is at most theirs and the chance nought.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.clock import from_us
from layers.earth.uncertain import Bounds, NotKnown, Number, Quantity, between
from layers.earth.values import Floats, Ints
from layers.survivors.lifts.run.ground import Ground
from layers.survivors.lifts.run.outcome import Outcome
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.spread import margin_h, quantile

DOUBT = "a reading in doubt: ask for another"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaps:
    """What is missing to the answers about one refuge, in words.

    ``unread``: of its air nothing can be said; ``air`` says what to ask for; ``plan`` who is in
    no lift and why.
    """

    unread: bool = False
    air: tuple[str, ...] = ()
    plan: tuple[str, ...] = ()


def margin_of(
    outcome: Outcome, refuge: str, limit_s: Ints | None, gaps: Gaps, rests_on: tuple[str, ...]
) -> Quantity:
    """Return hours to spare between the last one out and a time of the air."""
    at = from_us(outcome.setting.at_us)
    if gaps.unread or limit_s is None:
        return NotKnown(unit="h", at=at, rests_on=rests_on, missing=(*gaps.air, *gaps.plan))
    last_s = outcome.last_left_s[refuge]
    draws = margin_h(last_s, limit_s)
    ends_s = quantile(limit_s.astype(np.float64), 0.5)
    out_s = quantile(last_s.astype(np.float64), 0.5)
    missing = (*gaps.air, *gaps.plan)
    least = most = None
    if out_s >= NEVER // 2:
        if ends_s < NEVER:
            most = (ends_s - _planned_last_s(outcome, refuge)) / 3600.0
            missing = missing or ("not all are out within the plan",)
    elif ends_s >= NEVER:
        if not gaps.air:
            least = outcome.setting.limits.horizon_h - out_s / 3600.0
    elif gaps.air:
        most = quantile(draws, 0.5)
    elif refuge in outcome.doubted_s:
        # a doubtful reading that would shorten the time sets the least; it waits to be settled
        doubted = margin_h(last_s, np.minimum(outcome.doubted_s[refuge], limit_s))
        least, most = quantile(doubted, 0.5), quantile(draws, 0.5)
        missing = (*missing, DOUBT)
    else:
        return _number(draws, at, rests_on)
    return between(least, most, missing, unit="h", at=at, rests_on=rests_on)


def _number(draws: Floats, at: datetime, rests_on: tuple[str, ...]) -> Number:
    """Return draws as a number; an end that a tenth of them never reach is left out."""
    p10, p50, p90 = (quantile(draws, share) for share in (0.1, 0.5, 0.9))
    return Number(
        value=p50,
        p10=p10 if math.isfinite(p10) else None,
        p90=p90 if math.isfinite(p90) else None,
        unit="h",
        at=at,
        rests_on=rests_on,
    )


def _planned_last_s(outcome: Outcome, refuge: str) -> float:
    """Return the median hour of the last lift there is, seconds; now when there is none."""
    left = [
        quantile(outcome.runs.left_s[n].astype(np.float64), 0.5) for n in outcome.lifts_of(refuge)
    ]
    return max((s for s in left if s < NEVER // 2), default=0.0)


def chance_of(
    outcome: Outcome, refuge: str, limit_s: Ints | None, gaps: Gaps, rests_on: tuple[str, ...]
) -> Quantity:
    """Return the chance that all of a refuge are out before a time of the air."""
    last_s = outcome.last_left_s[refuge]
    if gaps.unread or limit_s is None:
        most = float((last_s < NEVER // 2).mean())
    else:
        most = float((margin_h(last_s, limit_s) >= 0).mean())
        if refuge in outcome.doubted_s and not gaps.air:
            doubted = np.minimum(outcome.doubted_s[refuge], limit_s)
            least = float((margin_h(last_s, doubted) >= 0).mean())
            at = from_us(outcome.setting.at_us)
            missing = (DOUBT,) if least < most else ()
            return between(least, most, missing, unit="chance", at=at, rests_on=rests_on)
    return _at_most(most, gaps.air, "chance", outcome, rests_on)


def persons_in_time(
    outcome: Outcome, refuge: str, limit_s: Ints | None, gaps: Gaps, rests_on: tuple[str, ...]
) -> Quantity:
    """Return the persons of a refuge expected out before a time of the air."""
    numbers = outcome.lifts_of(refuge)
    if not numbers:
        return Number(value=0.0, unit="persons", at=from_us(outcome.setting.at_us))
    left = outcome.runs.left_s[numbers]
    end = np.full(left.shape[1], NEVER // 2) if gaps.unread or limit_s is None else limit_s
    most = float((outcome.persons[numbers] @ (left <= end)).mean())
    return _at_most(most, gaps.air, "persons", outcome, rests_on)


def _at_most(
    most: float, missing: tuple[str, ...], unit: str, outcome: Outcome, rests_on: tuple[str, ...]
) -> Quantity:
    at = from_us(outcome.setting.at_us)
    if not missing or most == 0.0:
        return Number(value=most, unit=unit, at=at, rests_on=rests_on)
    return Bounds(at_least=0.0, at_most=most, missing=missing, unit=unit, at=at, rests_on=rests_on)


def all_chance(outcome: Outcome, missing: tuple[str, ...], rests_on: tuple[str, ...]) -> Quantity:
    """Return the chance that all are out in time, those counted of whom something is missing.

    People no lift takes make it nought, in a refuge whose air is not known too.
    """
    stays = [last.min() >= NEVER // 2 for last in outcome.last_left_s.values()]
    most = 0.0 if any(stays) else float(outcome.all_in_time.mean())
    return _at_most(most, missing, "chance", outcome, rests_on)


def not_heard_words(ground: Ground) -> tuple[str, ...]:
    """Return that persons are not heard of, as what an answer misses."""
    return (f"{ground.not_heard} not heard of",) if ground.not_heard else ()
