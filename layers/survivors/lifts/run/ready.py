"""When each vehicle can first dive, draw by draw, and which of them nothing says it of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from layers.earth.arrays import Ints
from layers.earth.clock import to_us
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.ground import US, PlanGround
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.vehicle import Vehicle


def ready_draws(vehicle: Vehicle, setting: PlanSetting, ground: PlanGround) -> Ints:
    """Return when a vehicle can first dive, UTC microseconds, shape (n_draws,).

    From its own entry where that was told after its last sortie (a repair), else at once when
    it has dived, else from the response chain when it follows that, else from its own entry.
    Never, as far as is told, where nothing says when.
    """
    found = _told(vehicle, setting, ground)
    return np.full(ground.n_draws, setting.at_us + NEVER * US) if found is None else found


def with_unready(setting: PlanSetting, ground: PlanGround) -> PlanSetting:
    """Return the plan with the vehicles named of which nothing says when they can first dive."""
    works = [v for v in setting.vehicles if v.state == "working"]
    names = {v.name for v in works if _told(v, setting, ground) is None}
    return setting if names == setting.unready else replace(setting, unready=frozenset(names))


def _told(vehicle: Vehicle, setting: PlanSetting, ground: PlanGround) -> Ints | None:
    n = ground.n_draws
    if vehicle.name in setting.mended_us:
        return np.full(n, max(setting.mended_us[vehicle.name], setting.at_us), dtype=np.int64)
    if any(fact.vehicle == vehicle.name for fact in setting.facts.values()):
        return np.full(n, setting.at_us, dtype=np.int64)
    options = ground.response.options if ground.response and vehicle.follows_chain else ()
    for option in options:
        if option.key == setting.response or (setting.response is None and option.chosen):
            return np.resize(option.ready_us, n)
    own = not vehicle.follows_chain or setting.response is None
    if vehicle.ready_at is None or not own:
        return None
    u = ground.uniforms.take(f"{vehicle.name} ready")
    spread_us = vehicle.ready_spread_h * 3.6e9
    return np.asarray(to_us(vehicle.ready_at) + np.rint((u - 0.5) * spread_us).astype(np.int64))
