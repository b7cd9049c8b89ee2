"""The height of water at a port from whatever is entered of its tide, and what it rests on.

Entered high and low waters go first, then the port's own harmonic constants, then differences on
a standard port. It is the astronomical tide: surge and air pressure are not in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import from_us, to_us
from layers.earth.sea.tides import Constant, on_greenwich, principal_absent, sums, turns
from layers.forward_port.facts import Facts
from layers.forward_port.model import Tide
from layers.forward_port.ports.tide_model import (
    HeightDifference,
    TideConstants,
    TideDelay,
    TideDifferences,
)

US_PER_H = 3_600_000_000
MARGIN_US = 14 * US_PER_H  # turns wanted on either side of what is asked for


class WaterLevel(Protocol):
    """Heights of water above chart datum."""

    @property
    def said(self) -> str:
        """What the heights rest on, in words."""
        ...

    @property
    def lacks(self) -> str:
        """What nobody has told of it without which it settles nothing; empty where it is whole."""
        ...

    def heights_m(self, at_us: Ints) -> Floats:
        """Return heights above chart datum, m, shape (n,); NaN where not known."""
        ...


@dataclass(frozen=True, slots=True)
class Turn:
    """One high or low water: when, how high above chart datum, and which."""

    at_us: int
    height_m: float
    high: bool


@dataclass(frozen=True, slots=True)
class Tabled:
    """Half a cosine between entered turns (common practice, no source)."""

    turns: tuple[Turn, ...]
    said: str
    lacks: str = ""

    def heights_m(self, at_us: Ints) -> Floats:
        """Return heights above chart datum, NaN outside the first and last turn."""
        return between_turns(self.turns, np.asarray(at_us, dtype=np.int64))


@dataclass(frozen=True, slots=True)
class Harmonic:
    """The sum of a port's constituents."""

    value: TideConstants

    @property
    def said(self) -> str:
        """What the heights rest on, in words."""
        return f"{len(self.value.constants)} harmonic constants ({self.value.taken_from})"

    @property
    def lacks(self) -> str:
        """Which of the principal constituents the list is without."""
        absent = principal_absent(one.name for one in self.value.constants)
        return f"no {', '.join(absent)} in its list" if absent else ""

    @property
    def constants(self) -> tuple[Constant, ...]:
        """The constituents with their phases on Greenwich."""
        return tuple(
            Constant(
                name=one.name,
                amplitude=one.amplitude_m,
                phase_deg=on_greenwich(one.name, one.phase_deg, self.value.zone_h),
            )
            for one in self.value.constants
        )

    @property
    def mean_m(self) -> float:
        """Mean level above chart datum."""
        return self.value.mean_level_m + (self.value.datum_above_chart_datum_m or 0.0)

    def heights_m(self, at_us: Ints) -> Floats:
        """Return heights above chart datum, m."""
        return self.mean_m + sums(self.constants, at_us)

    def turns(self, begin_us: int, end_us: int) -> tuple[Turn, ...]:
        """Return the high and low waters between two times."""
        found = turns(self.constants, begin_us, end_us)
        return tuple(Turn(at, self.mean_m + height, high) for at, height, high in found)


@dataclass(frozen=True, slots=True)
class Secondary:
    """A secondary port: its turns from those of the standard port, half a cosine between."""

    value: TideDifferences
    standard: Tabled | Harmonic

    @property
    def said(self) -> str:
        """What the heights rest on, in words."""
        return f"differences on {self.value.standard} ({self.standard.said})"

    @property
    def lacks(self) -> str:
        """What the standard port lacks, and the waters of which no height is told."""
        value = self.value
        waters = (("high", value.high_m, value.high_factor), ("low", value.low_m, value.low_factor))
        absent = [name for name, metres, factor in waters if not metres and factor is None]
        own = f"no difference in height of {' and '.join(absent)} water" if absent else ""
        return "; ".join(said for said in (own, self.standard.lacks) if said)

    def turns(self, begin_us: int, end_us: int) -> tuple[Turn, ...]:
        """Return the port's turns about a span of time."""
        if isinstance(self.standard, Harmonic):
            standard = self.standard.turns(begin_us - MARGIN_US, end_us + MARGIN_US)
        else:
            standard = self.standard.turns
        moved = [moved_turn(self.value, turn) for turn in standard]
        return tuple(sorted(moved, key=lambda turn: turn.at_us))

    def heights_m(self, at_us: Ints) -> Floats:
        """Return heights above chart datum, NaN where the standard port has no turns."""
        at = np.asarray(at_us, dtype=np.int64)
        if not len(at):
            return np.empty(0)
        return between_turns(self.turns(int(at.min()), int(at.max())), at)


