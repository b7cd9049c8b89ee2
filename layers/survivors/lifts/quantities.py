"""Draws of last out and of the air as what can be said: a number, bounds, or not known.

A refuge of whose air nothing is known has no margin, whatever its lifts; one of whose levels some
are not known has at most the margin of the others. Where somebody is in no lift the last is out
no sooner than the lifts there are, so that the margin is at most theirs and the chance nought.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import from_us
from layers.earth.uncertain import Bounds, NotKnown, Number, Quantity, between, chance_words, ends
from layers.survivors.lifts.run.ample import Unstored
from layers.survivors.lifts.run.ground import PlanGround
from layers.survivors.lifts.run.outcome import PlanOutcome
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.spread import margin_h, quantile


def doubt_words(refuge: str) -> str:
    """Return that a reading of a refuge waits for somebody to say whether it stands."""
    return f"a reading in doubt in {refuge}: ask for another"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaps:
    """What is missing to the answers about one refuge, in words.

    ``unread``: of its air nothing can be said; ``air`` says what to ask for; ``plan`` who is in
    no lift and why; ``late`` what is not told and could only make the last out later; ``more``
    what stores nobody told, that could only make the air last longer.
    """

    unread: bool = False
    air: tuple[str, ...] = ()
    plan: tuple[str, ...] = ()
    late: tuple[str, ...] = ()
    more: tuple[str, ...] = ()

    @property
    def less(self) -> tuple[str, ...]:
        """What could only make an answer worse than it is told."""
        return (*self.air, *self.late)


@dataclass(frozen=True, slots=True, kw_only=True)
class Race:
    """The people of one refuge, brought out by a plan that was run, against a time of its air.

    Parameters
    ----------
    limit_s : ndarray, shape (n_draws,), or None
        That time, seconds after now; None where nothing is known of it.
    doubted_s : ndarray, shape (n_draws,), optional
        It if a reading in doubt is right: where it is sooner it sets the least, until somebody
        says whether the reading stands.
    ample_s : ndarray, shape (n_draws,), optional
        It if stores that nobody told of never end: it sets the most.
    """

    outcome: PlanOutcome
    refuge: str
    gaps: Gaps
    limit_s: Ints | None
    doubted_s: Ints | None = None
    ample_s: Ints | None = None
    rests_on: tuple[str, ...] = ()

    @property
    def at(self) -> datetime:
        """Of when the plan was run."""
        return from_us(self.outcome.setting.at_us)

    @property
    def last_s(self) -> Ints:
        """When the last is out, seconds after now."""
        return self.outcome.last_left_s[self.refuge]


def margin_of(race: Race) -> Quantity:
    """Return hours to spare between the last one out and the time of the air."""
    found, gaps, rests_on = _margin(race), race.gaps, race.rests_on
    limit_s, ample_s = race.limit_s, race.ample_s
    if ample_s is None or not gaps.more or isinstance(found, NotKnown) or limit_s is None:
        return found
    least, most = ends(found)
    middles = [quantile(margin_h(race.last_s, end_s), 0.5) for end_s in (limit_s, ample_s)]
    if middles[1] <= middles[0]:
        return found
    if isinstance(found, Bounds) and least is None:
        # what else is not told could only make it less: in the first hour neither sea nor stores
        # are known, and a dash would help nobody. So the figure counts no stores and says so first
        asked = (*(f"{one}, none counted" if one.endswith("not told") else one
                   for one in gaps.more), *found.missing)  # fmt: skip
        return between(None, most, asked, unit="h", at=found.at, rests_on=rests_on)
    if most is not None:
        rest = replace(gaps, more=(), late=gaps.late or gaps.more)
        most = ends(_margin(replace(race, limit_s=ample_s, doubted_s=None, gaps=rest)))[1]
    missing = (*(found.missing if isinstance(found, Bounds) else ()), *gaps.more)
    return between(least, most, missing, unit="h", at=found.at, rests_on=rests_on)


def _margin(race: Race) -> Quantity:
    outcome, gaps, at, rests_on = race.outcome, race.gaps, race.at, race.rests_on
    limit_s, doubted_s, last_s = race.limit_s, race.doubted_s, race.last_s
    if gaps.unread or limit_s is None:
        return NotKnown(unit="h", at=at, rests_on=rests_on, missing=(*gaps.air, *gaps.plan))
    draws = margin_h(last_s, limit_s)
    ends_s = quantile(limit_s.astype(np.float64), 0.5)
    out_s = quantile(last_s.astype(np.float64), 0.5)
    doubted = math.inf
    missing = (*gaps.less, *gaps.plan)
    if doubted_s is not None:
        doubted = quantile(margin_h(last_s, np.minimum(doubted_s, limit_s)), 0.5)
        missing = (*missing, doubt_words(race.refuge))
    least = most = None
    if out_s >= NEVER // 2:
        if ends_s < NEVER:
            most = (ends_s - _planned_last_s(race)) / 3600.0
            missing = missing or ("not all are out within the plan",)
    elif ends_s >= NEVER:
        if not gaps.less:
            least = min(outcome.setting.limits.horizon_h - out_s / 3600.0, doubted)
            days = outcome.setting.limits.horizon_h / 24.0
            missing = missing or (f"no level within {days:.0f} d",)
    elif gaps.less:
        most = quantile(draws, 0.5)
    elif doubted < quantile(draws, 0.5):
        least, most = doubted, quantile(draws, 0.5)
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


def _planned_last_s(race: Race) -> float:
    """Return the median hour of the last lift there is, seconds; now when there is none."""
    left_s = race.outcome.runs.left_s
    left = [quantile(left_s[n].astype(np.float64), 0.5) for n in race.outcome.lifts_of(race.refuge)]
    return max((s for s in left if s < NEVER // 2), default=0.0)


def chance_of(race: Race) -> Quantity:
    """Return the chance that all of a refuge are out before the time of the air."""

    def before(end_s: Ints) -> float:
        return float((margin_h(race.last_s, end_s) >= 0).mean())

    return _share(race, before, float((race.last_s < NEVER // 2).mean()), "chance")


def _share(race: Race, before: Callable[[Ints], float], ever: float, unit: str) -> Quantity:
    """Return what comes out in time, of which doubts set the least and untold stores the most.

    ``ever`` is what comes out at all: the most where nothing is known of the air.
    """
    gaps, limit_s, doubted_s = race.gaps, race.limit_s, race.doubted_s
    if gaps.unread or limit_s is None:
        return _at_most(ever, gaps.less, unit, race.outcome, race.rests_on)
    least = None if doubted_s is None else before(np.minimum(doubted_s, limit_s))
    asked = (race.outcome, race.rests_on, least, (race.refuge,))
    found = _at_most(before(limit_s), gaps.less, unit, *asked)
    return found if race.ample_s is None else up_to(found, before(race.ample_s), gaps.more)


def persons_in_time(race: Race) -> Quantity:
    """Return the persons of a refuge expected out before the time of the air."""
    numbers = race.outcome.lifts_of(race.refuge)
    if not numbers:
        return Number(value=0.0, unit="persons", at=race.at)
    left, persons = race.outcome.runs.left_s[numbers], race.outcome.persons[numbers]

    def before(end_s: Ints) -> float:
        return float((persons @ (left <= end_s)).mean())

    return _share(race, before, before(np.full(left.shape[1], NEVER // 2)), "persons")


def up_to(found: Quantity, most: float, missing: tuple[str, ...]) -> Quantity:
    """Return a figure that what is missing can only make larger, up to a most."""
    least, before = ends(found)
    if not missing or before is None or most <= before:
        return found
    asked = (*(found.missing if isinstance(found, Bounds) else ()), *missing)
    rests = {"unit": found.unit, "at": found.at, "rests_on": found.rests_on}
    return between(least, most, asked, **rests)


def _at_most(
    most: float,
    missing: tuple[str, ...],
    unit: str,
    outcome: PlanOutcome,
    rests_on: tuple[str, ...],
    if_doubted: float | None = None,
    doubtful: tuple[str, ...] = (),
) -> Quantity:
    """Return a figure that what is missing, or a reading in doubt, can only make smaller."""
    at = from_us(outcome.setting.at_us)
    in_doubt = if_doubted is not None and if_doubted < most
    if not (missing or in_doubt) or most == 0.0:
        return Number(value=most, unit=unit, at=at, rests_on=rests_on)
    least = 0.0 if missing or if_doubted is None else if_doubted
    asked = (*missing, *map(doubt_words, doubtful if in_doubt else ()))
    return Bounds(at_least=least, at_most=most, missing=asked, unit=unit, at=at, rests_on=rests_on)


def all_chance(
    outcome: PlanOutcome,
    missing: tuple[str, ...],
    rests_on: tuple[str, ...],
    unstored: Unstored,
) -> Quantity:
    """Return the chance that all are out in time, those counted of whom something is missing.

    People no lift takes make it nought, in a refuge whose air is not known too.
    """
    stays = [last.min() >= NEVER // 2 for last in outcome.last_left_s.values()]
    most = 0.0 if any(stays) else float(outcome.all_in_time.mean())
    least = float(outcome.all_if_doubted.mean())
    doubtful = tuple(outcome.doubted_s)
    found = _at_most(most, missing, "chance", outcome, rests_on, min(least, most), doubtful)
    if not unstored or any(stays):
        return found
    asked = tuple(m for refuge in outcome.ample_s for m in unstored[refuge].values())
    return up_to(found, float(outcome.all_if_ample.mean()), tuple(dict.fromkeys(asked)))


def not_heard_words(ground: PlanGround) -> tuple[str, ...]:
    """Return that persons are not heard of, or perhaps not where they are counted, in words."""
    unheard = (f"{ground.not_heard_said} not heard of",) if ground.not_heard else ()
    return (*unheard, *(said for _, said in ground.not_there.values() if said))


def without(found: Quantity, persons: int, said: str) -> Quantity:
    """Return persons out in time, of whom some are perhaps not there to be brought out."""
    least, most = ends(found)
    if not persons or least is None:
        return found
    asked = (*(found.missing if isinstance(found, Bounds) else ()), *((said,) if said else ()))
    rests = {"unit": found.unit, "at": found.at, "rests_on": found.rests_on}
    return between(max(least - persons, 0.0), most, asked, **rests)


def loss_remarks(outcome: PlanOutcome) -> Iterable[str]:
    """Say how often a vehicle is lost in the plan, and who then takes over what it has left."""
    lost, setting = outcome.runs.lost, outcome.setting
    for vehicle in setting.working():
        mine = [n for n, k in enumerate(setting.lifts) if k.vehicle == vehicle.name]
        share = float(lost[mine].any(axis=0).mean()) if mine else 0.0
        if not share:
            continue
        others = [
            v.name
            for v in setting.vehicles
            if v.name != vehicle.name and not setting.why_not(v.name)
        ]
        later = (
            f"what it has left is taken over by {' or '.join(others)}, where its people fit"
            if others
            else "no other vehicle is in the plan, so those of its later lifts are not out either"
        )
        yield (
            f"In {chance_words(share)} {vehicle.name} is lost on a lift, and its people with it; "
            f"{later}."
        )


def pressure_remarks(outcome: PlanOutcome) -> Iterable[str]:
    """Say of each lift in how many draws the pressure then decides otherwise than in the middle."""
    for n, lift in enumerate(outcome.setting.lifts):
        if unfit := float(outcome.runs.unfit[n].mean()):
            yield (
                f"In {chance_words(unfit)} lift {lift.key} does not run: by the hour its hatch "
                f"would shut {lift.refuge} is beyond the schedule or {lift.vehicle}."
            )
        ran = outcome.runs.left_s[n] < NEVER // 2
        stays = ran & (outcome.runs.chamber_out_s[n] < NEVER)
        share = float(stays.sum() / max(ran.sum(), 1))
        if 0.0 < share < 1.0:
            yield f"Lift {lift.key} needs a chamber in {chance_words(share)}: by the pressure then."
