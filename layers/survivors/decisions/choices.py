"""Everything said about the decisions on the table, from the same draws."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from layers.survivors.decisions.bounds import LatestStart, Relaxed, latest_start, relax
from layers.survivors.decisions.gain import Gain, lesser, others_of, rank
from layers.survivors.decisions.regret import MeasurementWorth, RegretTable, readings, regret_table
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.ground import PlanGround, fewer
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
        relaxed=relax(ranked.current, some),
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


def weigh_either(
    recorded: PlanSetting, ground: PlanGround, facts: Mapping[str, LiftFact], n_draws: int | None
) -> Decisions:
    """Return the decisions weighed where nobody told whether some lifts were run.

    Parameters
    ----------
    facts : mapping of str to LiftFact
        By lift, how its sortie stands if it was run.
    """
    run = replace(recorded, facts={**recorded.facts, **facts})
    not_so = weigh(recorded, ground, n_draws)
    so = rank(run, fewer(ground, n_draws or COMPARED_DRAWS))
    keys = " and ".join(facts)
    was, lifts = ("was", "lift") if len(facts) == 1 else ("were", "lifts")
    gains = lesser(
        not_so.gains, so.gains, f"{lifts} {keys} {was} not run", f"{lifts} {keys} {was} run"
    )
    return replace(not_so, gains=gains, latest=(), unsure=perhaps_run_words(facts))
