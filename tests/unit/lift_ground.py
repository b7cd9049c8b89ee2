"""People, response, sea and air for the tests of the margin; all invented."""

from __future__ import annotations

from typing import Any

import numpy as np

from layers.earth.values import ForwardPortValue, ResponseOption, SeaSeries
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.lifts.model import DecisionOption
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.draws import Uniforms
from layers.survivors.lifts.run.ground import PlanGround
from layers.survivors.lifts.run.windows import wave_draws
from tests.unit.lift_air import PlainAir
from tests.unit.lift_cases import NOW_US, chamber, eight_lifts, sea_series, vehicle

PEOPLE = (
    RefugePeople(refuge="after", persons=56, stretcher=4, pressure_bar_abs=2.1, seat="clear"),
    RefugePeople(refuge="forward", persons=56, stretcher=4, pressure_bar_abs=1.1, seat="clear"),
)


def response(n_draws: int, hours: dict[str, float] | None = None) -> ForwardPortValue:
    hours = hours or {"near": 10.0, "far": 20.0}
    u = np.random.default_rng(3).random(n_draws)
    return ForwardPortValue(
        options=tuple(
            ResponseOption(
                key=key,
                title=key,
                ready_us=NOW_US + ((h + u * 8) * 3.6e9).astype(np.int64),
                chosen=key == "far",
            )
            for key, h in hours.items()
        )
    )


def ground(n_draws: int = 1_000, seed: int = 1, **changes: Any) -> PlanGround:
    uniforms = Uniforms(n_draws, seed)
    series: SeaSeries = changes.pop("series", None) or sea_series()
    base: dict[str, Any] = dict(
        people=PEOPLE,
        uniforms=uniforms,
        series=series,
        waves=wave_draws(series, uniforms),
        response=response(n_draws),
        air=PlainAir({"after": 60.0, "forward": 90.0}, {"after": 56, "forward": 56}),
    )
    return PlanGround(**{**base, **changes})


def option(key: str, **changes: Any) -> DecisionOption:
    return DecisionOption(key=key, title=f"decision {key}", **changes)


EIGHT = (
    option("port", response="near"),
    option("pods", pods=True),
    option("order", refuge_order=("forward", "after")),
    option("fewer", people_per_lift=8),
    option("sea", launch_hs_m=3.5, recovery_hs_m=3.0),
    option("chamber", add_chamber="C3"),
    option("vehicle", add_vehicle="V3"),
    option("after first", refuge_order=("after", "forward")),
)


def on_the_table(**changes: Any) -> PlanSetting:
    base: dict[str, Any] = dict(
        options=EIGHT,
        chosen=("order",),
        spare_chambers=(chamber("C3"),),
        spare_vehicles=(vehicle("V3"),),
    )
    return eight_lifts(**{**base, **changes})
