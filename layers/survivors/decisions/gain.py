"""What gains most: every decision on the table run on the same draws as the plan."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.errors import InputError
from layers.survivors.lifts.choose import as_chosen, decide, lacking
from layers.survivors.lifts.model import DecisionOption
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.ground import PlanGround
from layers.survivors.lifts.run.outcome import PlanOutcome, evaluate
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.spread import quantile

BATCHES = 20
TWO_SIDED_95 = 1.96  # standard normal
TWO_SIDED_95_T19 = 2.093  # Student's t, 19 degrees of freedom


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A change with the half width of its 95 % error bar; not a number where neither is finite."""

    value: float
    bar: float


class Standing(StrEnum):
    """How a decision stands in the list."""

    GAINS = "gains"
    OPEN = "cannot be said"
    NOTHING = "changes nothing"
    COSTS = "costs"
    CANNOT = "cannot be run"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """What one decision gives against not taking it, on the same draws.

    People come first: those expected out in time, then the chance that it is all of them, then
    hours. Hours are of the worst margin if nobody leaves and of the last one out, so that a
    slower rescue, which leaves fewer breathing below, never counts as a gain.

    Parameters
    ----------
    taken : bool
        It is chosen already; then this is what it gives now. ``taken_us`` since when.
    only_if : str
        What is not told and must be so for it to be a gain; empty where it is one either way.
    persons : Change or None
        Expected people out in time; None when it cannot be run, with the reason.
    all_out : Change or None
        The chance that all are out in time, 0 to 1.
    p10_h, p50_h : Change or None
        Of the worst margin if nobody leaves, hours.
    sooner_h : Change or None
        How much earlier the last is out, hours, at the median.
    open : tuple of str and Change
        The same of each refuge of whose levels some are not known. Whatever its air, who is out
        sooner is no worse for it; how much it is worth nobody can say.
    """

    key: str
    title: str
    taken: bool
    taken_us: int | None = None
    persons: Change | None = None
    all_out: Change | None = None
    p10_h: Change | None = None
    p50_h: Change | None = None
    sooner_h: Change | None = None
    open: tuple[tuple[str, Change], ...] = ()
    chance: float = math.nan  # that all are out in time, with it
    reason: str = ""
    only_if: str = ""

    @property
    def weight(self) -> tuple[float, float, float]:
        """People, chance, hours: what it is ranked by; what lies within its error is nought."""
        people = _told(self.persons, 1)
        chance = _told(self.all_out, 3)
        apart = min(self.open_h, default=0.0) < 0.0 < max(self.open_h, default=0.0)
        hours = _told(self.p50_h, 1) or (0.0 if apart else _told(self.sooner_h, 1))
        return people, chance, hours

    @property
    def standing(self) -> Standing:
        """Whether it gains, costs, changes nothing, cannot be run, or none of it can be said.

        Where it helps some and others, of whose air too little is known, are out later, or the
        other way round, nobody can say which weighs more.
        """
        if self.persons is None:
            return Standing.CANNOT
        first = next((part for part in self.weight if part), 0.0)
        signs = {np.sign(part) for part in (first, *self.open_h) if part}
        if not signs:
            return Standing.NOTHING
        if len(signs) > 1:
            return Standing.OPEN
        return Standing.GAINS if signs == {1.0} else Standing.COSTS

    @property
    def open_h(self) -> tuple[float, ...]:
        """Hours sooner of each refuge too little is known of; what lies within its error is 0."""
        return tuple(_told(change, 1) for _, change in self.open)


def _told(change: Change | None, places: int) -> float:
    """Return a change that stands out of its error, else nought."""
    if change is None or math.isnan(change.value):
        return 0.0
    bar = 0.0 if math.isnan(change.bar) else change.bar
    return round(change.value, places) if abs(change.value) > bar else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranked:
    """The decisions in order, and the runs they rest on for what follows."""

    gains: tuple[Gain, ...]
    current: PlanOutcome
    variants: tuple[
        tuple[DecisionOption, PlanOutcome], ...
    ]  # not taken, with it; taken, without it


def rank(recorded: PlanSetting, ground: PlanGround, current: PlanOutcome | None = None) -> Ranked:
    """Return every decision's gain: people first, then the chance, then hours.

    Parameters
    ----------
    recorded : PlanSetting
        The plan before what is chosen is put in.
    ground : PlanGround
        Draws, people, sea, air.
    current : PlanOutcome, optional
        The plan as chosen, when it was run on this ground already.
    """
    current = current or evaluate(as_chosen(recorded), ground)
    gains, variants, unknown = [], [], lacking(recorded)
    for option in recorded.options:
        taken = option.key in recorded.chosen
        try:
            if option.key in unknown:
                raise unknown[option.key]
            if ground.series is None and _of_the_sea_alone(option):
                raise InputError("no forecast of the sea is known", accepted="a forecast")
            other = evaluate(_other(recorded, option, taken), ground)
        except InputError as reason:
            gains.append(Gain(key=option.key, title=option.title, taken=taken, reason=reason.words))
            continue
        variants.append((option, other))
        better, worse = (current, other) if taken else (other, current)
        since = recorded.chosen_us.get(option.key) if taken else None
        found = compare(option, taken, better, worse, tuple(ground.missing))
        gains.append(replace(found, taken_us=since))
    return Ranked(gains=tuple(sorted(gains, key=_order)), current=current, variants=tuple(variants))


