"""The lifts against an independent discrete-event model: every lift's hours, and the chance.

The two share no random number; so what is compared is where the code's P10, P50 and P90 of each
lift fall among the other's futures, and how often all are out in time.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from demo_data.scenario import z
from layers.earth.values import ForwardPortValue, ResponseOption
from layers.survivors.air.endurance import AirCurves, RefugePeople
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.run.draws import Uniforms
from layers.survivors.lifts.run.ground import Curves, PlanGround
from layers.survivors.lifts.run.outcome import evaluate
from layers.survivors.lifts.run.windows import NEVER, wave_draws, wave_errors
from layers.survivors.lifts.sorties.facts import LiftFact
from layers.survivors.lifts.spread import quantile
from tests.unit.lift_air import PlainAir
from tests.unit.lift_cases import NOW_US, chamber, eight_lifts, lift, limits, sea_series, vehicle
from tests.unit.lift_events import Future, Plan, futures

FUTURES = 400
DRAWS = 6_000
# three standard errors of a share among so many futures, at a tenth and at the half
TENTH, HALF = 3.2 * (0.09 / FUTURES) ** 0.5, 3.2 * (0.25 / FUTURES) ** 0.5
NEAR_H = 0.05  # the other model looks minute by minute, and plans by likely times, not medians
SHORT = limits(horizon_h=110.0)


def plan(
    air_h: dict[str, float],
    *,
    sigma_m: float = 0.3,
    stay_h: float = 24.0,
    mating: dict[str, float] | None = None,
    rising: dict[str, tuple[float, float, float]] | None = None,
    **changes: object,
) -> Plan:
    setting = eight_lifts(**{"limits": SHORT, **changes})
    people = {
        refuge: sum(k.walking + k.stretcher for k in setting.lifts if k.refuge == refuge)
        for refuge in ("after", "forward")
    }
    return Plan(
        setting=setting,
        series=sea_series(sigma_m=sigma_m),
        ready_h={v.name: (0.0, 6.0) for v in setting.vehicles},
        air_h=air_h,
        people={name: count for name, count in people.items() if count},
        stay_h={"after": stay_h, "forward": 0.0},
        mating_since_min=mating or {},
        rising=rising or {},
    )


def walking(key: str, place: int, craft: str, refuge: str, count: int = 14):
    return lift(key, place, craft, refuge, count, 0)


FOUR_AFTER = tuple(walking(f"A{n}", n, "V1", "after") for n in range(4))
MATING = LiftFact(
    lift="A0",
    vehicle="V1",
    began_us={
        Phase.DOWN: NOW_US - 70 * 60_000_000,
        Phase.SEARCH: NOW_US - 50 * 60_000_000,
        Phase.MATE: NOW_US - 40 * 60_000_000,
    },
    phase=Phase.MATE,
)
EIGHT = tuple(walking(f"L{n}", n, f"V{n % 2 + 1}", ("after", "forward")[n // 2 % 2])
              for n in range(8))  # fmt: skip
PLANS = {
    "two vehicles, two chambers": plan({"after": 50.0, "forward": 60.0}, lifts=EIGHT),
    "a vehicle may be lost, matings fail": plan(
        {"after": 70.0, "forward": 60.0},
        lifts=EIGHT,
        vehicles=(
            vehicle("V1", loss_chance=0.06, failed_mating_chance=0.5, battery_kwh=95.0),
            vehicle("V2", failure_chance=0.4),
        ),
    ),
    "what a lost vehicle has left, by a smaller one in two sorties": plan(
        {"after": 90.0, "forward": 80.0},
        lifts=EIGHT[:1] + EIGHT[4:5] + tuple(walking(f"S{n}", 4 + n, "V2", "forward", 7)
                                             for n in range(2)),
        vehicles=(vehicle("V1", loss_chance=0.3), vehicle("V2", seats=8)),
    ),
    "groups parted between three small chambers": plan(
        {"after": 70.0},
        lifts=FOUR_AFTER,
        vehicles=(vehicle("V1"),),
        chambers=(
            chamber("C1", places=12),
            chamber("C2", places=8, make_ready_min=0.0),
            chamber("C3", places=30, available_at=z(16, "1800")),
        ),
    ),
    "a sea that is badly forecast": plan(
        {"after": 60.0, "forward": 70.0}, lifts=EIGHT, sigma_m=0.8
    ),
    "at the seat now, one vehicle, one team of attendants": plan(
        {"after": 80.0},
        lifts=FOUR_AFTER,
        vehicles=(vehicle("V1", attendant_teams=1, ready_at=None),),
        chambers=(chamber("C1", places=34), chamber("C2", places=34)),
        stay_h=12.0,
        facts={"A0": MATING},
        mating={"A0": 40.0},
    ),
    "a place free before the dive, recoverable throughout": plan(
        {"after": 60.0, "forward": 60.0},
        lifts=EIGHT,
        limits=limits(
            horizon_h=110.0, chamber_rule="free at dive", recoverable_throughout=True
        ),
    ),
    "a pressure that rises over the schedule's edge, in each future by its own": plan(
        {"after": 90.0},
        lifts=FOUR_AFTER,
        vehicles=(vehicle("V1"),),
        chambers=(chamber("C1"),),
        rising={"after": (1.2, 0.0, 0.012)},
    ),
}  # fmt: skip


BAR = {"after": 2.1, "forward": 1.1}


def curves_of(told: Plan) -> Curves | None:
    """Return each draw's pressure ahead, in a straight line by a rate of its own."""
    if not told.rising:
        return None
    names = tuple(told.rising)
    rng = np.random.default_rng(12)
    rates = {name: rng.uniform(low, high, DRAWS) for name, (_, low, high) in told.rising.items()}

    def curves(n_draws: int) -> AirCurves:
        hours = np.arange(0.0, 120.1, 4.0)
        bars = [told.rising[n][0] + hours[:, None] * rates[n][None, :n_draws] for n in names]
        return AirCurves(
            hours=tuple(hours.tolist()), refuges=names, pressure_bar=np.stack(bars, axis=1)
        )

    return curves


