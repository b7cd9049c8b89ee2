"""Everything said about the decisions on the table, from the same draws."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from layers.survivors.decisions.bounds import LatestStart, Relaxed, latest_start, relax
from layers.survivors.decisions.gain import Gain, lesser, others_of, rank
from layers.survivors.decisions.regret import MeasurementWorth, RegretTable, readings, regret_table
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.ground import PlanGround, fewer
from layers.survivors.lifts.run.undated import at_best, undated, without_hour
from layers.survivors.lifts.sorties.facts import LiftFact
from layers.survivors.lifts.untold import perhaps_run_words, untold
from layers.survivors.muster.escape_or_wait import Consequences, consequences

COMPARED_DRAWS = 2_500  # the first so many; the error bars say how much that leaves open
BOUND_DRAWS = 600


@dataclass(frozen=True, slots=True, kw_only=True)
class Decisions:
    """The decisions in order, what binds, latest starts, regret, readings, escape or waiting.

    ``unsure`` is what nobody has told of the plan: the decisions count with the less of what they
    give either way, until when one can wait is not known, all else is as if it were not so.
    """

    gains: tuple[Gain, ...]
    relaxed: tuple[Relaxed, ...]
    latest: tuple[LatestStart, ...]
    chance_wanted: float
    regret: RegretTable
    readings: tuple[MeasurementWorth, ...]
    escape: tuple[Consequences, ...]
    draws: int
    unsure: tuple[str, ...] = ()


def weigh(recorded: PlanSetting, ground: PlanGround, n_draws: int | None = None) -> Decisions:
    """Return the decisions weighed.

    Parameters
    ----------
    recorded : PlanSetting
        The plan before what is chosen is put in.
    ground : PlanGround
        Draws, people, sea, air.
    n_draws : int, optional
        How many of the ground's draws to use, the first ones.
    """
    some = fewer(ground, n_draws or COMPARED_DRAWS)
    ranked = rank(recorded, some)
    plans = others_of(ranked, recorded.chosen)
    few = fewer(some, BOUND_DRAWS)
    return Decisions(
        gains=ranked.gains,
        relaxed=relax(ranked.current, some) if ranked.current.limit_s else (),
        # until when is not known where the air of a refuge is not
        latest=()
        if ground.missing or any(untold(ranked.current.setting, ground, p) for p in ground.people)
        else tuple(latest_start(title, outcome, few) for title, outcome in plans),
        chance_wanted=recorded.limits.chance_wanted,
        regret=regret_table(plans, few),
        readings=readings(plans, some),
        escape=consequences(ranked.current, some),
        draws=some.n_draws,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """The plan as it may be too: what is not told, and the two cases of it in words."""

    setting: PlanSetting
    asked: tuple[str, ...]
    if_not: str
    if_so: str


def if_run(recorded: PlanSetting, facts: Mapping[str, LiftFact]) -> Other:
    """Return the plan with some lifts as run, or their people as out, of which nobody told."""
    run = [key for key, fact in facts.items() if not sum(fact.unmoved)]
    was, lifts = ("was", "lift") if len(run) == 1 else ("were", "lifts")
    said = [(f"{lifts} {' and '.join(run)} {was}", "run")] if run else []
    said += [
        (f"the {sum(fact.unmoved)} of lift {key} are", f"out with {fact.vehicle}")
        for key, fact in facts.items() if sum(fact.unmoved)
    ]  # fmt: skip
    return Other(
        setting=replace(recorded, facts={**recorded.facts, **facts}),
        asked=perhaps_run_words(facts),
        if_not=" and ".join(f"{who} not {what}" for who, what in said),
        if_so=" and ".join(f"{who} {what}" for who, what in said),
    )


def if_soon(recorded: PlanSetting) -> Other:
    """Return the plan with all that has no hour as it is if it is so now."""
    what = tuple(without_hour(recorded))
    return Other(
        setting=at_best(recorded),
        asked=undated(recorded),
        if_not=" and ".join(f"{one} too late" for one in what),
        if_so=" and ".join(f"{one} at once" for one in what),
    )


def weigh_either(
    recorded: PlanSetting, ground: PlanGround, others: Sequence[Other], n_draws: int | None = None
) -> Decisions:
    """Return the decisions weighed, with the less of what each gives where others may be so too."""
    found = weigh(recorded, ground, n_draws)
    if not others:
        return found
    gains, some = found.gains, fewer(ground, n_draws or COMPARED_DRAWS)
    for other in others:
        gains = lesser(gains, rank(other.setting, some).gains, other.if_not, other.if_so)
    unsure = tuple(said for other in others for said in other.asked)
    return replace(found, gains=gains, latest=(), unsure=unsure)