def _other(recorded: PlanSetting, option: DecisionOption, taken: bool) -> PlanSetting:
    """Return the plan with a decision turned round.

    Raises
    ------
    InputError
        It would add a vehicle that dives no more.
    """
    if taken:
        kept = tuple(key for key in recorded.chosen if key != option.key)
        return as_chosen(replace(recorded, chosen=kept))
    found = decide(as_chosen(recorded), (option,))
    if option.add_vehicle is not None and (why := found.why_not(option.add_vehicle)):
        raise InputError(why, accepted="a vehicle that dives")
    return found


def _of_the_sea_alone(option: DecisionOption) -> bool:
    """Return whether a decision changes nothing but the sea in which one works."""
    changes = option.model_dump(exclude={"key", "title", "note", "withdrawn"}, exclude_none=True)
    return set(changes) <= {"launch_hs_m", "recovery_hs_m"}


def compare(
    option: DecisionOption,
    taken: bool,
    better: PlanOutcome,
    worse: PlanOutcome,
    unknown: Collection[str] = (),
) -> Gain:
    """Return the gain of one run over another, draw against draw.

    ``unknown`` are the refuges of whose levels some are not known.
    """
    return Gain(
        key=option.key,
        title=option.title,
        taken=taken,
        persons=mean_change(better.out_in_time, worse.out_in_time),
        all_out=mean_change(better.all_in_time * 1.0, worse.all_in_time * 1.0),
        p10_h=quantile_change(better.worst_margin_h, worse.worst_margin_h, 0.1),
        p50_h=quantile_change(better.worst_margin_h, worse.worst_margin_h, 0.5),
        sooner_h=quantile_change(-_last_h(better), -_last_h(worse), 0.5),
        open=tuple(
            (refuge, quantile_change(-_hours(last_s), -_hours(worse.last_left_s[refuge]), 0.5))
            for refuge, last_s in better.last_left_s.items()
            if refuge in unknown
        ),
        chance=float(better.all_in_time.mean()),
    )


def mean_change(after: Floats, before: Floats) -> Change:
    """Return the mean of paired differences and the half width of its 95 % interval."""
    gap = after - before
    bar = TWO_SIDED_95 * float(gap.std(ddof=1)) / math.sqrt(len(gap)) if len(gap) > 1 else math.nan
    return Change(value=float(gap.mean()), bar=bar)


def quantile_change(after: Floats, before: Floats, share: float) -> Change:
    """Return the change of a quantile and its error bar, from batches of paired draws.

    Not a number where the quantile is infinite before or after; the sign is kept where only
    one of them is.
    """
    high, low = quantile(after, share), quantile(before, share)
    if not (math.isfinite(high) and math.isfinite(low)):
        return Change(value=0.0 if high == low else high - low, bar=math.nan)
    parts = zip(np.array_split(after, BATCHES), np.array_split(before, BATCHES), strict=True)
    gaps = np.array([quantile(one, share) - quantile(other, share) for one, other in parts])
    finite = gaps[np.isfinite(gaps)]
    bar = math.nan
    if len(finite) == BATCHES:
        bar = TWO_SIDED_95_T19 * float(finite.std(ddof=1)) / math.sqrt(BATCHES)
    return Change(value=high - low, bar=bar)


def _last_h(outcome: PlanOutcome) -> Floats:
    """Return when the last of all refuges is out, hours after now; infinite for never."""
    if not outcome.last_left_s:  # nobody waits in a refuge: nobody is left to be last
        return np.zeros(len(outcome.all_in_time))
    return _hours(np.max(list(outcome.last_left_s.values()), axis=0, initial=0))


def _hours(last_s: Ints) -> Floats:
    return np.asarray(np.where(last_s >= NEVER // 2, np.inf, last_s / 3600.0))


def lesser(
    first: Sequence[Gain], other: Sequence[Gain], if_first: str, if_other: str
) -> tuple[Gain, ...]:
    """Return each decision with the less of what it gives in two cases, anew in order.

    ``if_first`` and ``if_other`` say in words what the two cases are, of which nobody has told
    which is so.
    """
    by_key, found = {gain.key: gain for gain in other}, []
    for one in first:
        pair = [(one, if_first)] + [(by_key[one.key], if_other)] * (one.key in by_key)
        least = max(pair, key=lambda held: _order(held[0]))[0]
        gains = [word for gain, word in pair if gain.standing is Standing.GAINS]
        only = gains[0] if gains and least.standing is not Standing.GAINS else ""
        found.append(replace(least, only_if=only))
    return tuple(sorted(found, key=_order))


def _order(gain: Gain) -> tuple[float, ...]:
    people, chance, hours = gain.weight
    return list(Standing).index(gain.standing), -people, -chance, -hours, -sum(gain.open_h)


def others_of(ranked: Ranked, chosen: Sequence[str]) -> tuple[tuple[str, PlanOutcome], ...]:
    """Return the plans that can be chosen from here: the present one first, by title."""
    variants = [
        (f"without: {option.title}" if option.key in chosen else option.title, outcome)
        for option, outcome in ranked.variants
    ]
    return (("the plan as chosen", ranked.current), *variants)
