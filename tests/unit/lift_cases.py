"""Plans for the tests of the lifts: vehicles, chambers, seas; all invented."""

from __future__ import annotations

from typing import Any

import numpy as np

from demo_data.scenario import z
from layers.earth.arrays import Floats
from layers.earth.clock import to_us
from layers.earth.values import SeaSeries
from layers.survivors.chambers.schedule import PressureBand, Schedule, Step
from layers.survivors.lifts.model import Chamber, Lift, LiftLimits, SupportShip
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.draws import Uniforms
from layers.survivors.lifts.run.job import Job, build_job
from layers.survivors.lifts.run.windows import sea_spans, wave_draws
from layers.survivors.lifts.vehicle import ThreePoint, Vehicle

NOW = z(15, "1200")
NOW_US = to_us(NOW)


def spread(low: float, likely: float, high: float) -> ThreePoint:
    return ThreePoint(low=low, likely=likely, high=high)


def vehicle(name: str = "V1", **changes: Any) -> Vehicle:
    base: dict[str, Any] = dict(
        name=name,
        seats=16,
        attendants=2,
        stretcher_places=4,
        stretcher_seats=3,
        battery_kwh=150.0,
        reserve_kwh=30.0,
        charge_kw=40.0,
        transit_kw=20.0,
        seat_kw=10.0,
        speed_down_m_min=15.0,
        speed_up_m_min=20.0,
        launch=spread(10, 15, 25),
        search=spread(5, 12, 40),
        mate=spread(15, 25, 60),
        transfer_walking=spread(1, 1.5, 3),
        transfer_stretcher=spread(5, 8, 15),
        away=spread(3, 5, 10),
        recover=spread(15, 20, 40),
        into_chamber=spread(10, 15, 30),
        turn_round=spread(90, 120, 200),
        repair=spread(120, 360, 1200),
        failure_chance=0.08,
        failed_mating_chance=0.15,
        max_pressure_bar_abs=5.0,
        person_kg=90.0,
        ballast_kg=2000.0,
        life_support_h=24.0,
        report_every_min=15.0,
        crews=2,
        crew_rest_h=6.0,
        source="test",
    )
    return Vehicle(**{**base, **changes})


def chamber(name: str, **changes: Any) -> Chamber:
    base: dict[str, Any] = dict(
        name=name,
        ship="S",
        places=18,
        attendants=2,
        volume_m3=30.0,
        make_ready_min=60.0,
        source="test",
    )
    return Chamber(**{**base, **changes})


def schedule(hours: float = 24.0) -> Schedule:
    def step(start: float, end: float, minutes: float) -> Step:
        return Step(
            from_bar_abs=start,
            to_bar_abs=end,
            minutes=minutes,
            breathing="air",
            oxygen_fraction=0.21,
        )

    return Schedule(
        name="test table",
        source="invented for a test",
        approved_by="nobody",
        invented=True,
        bands=(
            PressureBand(saturated_from_bar_abs=0.9, saturated_to_bar_abs=1.3),
            PressureBand(
                saturated_from_bar_abs=1.3,
                saturated_to_bar_abs=3.0,
                steps=(step(2.0, 1.5, hours * 20), step(1.5, 1.0, hours * 40)),
            ),
        ),
    )


def lift(key: str, place: int, craft: str, refuge: str, walking: int = 13, lying: int = 1) -> Lift:
    return Lift(
        key=key, place=place, vehicle=craft, refuge=refuge, walking=walking, stretcher=lying
    )


def limits(**changes: Any) -> LiftLimits:
    base: dict[str, Any] = dict(
        launch_hs_m=3.0,
        recovery_hs_m=2.5,
        through_water_kn=1.2,
        mating_kn=0.8,
        seat_depth_m=142.0,
        source="test",
    )
    return LiftLimits(**{**base, **changes})


def sea_series(hours: int = 240, sigma_m: float = 0.3) -> SeaSeries:
    """Return a tide that shuts the seat twice a day and a blow in the second day."""
    at = NOW_US + np.arange(hours, dtype=np.int64) * 3_600_000_000
    hour = np.arange(hours, dtype=np.float64)
    current = 0.6 + 0.3 * np.cos(2 * np.pi * hour / 12.42)
    return SeaSeries(
        at_us=at,
        hs_m=1.8 + 2.0 * np.exp(-(((hour - 26.0) / 8.0) ** 2)),
        hs_sigma_m=np.full(hours, sigma_m),
        tp_s=np.full(hours, 9.0),
        wind_kn=np.full(hours, 15.0),
        wind_sigma_kn=np.full(hours, 3.0),
        current_surface_kn=current + 0.2,
        current_seat_kn=current,
        visibility_nmi=np.full(hours, 10.0),
        daylight=(hour % 24 > 6) & (hour % 24 < 18),
    )


def eight_lifts(**changes: Any) -> PlanSetting:
    """Return two vehicles, two chambers, two refuges and eight lifts."""
    lifts = tuple(
        lift(f"L{n}", n, ("V1", "V2")[n % 2], ("after", "forward")[n // 2 % 2]) for n in range(8)
    )
    base: dict[str, Any] = dict(
        at_us=NOW_US,
        vehicles=(vehicle("V1"), vehicle("V2", crews=1, crew_rest_h=4.0)),
        chambers=(chamber("C1"), chamber("C2", available_at=z(16, "0000"))),
        ship=SupportShip(
            name="S", chamber_attendants=8, oxygen_m3=900, air_m3=20000, source="test"
        ),
        schedule=schedule(),
        limits=limits(),
        lifts=lifts,
        depth_m=142.0,
    )
    return PlanSetting(**{**base, **changes})


PRESSURES = {"after": 2.1, "forward": 1.1}


def ready(setting: PlanSetting, n_draws: int, spread_h: float = 6.0) -> dict[str, Any]:
    rng = np.random.default_rng(5)
    return {
        craft.name: NOW_US + (rng.random(n_draws) * spread_h * 3.6e9).astype(np.int64)
        for craft in setting.vehicles
    }


def job_of(
    setting: PlanSetting, n_draws: int = 200, seed: int = 1, series: SeaSeries | None = None
) -> Job:
    uniforms = Uniforms(n_draws, seed)
    series = series or sea_series()
    waves: Floats = wave_draws(series, uniforms)
    sea = sea_spans(series, waves, setting.limits, setting.at_us)
    return build_job(setting, by_lift(setting), ready(setting, n_draws), sea, uniforms)


def by_lift(
    setting: PlanSetting, pressures: dict[str, float] | None = None
) -> dict[str, float | None]:
    told = pressures or PRESSURES
    return {one.key: told.get(one.refuge) for one in setting.lifts}