def ground_of(told: Plan) -> PlanGround:
    setting = told.setting
    uniforms = Uniforms(DRAWS, 3)
    rng = np.random.default_rng(11)
    hours = {v.name: rng.uniform(*told.ready_h[v.name], DRAWS) for v in setting.vehicles}
    people = tuple(
        RefugePeople(
            refuge=name,
            persons=count,
            stretcher=0,
            pressure_bar_abs=told.rising.get(name, (BAR[name],))[0],
            seat="clear",
        )
        for name, count in told.people.items()
    )
    # both vehicles ready by one option would be ready together: each has an option of its own
    options = tuple(
        ResponseOption(key=name, title=name, ready_us=NOW_US + (h * 3.6e9).astype(np.int64),
                       chosen=False)
        for name, h in hours.items()
    )  # fmt: skip
    return PlanGround(
        people=people,
        uniforms=uniforms,
        series=told.series,
        waves=wave_draws(told.series, uniforms),
        errors=wave_errors(told.series, uniforms),
        response=ForwardPortValue(options=options),
        air=PlainAir(told.air_h, told.people),
        curves=curves_of(told),
    )


def with_own_time(told: Plan) -> Plan:
    """Let each vehicle take its time from its own entry: uniform over the hours of the plan."""
    ready = NOW_US + 3 * 3_600_000_000
    from layers.earth.clock import from_us

    crafts = tuple(
        v.model_copy(
            update={"follows_chain": False, "ready_at": from_us(ready), "ready_spread_h": 6.0}
        )
        for v in told.setting.vehicles
    )
    return replace(told, setting=replace(told.setting, vehicles=crafts))


@pytest.mark.parametrize("name", PLANS)
def test_hours_and_chance_agree_with_the_event_model(name: str) -> None:
    told = with_own_time(PLANS[name])
    schedule = told.setting.schedule
    assert schedule is not None
    hours = told.stay_h["after"]
    steps = schedule.bands[1].steps
    scale = hours * 60.0 / sum(step.minutes for step in steps)
    longer = tuple(s.model_copy(update={"minutes": s.minutes * scale}) for s in steps)
    bands = (schedule.bands[0], schedule.bands[1].model_copy(update={"steps": longer}))
    table = schedule.model_copy(update={"bands": bands})
    told = replace(told, setting=replace(told.setting, schedule=table))
    outcome = evaluate(told.setting, ground_of(told))
    runs = futures(told, FUTURES)
    for n, one in enumerate(told.setting.lifts):
        left = np.where(outcome.runs.left_s[n] >= NEVER // 2, np.inf,
                        outcome.runs.left_s[n] / 3600.0)  # fmt: skip
        theirs = np.array([run.out.get(one.key, (np.inf, 0.0))[0] for run in runs])
        for share, error in ((0.1, TENTH), (0.5, HALF), (0.9, TENTH)):
            mark = quantile(left, share)
            below = float((theirs < mark - NEAR_H).mean())
            upto = 1.0 if np.isinf(mark) else float((theirs <= mark + NEAR_H).mean())
            assert below - error <= share <= upto + error, (one.key, share, mark, below, upto)
    both = [run.in_time() for run in runs]
    planned = np.mean([one[0] for one in both])
    alone = np.mean([one[1] for one in both])
    assert float(outcome.all_in_time.mean()) == pytest.approx(planned, abs=HALF)
    assert float((outcome.worst_margin_h >= 0).mean()) == pytest.approx(alone, abs=HALF)
    caught = np.mean([max(run.lift_caught.values(), default=0.0) > 1.0 for run in runs])
    ours = ((outcome.runs.caught_s > 60) & (outcome.runs.start_s < NEVER // 2)).any(axis=0).mean()
    assert float(ours) == pytest.approx(caught, abs=HALF)


def test_in_a_badly_forecast_sea_some_are_caught_below() -> None:
    told = with_own_time(PLANS["a sea that is badly forecast"])
    outcome = evaluate(told.setting, ground_of(told))
    assert (outcome.runs.caught_s > 0).any()
    assert Future(told, 1).run()
