"""A plain stand-in for the air of the refuges: one level each, longer when people leave."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from layers.survivors.air.endurance import Endurance
from layers.survivors.lifts.draws import Uniforms
from layers.survivors.lifts.outcome import Leaving
from tests.unit.lift_cases import NOW_US


class PlainAir:
    """Person-hours of air in each refuge, used up by those who are still there."""

    def __init__(
        self, hours: Mapping[str, float], persons: Mapping[str, int], seed: int = 1
    ) -> None:
        self.hours, self.persons, self.seed = hours, persons, seed
        self.runs = 0

    def __call__(
        self, *, n_draws: int, pods: bool, leaving: tuple[Leaving, ...]
    ) -> tuple[Endurance, ...]:
        self.runs += 1
        found = []
        for refuge, hours in self.hours.items():
            u = Uniforms(n_draws, self.seed).take(f"air {refuge}")
            stock = (hours + 24.0 * pods) * self.persons[refuge] * (0.8 + 0.4 * u)
            found.append(
                Endurance(
                    refuge=refuge,
                    level="CO2 level of the test",
                    source="invented for a test",
                    runs_out_us=_used_up(stock, self.persons[refuge], leaving, refuge),
                )
            )
        return tuple(found)


def _used_up(stock: np.ndarray, persons: int, leaving: tuple[Leaving, ...], refuge: str):
    end = np.zeros_like(stock)
    left, here, at_h = stock.copy(), persons, 0.0
    for one in sorted(leaving):
        if one.refuge != refuge:
            continue
        until = (one.at_us - NOW_US) / 3.6e9
        used = here * (until - at_h)
        ends_here = (left <= used) & (end == 0.0)
        end = np.where(ends_here, at_h + left / max(here, 1), end)
        left, here, at_h = left - used, here - one.persons, until
    end = np.where(end == 0.0, at_h + left / max(here, 1), end)
    return NOW_US + np.rint(end * 3.6e9).astype(np.int64)
