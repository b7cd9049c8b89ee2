"""The tide of a port as it is printed: harmonic constants, or differences on another port.

Heights are above chart datum. A list made for another datum says how high that datum lies above
chart datum; without it the list is refused, for a berth's depth is below chart datum.
"""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from layers.earth.sea.tides import ARGUMENTS, known_name
from layers.journal.kinds import Payload

Name = Field(min_length=1, max_length=120)
CHART_DATUM = "chart datum"


class TideConstant(Payload):
    """One constituent: amplitude in metres and phase lag in degrees, as printed."""

    name: str = Field(min_length=1, max_length=12)
    amplitude_m: float = Field(ge=0.0, le=10.0)
    phase_deg: float = Field(ge=0.0, le=360.0)


class TideConstants(Payload):
    """Harmonic constants of a port, with the height of mean level above its datum.

    Phases are on Greenwich (``zone_h`` 0) or on the time of a zone so many hours ahead of it.
    """

    port: str = Name
    datum: str = Field(default=CHART_DATUM, min_length=1, max_length=60)
    datum_above_chart_datum_m: float | None = Field(default=None, ge=-10, le=20)
    mean_level_m: float = Field(ge=-5.0, le=20.0)
    zone_h: float = Field(default=0.0, ge=-12.0, le=14.0)
    constants: tuple[TideConstant, ...] = Field(min_length=1, max_length=80)
    taken_from: str = Field(min_length=2, max_length=200)

    @model_validator(mode="after")
    def _usable(self) -> Self:
        unknown = [one.name for one in self.constants if known_name(one.name) is None]
        if unknown:
            raise ValueError(
                f"constituents {', '.join(unknown)} are not known; accepted: {', '.join(ARGUMENTS)}"
            )
        names = [known_name(one.name) for one in self.constants]
        twice = sorted({str(n) for n in names if names.count(n) > 1})
        if twice:
            raise ValueError(f"constituent {', '.join(twice)} is given twice")
        if self.datum != CHART_DATUM and self.datum_above_chart_datum_m is None:
            raise ValueError(
                f"heights above {self.datum} can not be used with depths below chart datum; give "
                "datum_above_chart_datum_m"
            )
        return self


class TideDelay(Payload):
    """Minutes to add to a turn at the standard port that falls at this clock time there."""

    at_h: float = Field(ge=0.0, lt=24.0)
    minutes: float = Field(ge=-360.0, le=360.0)


class HeightDifference(Payload):
    """Metres to add to a height of the standard port of this size."""

    standard_m: float = Field(ge=-5.0, le=20.0)
    metres: float = Field(ge=-10.0, le=10.0)


class TideDifferences(Payload):
    """A secondary port: what to add to the high and low waters of a standard port.

    One difference is taken as it stands; several are taken in proportion between them, by the
    clock for times, by the height for heights (beyond the last two alike). ``factor`` multiplies
    a height before the difference is added, where a table gives a ratio. A water with neither has
    heights that settle nothing: no difference is told as a difference of 0.
    """

    port: str = Name
    standard: str = Name
    zone_h: float = Field(default=0.0, ge=-12.0, le=14.0)  # of the clock times at_h
    high_minutes: tuple[TideDelay, ...] = Field(min_length=1)
    low_minutes: tuple[TideDelay, ...] = Field(min_length=1)
    high_m: tuple[HeightDifference, ...] = ()
    low_m: tuple[HeightDifference, ...] = ()
    high_factor: float | None = Field(default=None, gt=0.0, le=5.0)
    low_factor: float | None = Field(default=None, gt=0.0, le=5.0)
    taken_from: str = Field(min_length=2, max_length=200)

    @model_validator(mode="after")
    def _not_on_itself(self) -> Self:
        if self.port == self.standard:
            raise ValueError("a port has no differences on itself")
        return self