def water_level(facts: Facts, port: str) -> WaterLevel | None:
    """Return the tide of a port, None where nothing is entered of it."""
    own = _own(facts, port)
    if own is not None:
        return own
    differences = facts.last("tide_differences", port)
    if differences is None:
        return None
    standard = _own(facts, differences.standard)
    return None if standard is None else Secondary(differences, standard)


def _own(facts: Facts, port: str) -> Tabled | Harmonic | None:
    entered = facts.last("tide", port)
    if entered is not None:
        return tabled(entered)
    constants = facts.last("tide_constants", port)
    return None if constants is None else Harmonic(constants)


def tabled(entered: Tide) -> Tabled:
    """Return entered high and low waters as a level."""
    heights = [turn.height_m for turn in entered.turns]
    found = []
    for n, turn in enumerate(entered.turns):
        beside = heights[n - 1] if n else heights[n + 1]
        found.append(Turn(to_us(turn.at), turn.height_m, turn.height_m > beside))
    return Tabled(tuple(found), "entered high and low waters")


def between_turns(found: tuple[Turn, ...], at_us: Ints) -> Floats:
    """Return heights between turns by half a cosine, NaN outside the first and last."""
    if len(found) < 2:
        return np.full(len(at_us), np.nan)
    turns_us = np.array([turn.at_us for turn in found], dtype=np.int64)
    levels = np.array([turn.height_m for turn in found])
    after = np.clip(np.searchsorted(turns_us, at_us, side="right"), 1, len(turns_us) - 1)
    before = after - 1
    share = (at_us - turns_us[before]) / (turns_us[after] - turns_us[before])
    height = levels[before] + (levels[after] - levels[before]) * (1 - np.cos(np.pi * share)) / 2
    return np.where((at_us < turns_us[0]) | (at_us > turns_us[-1]), np.nan, height)


def moved_turn(value: TideDifferences, turn: Turn) -> Turn:
    """Return a turn of the standard port as it comes at the secondary one."""
    times = value.high_minutes if turn.high else value.low_minutes
    heights = value.high_m if turn.high else value.low_m
    factor = value.high_factor if turn.high else value.low_factor
    clock = from_us(turn.at_us)
    hour = (clock.hour + clock.minute / 60.0 + clock.second / 3600.0 + value.zone_h) % 24.0
    return Turn(
        turn.at_us + round(_minutes(times, hour) * 60e6),
        turn.height_m * (1.0 if factor is None else factor) + _metres(heights, turn.height_m),
        turn.high,
    )


def _minutes(given: tuple[TideDelay, ...], hour: float) -> float:
    """Return minutes in proportion by the clock, which goes round."""
    hours = [one.at_h for one in given]
    return float(np.interp(hour, hours, [one.minutes for one in given], period=24.0))


def _metres(given: tuple[HeightDifference, ...], height_m: float) -> float:
    """Return metres in proportion by the height, beyond the ends by the nearest two."""
    if len(given) < 2:
        return given[0].metres if given else 0.0
    held = sorted(given, key=lambda one: one.standard_m)
    pairs = list(pairwise(held))
    low, high = next((p for p in pairs if height_m <= p[1].standard_m), pairs[-1])
    span = high.standard_m - low.standard_m
    if span == 0.0:
        return low.metres
    return low.metres + (high.metres - low.metres) * (height_m - low.standard_m) / span
