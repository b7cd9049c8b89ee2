"""A plain stand-in for the air of the refuges: one level each, longer when people leave."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from layers.survivors.air.endurance import Endurance
from layers.survivors.lifts.run.draws import Uniforms
from layers.survivors.lifts.run.ground import AIR_HORIZON_H, Leaving
from tests.unit.lift_cases import NOW_US


class PlainAir:
    """Person-hours of air in each refuge, used up by those who are still there."""

    def __init__(
        self, hours: Mapping[str, float], persons: Mapping[str, int], seed: int = 1
    ) -> None:
        self.hours, self.persons, self.seed = hours, persons, seed
        self.runs = 0

    def __call__(
        self,
        *,
        n_draws: int,
        pods: bool,
        leaving: tuple[Leaving, ...],
        horizon_h: float = AIR_HORIZON_H,
    ) -> tuple[Endurance, ...]:
        self.runs += 1
        found = []
        for refuge, hours in self.hours.items():
            u = Uniforms(n_draws, self.seed).take(f"air {refuge}")
            stock = (hours + 24.0 * pods) * self.persons[refuge] * (0.8 + 0.4 * u)
            mine = [one for one in leaving if one.refuge == refuge]
            found.append(
                Endurance(
                    refuge=refuge,
                    level="CO2 level of the test",
                    source="invented for a test",
                    runs_out_us=_used_up(stock, self.persons[refuge], mine),
                )
            )
        return tuple(found)


def _used_up(stock: np.ndarray, persons: int, leaving: list[Leaving]) -> np.ndarray:
    """Return, draw by draw, when the person-hours are used up by those still there."""
    ends = np.empty(len(stock))
    times = [np.resize(one.at_us, len(stock)) for one in leaving]
    for draw in range(len(stock)):
        goes = sorted((int(at[draw]), one.persons) for at, one in zip(times, leaving, strict=True))
        left, here, at_h = stock[draw], persons, 0.0
        for at_us, count in goes:
            until = (at_us - NOW_US) / 3.6e9
            if left <= here * (until - at_h):
                break
            left, here, at_h = left - here * (until - at_h), here - count, until
        ends[draw] = at_h + left / max(here, 1)
    return NOW_US + np.rint(ends * 3.6e9).astype(np.int64)
