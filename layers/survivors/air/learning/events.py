"""What happens to the air of a refuge, in order of time: the learner takes these one by one."""

from __future__ import annotations

import math
from dataclasses import dataclass

# What is told again within about this is no news: a gauge read again errs as it did, a report
# passed on twice is one. Our assumption, no source.
SAME_ERROR_MIN = 10.0


def shared_error(apart_h: float) -> float:
    """Return how much of its error what is told so many hours apart has in common, 0 to 1."""
    return math.exp(-((60.0 * apart_h / SAME_ERROR_MIN) ** 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class AirPrior:
    """What is taken before anything is read; shares are one standard deviation.

    Parameters
    ----------
    volume_m3, volume_share
        Free gas volume.
    breath, breath_share : mol O2 a person-hour
        And the spread between people that does not average out.
    rq, rq_share
        Respiratory quotient.
    water_share, leak_share : per hour
        Of the volume, and of the gas, where nothing was said about water or gas coming in.
    hold_share
        How loosely people hold a partial pressure with their stores.
    pressure_bar, o2_percent, co2_percent
        Error of a reading that is new each time.
    bias_bar, bias_o2, bias_co2
        Error that an instrument keeps: bar, and shares of what it reads.
    swing_share, wander_share, wander_h
        How breathing swings through a day (each of two parts in quadrature), what is left beside
        that, and for how long that lasts.
    """

    volume_m3: float
    volume_share: float
    breath: float
    breath_share: float
    rq: float
    rq_share: float = 0.03
    water_share: float = 0.001
    leak_share: float = 0.0005
    hold_share: float = 0.05
    pressure_bar: float = 0.02
    o2_percent: float = 0.3
    co2_percent: float = 0.1
    bias_bar: float = 0.02
    bias_o2: float = 0.02
    bias_co2: float = 0.08
    swing_share: float = 0.17
    wander_share: float = 0.08
    wander_h: float = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """A reading: bar absolute, per cent by volume, K; None where not read.

    ``instrument`` is whose it is; ``sure`` that a person has said it stands, however far off.
    """

    at_h: float
    pressure_bar: float
    o2_percent: float | None
    co2_percent: float | None
    kelvin: float | None
    key: str
    instrument: str = ""
    sure: bool = False

    def retells(self, other: Sample) -> bool:
        """Return whether it is mostly the same word: of the same instrument, within minutes."""
        same = self.instrument == other.instrument
        return same and shared_error(self.at_h - other.at_h) > 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """Stores counted: mol of oxygen they give, or of carbon dioxide they take.

    ``hold_kpa`` is the partial pressure held by using them; None takes what was last read.
    """

    at_h: float
    oxygen: bool
    mol: float
    share: float
    hold_kpa: float | None
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """Stores taken in, mol, with one standard deviation as a share."""

    at_h: float
    oxygen_mol: float
    absorbs_mol: float
    share: float
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PeoplePresent:
    """How many breathe the air of the refuge from this time on."""

    at_h: float
    persons: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BreathingRate:
    """Another figure for what a person breathes, from this time on: shares of the one before."""

    at_h: float
    breath_ratio: float
    rq_ratio: float
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidInflow:
    """Water (m3/h) or air (mol/h) said to come in, with one standard deviation."""

    at_h: float
    water: bool
    rate: float
    sigma: float
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Breathed:
    """Air that people begin (or, negative, cease) to breathe out of bottles, mol/h."""

    at_h: float
    mol_per_h: float


Event = Sample | Count | Added | PeoplePresent | BreathingRate | SaidInflow | Breathed


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """What a reading showed against what was expected of it.

    ``sigmas`` is how far off, in standard deviations of model and instrument together;
    ``began_again`` that a person, or a second reading, stood by it and the model started again;
    ``doubtful`` that it waits for that.
    """

    key: str
    quantity: str
    unit: str
    expected_p10: float
    expected_p50: float
    expected_p90: float
    read: float
    sigmas: float
    began_again: bool = False
    doubtful: bool = False

    @property
    def off(self) -> float:
        """Read less expected."""
        return self.read - self.expected_p50
