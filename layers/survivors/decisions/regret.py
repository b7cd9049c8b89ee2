"""Plans against cases of weather and flooding, and the reading that would change a choice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Floats
from layers.survivors.lifts.run.ground import AS_EXPECTED, Case, PlanGround
from layers.survivors.lifts.run.outcome import PlanOutcome, evaluate, level_s
from layers.survivors.lifts.run.windows import NEVER

# Cases to try plans against; the figures are ours, to be judged, not forecasts.
CASES = (
    AS_EXPECTED,
    Case(title="sea 6 h earlier", later_s=-6 * 3600),
    Case(title="sea 6 h later", later_s=6 * 3600),
    Case(title="waves 0.5 m higher", higher_m=0.5),
    Case(title="flooding: air ends a quarter sooner", sooner=0.25),
)
BINS = 12
CLEAR = 2.0  # standard errors by which another plan must lead within a bin


@dataclass(frozen=True, slots=True, kw_only=True)
class RegretRow:
    """One plan: expected people out in time in each case, and how far it falls short at worst."""

    plan: str
    out_in_time: tuple[float, ...]
    regret: tuple[float, ...]
    worst_regret: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RegretTable:
    """Plans against cases, in persons; regret is against the best plan of the same case.

    ``unread`` are the refuges with people of whose air nothing is known: none of them is counted,
    and where no other refuge is there are no rows.
    """

    cases: tuple[str, ...]
    rows: tuple[RegretRow, ...]
    unread: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementWorth:
    """What one measurement would be worth if it were exact.

    ``changes`` is the share of draws in which another plan would be chosen, ``persons`` the
    expected gain in people out in time.
    """

    what: str
    changes: float
    persons: float


def regret_table(
    plans: Sequence[tuple[str, PlanOutcome]], ground: PlanGround, cases: Sequence[Case] = CASES
) -> RegretTable:
    """Return what each plan comes to in each case; the air is kept as in the plan's own run."""
    waiting = [place.refuge for place in ground.people if place.persons]
    read = plans[0][1].limit_s
    unread = tuple(refuge for refuge in waiting if refuge not in read)
    if unread and len(unread) == len(waiting):
        return RegretTable(cases=tuple(case.title for case in cases), rows=(), unread=unread)
    out = np.array(
        [
            [
                evaluate(
                    outcome.setting, ground, case, endurance=outcome.endurance, alone=outcome.alone
                ).out_in_time.mean()
                for case in cases
            ]
            for _, outcome in plans
        ]
    )
    regret = out.max(axis=0)[None, :] - out
    rows = [
        RegretRow(
            plan=title,
            out_in_time=tuple(float(v) for v in out[n]),
            regret=tuple(float(v) for v in regret[n]),
            worst_regret=float(regret[n].max()),
        )
        for n, (title, _) in enumerate(plans)
    ]
    rows.sort(key=lambda row: row.worst_regret)
    return RegretTable(cases=tuple(case.title for case in cases), rows=tuple(rows), unread=unread)


def readings(
    plans: Sequence[tuple[str, PlanOutcome]], ground: PlanGround
) -> tuple[MeasurementWorth, ...]:
    """Return which measurement would most often change the choice between the plans.

    Parameters
    ----------
    plans : sequence of (title, Outcome)
        The plans that can be chosen; the same draws in each.

    Notes
    -----
    Draws are sorted by the quantity and cut into ``BINS``; within a bin the plan with most
    people out in time is chosen. It counts as a change when it leads the plan that is best
    without the reading by more than twice the standard error of the paired difference.
    """
    if len(plans) < 2:
        return ()
    out = np.stack([outcome.out_in_time for _, outcome in plans])
    best = int(out.mean(axis=1).argmax())
    quantities = _quantities(plans[0][1], ground)
    found = [_worth(what, values, out, best) for what, values in quantities]
    return tuple(sorted(found, key=lambda one: (-one.changes, -one.persons)))


def _worth(what: str, values: Floats, out: Floats, best: int) -> MeasurementWorth:
    order = np.argsort(values, kind="stable")
    changes = gain = 0.0
    for part in np.array_split(order, BINS):
        here = out[:, part]
        lead = int(here.mean(axis=1).argmax())
        gap = here[lead] - here[best]
        error = gap.std(ddof=1) / np.sqrt(len(part)) if len(part) > 1 else np.inf
        if lead != best and gap.mean() > CLEAR * error:
            changes += len(part) / len(order)
            gain += gap.mean() * len(part) / len(order)
    return MeasurementWorth(what=what, changes=float(changes), persons=float(gain))


def _quantities(current: PlanOutcome, ground: PlanGround) -> list[tuple[str, Floats]]:
    """Return what could be measured, and its value in each draw."""
    setting, n = current.setting, ground.n_draws
    found: list[tuple[str, Floats]] = [
        (f"{one.refuge}: {one.level}", level_s(one, setting.at_us, n).astype(np.float64))
        for one in current.alone
    ]
    spans = ground.sea(setting, AS_EXPECTED).recovery
    if len(spans.ends) == n:
        ahead = np.where(spans.ends > 0, spans.ends, NEVER).min(axis=1)
        found.append(("when the sea lets a vehicle be recovered again", ahead.astype(np.float64)))
    ran = (current.runs.start_s < NEVER // 2) & (current.persons[:, None] > 0)
    spent = np.where(ran, current.runs.back_s - current.runs.start_s, 0).sum(axis=0)
    found.append(("how long the sorties take", spent.astype(np.float64)))
    dived = {fact.vehicle for fact in setting.facts.values()}
    waits = any(vehicle.name not in dived for vehicle in setting.vehicles)
    if waits and len(current.runs.start_s):  # else no lift runs
        first = current.runs.start_s.min(axis=0)
        found.append(("when the vehicle can first dive", first.astype(np.float64)))
    return found
