"""The air of a refuge as a discrete-event model beside that of the lifts, one future at a time.

Written with simpy from the rules as they are stated, not from the code. People breathe a quarter of
an hour at a time and sleep eight hours of the day when nobody knows; what they are told to do
counts from its hour on and never before; who leaves breathes no more there. Of a reading far off
there are two accounts: one goes on as if it had not been made, one begins from it, and whichever
ends sooner is the least that can be said.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import simpy

Process = Generator[simpy.Event, Any, None]
NEVER = float("inf")
STEP_H = 0.25
R = 8.314462618
# g a person-day, NASA RP-1324; molar mass of carbon dioxide 44.0095 g/mol
CO2_MOL_H = 1000.0 / 44.0095 / 24.0
# met, ASHRAE Standard 55: sleeping 0.7, walking about 1.7; a resting day 0.983
MET = {"asleep": 0.7 / 0.983, "working": 1.7 / 0.983}
ASLEEP_H = 8.0
AWAKE = (24.0 - ASLEEP_H * MET["asleep"]) / (24.0 - ASLEEP_H)


@dataclass(frozen=True, kw_only=True)
class Told:
    """What is told of a refuge; hours are counted from now, those before it below nought."""

    persons: int
    volume_m3: float  # one standard deviation of 10 %
    bar: float
    celsius: float
    level_sev: float
    read: tuple[tuple[float, float], ...]  # when, carbon dioxide in % by volume: the first stands
    doing: tuple[tuple[float, str], ...] = ()  # from when, what


class Refuge:
    """One future of its air; what is unknown in it is drawn once."""

    def __init__(self, told: Told, rng: np.random.Generator) -> None:
        def normal() -> float:
            return float(rng.standard_normal())

        self.told = told
        self.volume = told.volume_m3 * np.exp(0.10 * normal())
        self.water_m3_h = abs(0.001 * self.volume * normal())
        self.breath = np.exp(0.15 * normal()) * np.exp(0.03 * normal())
        self.night = float(rng.uniform(0.0, 24.0))
        instrument = 1.0 + 0.08 * normal()
        bar = told.bar + float(np.hypot(0.02, 0.02)) * normal()
        self.read = [
            (at, max(percent + 0.1 * normal(), 0.01) / instrument / 100.0 * bar * 100.0)
            for at, percent in told.read
        ]

    def ends_h(self, leaving: Sequence[tuple[float, int]] = (), account: int = 0) -> float:
        """Return when the level is reached, with so many leaving at those hours."""
        start_h, kpa = self.read[account]
        self.env = simpy.Environment(initial_time=start_h)
        self.people, self.pace, self.found = self.told.persons, 0.0, NEVER
        self.room = self.volume
        self.mol = kpa * self.room / self._per_mol()
        for at, what in self.told.doing:
            self.env.process(self._told_to(at, what))
        for at, count in leaving:
            if at < NEVER:
                self.env.process(self._leave(at, count))
        self.env.run(until=self.env.process(self._breathe()))
        return self.found

    def least_h(self, leaving: Sequence[tuple[float, int]] = ()) -> float:
        """Return when it is reached at the soonest, whichever reading is right."""
        return min(self.ends_h(leaving, n) for n in range(len(self.read)))

    def _per_mol(self) -> float:
        return R * (self.told.celsius + 273.15) / 1000.0

    def _told_to(self, at: float, what: str) -> Process:
        yield self.env.timeout(max(at - self.env.now, 0.0))
        self.pace = MET[what]
        if what == "asleep":  # nobody sleeps for ever
            yield self.env.timeout(ASLEEP_H)
            self.pace = 0.0

    def _leave(self, at: float, count: int) -> Process:
        yield self.env.timeout(max(at - self.env.now, 0.0))
        self.people -= count

    def _breathe(self) -> Process:
        limit = self.told.level_sev * 1.01325
        while self.env.now < 300.0:
            by_day = MET["asleep"] if (self.env.now + self.night) % 24.0 < ASLEEP_H else AWAKE
            made = CO2_MOL_H * self.breath * (self.pace or by_day) * self.people
            yield self.env.timeout(STEP_H)
            before = self.mol * self._per_mol() / self.room
            self.mol += made * STEP_H
            self.room -= self.water_m3_h * STEP_H
            now = self.mol * self._per_mol() / self.room
            if now >= limit:
                share = min(max((limit - before) / max(now - before, 1e-9), 0.0), 1.0)
                self.found = self.env.now - STEP_H * (1.0 - share)
                return
