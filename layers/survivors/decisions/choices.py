"""Everything said about the decisions on the table, from the same draws."""

from __future__ import annotations

from dataclasses import dataclass

from layers.survivors.decisions.bounds import LatestStart, Relaxed, latest_start, relax
from layers.survivors.decisions.gain import Gain, others_of, rank
from layers.survivors.decisions.regret import MeasurementWorth, RegretTable, readings, regret_table
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.ground import PlanGround, fewer
from layers.survivors.lifts.untold import untold
from layers.survivors.muster.escape_or_wait import Consequences, consequences

COMPARED_DRAWS = 2_500  # the first so many; the error bars say how much that leaves open
BOUND_DRAWS = 600


@dataclass(frozen=True, slots=True, kw_only=True)
class Decisions:
    """The decisions in order, what binds, latest starts, regret, readings, escape or waiting."""

    gains: tuple[Gain, ...]
    relaxed: tuple[Relaxed, ...]
    latest: tuple[LatestStart, ...]
    chance_wanted: float
    regret: RegretTable
    readings: tuple[MeasurementWorth, ...]
    escape: tuple[Consequences, ...]
    draws: int


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
