"""What nobody told and makes a plan hopeful: with it the last could only be out later.

A sea without a forecast shuts nothing, a crew nobody counted never tires, people nobody has looked
at all walk. Each lets the plan run, so that the first hour has one; none may make its answer surer
or better than it would be if it were known. So what rests on it is *at most*, with its name.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from layers.earth.values import SeaSeries
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.ground import PlanGround

SURFACE_BAR = 1.1  # up to here nobody needs a stay, schedule or not: our choice
NO_SEA = "no forecast of the sea"
FREE = {"battery_kwh": "battery", "crews": "crews"}  # of a vehicle; not told, they bind nothing
WAVES = {"launch_hs_m": "launch", "recovery_hs_m": "recovery"}
CURRENTS = {"through_water_kn": "through the water", "mating_kn": "mating"}


def unforecast(series: SeaSeries | None) -> tuple[str, ...]:
    """Return what no forecast tells of the sea ahead, in words.

    Waves or a current once observed and held on are none: they shut nothing that is to come.
    """
    if series is None:
        return (NO_SEA,)
    said = [] if series.waves_forecast else [NO_SEA]
    for where, speeds, ahead in (
        ("at the surface", series.current_surface_kn, series.current_forecast),
        ("at the seat", series.current_seat_kn, True),
    ):
        if not np.isfinite(speeds).any():
            said.append(f"no current known {where}")
        elif not ahead:
            said.append(f"no forecast of the current {where}")
    return tuple(said)


def untold(setting: PlanSetting, ground: PlanGround, place: RefugePeople) -> tuple[str, ...]:
    """Return what is not told and could only make the last of a refuge later, in words."""
    return tuple(dict.fromkeys(_untold(setting, ground, place)))


def _untold(setting: PlanSetting, ground: PlanGround, place: RefugePeople) -> Iterable[str]:
    yield from ground.unforecast
    if ground.series is not None:
        told = setting.limits.model_fields_set
        for what, limits in (("waves", WAVES), ("current", CURRENTS)):
            if free := [word for name, word in limits.items() if name not in told]:
                yield f"no limit of {what} for {' and '.join(free)}"
    pressed = place.pressure_bar_abs is None or place.pressure_bar_abs > SURFACE_BAR
    mine = {lift.vehicle for lift in setting.waiting() if lift.refuge == place.refuge}
    if mine and setting.schedule is None and pressed:
        yield "no decompression schedule"
    for vehicle in setting.vehicles:
        told = vehicle.model_fields_set
        free = [word for name, word in FREE.items() if name not in told]
        if pressed and "max_pressure_bar_abs" not in told:
            free.append("pressure it may carry")
        if free and vehicle.name in mine:
            yield f"{vehicle.name}'s {', '.join(free)} not told"
    if place.fitness_unknown and mine:
        yield f"whether {place.fitness_unknown} in {place.refuge} walk or lie"
