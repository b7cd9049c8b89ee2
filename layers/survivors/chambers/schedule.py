"""Decompression schedule tables as the user enters them, and how long they keep people.

Musterplot ships no schedule and works none out: a table is loaded with its source and with who
approved it, checked for gaps, and looked up. A heliox table is refused for people who come out
of compressed air: on air and nitrox one gave 3 cases of decompression sickness in 12 men at
40.2 msw (Eckenhoff & Vann 1985, Undersea Biomed Res 12(1) 41-52).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Literal, Protocol, Self

from pydantic import Field, ValidationError, model_validator

from layers.earth.errors import InputError, RecordRefused
from layers.journal.kinds import Payload, Text
from layers.journal.known import Known
from layers.journal.record import Draft
from layers.journal.words.models import refused

# Oxygen fraction of what is breathed: dry air 0.2095; nitrox is anything richer; oxygen masks leak.
FRACTIONS = {"air": (0.20, 0.22), "nitrox": (0.22, 0.90), "oxygen": (0.80, 1.0)}
# Oxygen at 18 m (2.8 atm) is the most of the usual treatment tables; from memory, no page seen.
MOST_OXYGEN_BAR = 2.9
SURFACE_BAR_ABS = 1.05  # a stay that ends above this has not brought anybody to the surface
BREATHING = ("air", "nitrox", "oxygen")
START_WITHIN_BAR = 0.1  # of the pressure they sat at; our choice


class WorkingPressure(Protocol):
    """A chamber, as far as a schedule asks for it."""

    @property
    def name(self) -> str:
        """How it is called."""
        ...

    @property
    def working_pressure_bar_abs(self) -> float | None:
        """What it is built for, bar absolute; None where nobody told it."""
        ...


HEADS = (
    "saturated_from_bar_abs",
    "saturated_to_bar_abs",
    "from_bar_abs",
    "to_bar_abs",
    "minutes",
    "breathing",
    "oxygen_fraction",
    "oxygen_l_min",
)


class Step(Payload):
    """A stop or a change of pressure in a chamber, and what is breathed through it.

    ``oxygen_l_min`` is what one person uses from the ship's oxygen, litres a minute at the
    surface, beyond what he burns; 0 when only chamber air is breathed.
    """

    from_bar_abs: float = Field(ge=0.9, le=10.0)
    to_bar_abs: float = Field(ge=0.9, le=10.0)
    minutes: float = Field(gt=0.0, le=20_000.0)
    breathing: Literal["air", "nitrox", "oxygen"]
    oxygen_fraction: float = Field(ge=0.1, le=1.0)
    oxygen_l_min: float = Field(default=0.0, ge=0.0, le=200.0)

    @property
    def highest_bar_abs(self) -> float:
        """The higher end of the step, bar absolute."""
        return max(self.from_bar_abs, self.to_bar_abs)

    @property
    def oxygen_bar(self) -> float:
        """Oxygen breathed at the higher end, bar."""
        return self.highest_bar_abs * self.oxygen_fraction


class PressureBand(Payload):
    """The steps for people who sat at a pressure within this band."""

    saturated_from_bar_abs: float = Field(ge=0.9, le=10.0)
    saturated_to_bar_abs: float = Field(ge=0.9, le=10.0)
    steps: tuple[Step, ...] = ()

    @property
    def name(self) -> str:
        """How the band is called."""
        return f"band {self.saturated_from_bar_abs:g} to {self.saturated_to_bar_abs:g} bar abs"

    @property
    def hours(self) -> float:
        """How long the steps keep a person under pressure."""
        return sum(step.minutes for step in self.steps) / 60.0

    @model_validator(mode="after")
    def _without_gap(self) -> Self:
        name = self.name
        if self.saturated_to_bar_abs <= self.saturated_from_bar_abs:
            raise ValueError(f"{name} runs backwards; from must be below to")
        for step in self.steps:
            if step.to_bar_abs > step.from_bar_abs:
                raise ValueError(f"{name}: a step goes up from {step.from_bar_abs:g} bar abs")
        for before, after in zip(self.steps, self.steps[1:], strict=False):
            if abs(before.to_bar_abs - after.from_bar_abs) > 1e-6:
                raise ValueError(
                    f"{name} has a gap: a step ends at {before.to_bar_abs:g} and the next "
                    f"begins at {after.from_bar_abs:g} bar abs; steps must meet"
                )
        if self.steps and self.steps[-1].to_bar_abs > SURFACE_BAR_ABS:
            raise ValueError(
                f"{name} ends at {self.steps[-1].to_bar_abs:g} bar abs; the last step must end "
                f"at the surface, at most {SURFACE_BAR_ABS:g} bar abs"
            )
        return self


class Schedule(Payload):
    """A decompression schedule table, entered with its source and who approved it.

    A band with no steps says that no stay is needed at those pressures.
    """

    name: str = Text
    source: str = Text
    approved_by: str = Text
    invented: bool
    bands: tuple[PressureBand, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _bands_meet(self) -> Self:
        for before, after in zip(self.bands, self.bands[1:], strict=False):
            gap = after.saturated_from_bar_abs - before.saturated_to_bar_abs
            if abs(gap) > 1e-6:
                word = "a gap" if gap > 0 else "an overlap"
                raise ValueError(
                    f"schedule {self.name!r} has {word} between "
                    f"{before.saturated_to_bar_abs:g} and {after.saturated_from_bar_abs:g} bar "
                    "abs; the bands must meet, lowest first"
                )
        return self

    def band(self, pressure_bar_abs: float) -> PressureBand:
        """Return the band for people who sat at a pressure.

        Parameters
        ----------
        pressure_bar_abs : float
            Pressure at which they sat, bar absolute. On a border the deeper band counts.

        Raises
        ------
        InputError
            The table does not reach that pressure; it is never stretched.
        """
        for band in reversed(self.bands):
            if band.saturated_from_bar_abs <= pressure_bar_abs <= band.saturated_to_bar_abs:
                return band
        low, high = self.bands[0].saturated_from_bar_abs, self.bands[-1].saturated_to_bar_abs
        raise InputError(
            f"people who sat at {pressure_bar_abs:.2f} bar abs are outside schedule {self.name!r}",
            where="decompression schedule",
            accepted=f"{low:g} to {high:g} bar abs, or a table that reaches further",
        )

    def said(self, chambers: Sequence[WorkingPressure] = ()) -> tuple[str, ...]:
        """Return what is to be said of the table before anybody is kept by it.

        People who sat above where a band begins would drop there in no time; a chamber may not
        be built for a step's pressure; and the oxygen of a stay is held against the limits that
        divers have.
        """
        found = []
        for band in self.bands:
            if not band.steps:
                continue
            start = band.steps[0].from_bar_abs
            if start + START_WITHIN_BAR < band.saturated_to_bar_abs:
                found.append(
                    f"{band.name} begins at {start:g} bar abs: who sat above that drops to it in "
                    "no time"
                )
            highest = max(step.highest_bar_abs for step in band.steps)
            for chamber in chambers:
                most = chamber.working_pressure_bar_abs
                if most is not None and highest > most:
                    found.append(
                        f"{band.name} needs {highest:g} bar abs, and {chamber.name} is built for "
                        f"{most:g}: it leaves these people out"
                    )
        return tuple(found)

    def nearest(self, pressure_bar_abs: float) -> PressureBand:
        """Return the band for a pressure, the nearest one outside the table.

        Only for people who are out already: the pressure in the refuge they left goes on
        changing, theirs does not.
        """
        low, high = self.bands[0].saturated_from_bar_abs, self.bands[-1].saturated_to_bar_abs
        return self.band(min(max(pressure_bar_abs, low), high))

    def stay_s(self, pressure_bar_abs: float) -> int:
        """Return how many seconds people from that pressure stay in a chamber, 0 for none."""
        return round(self.band(pressure_bar_abs).hours * 3600.0)


def refuse_schedule(value: Schedule, draft: Draft, known: Known) -> None:
    """Refuse a table whose gas is not what it is called, or whose oxygen nobody could breathe."""
    for band in value.bands:
        for step in band.steps:
            where = f"{band.name}, step from {step.from_bar_abs:g} bar abs"
            least, most = FRACTIONS[step.breathing]
            if not least <= step.oxygen_fraction <= most:
                raise RecordRefused(
                    f"{step.breathing} with an oxygen fraction of {step.oxygen_fraction:g}",
                    where=where,
                    accepted=f"{least:g} to {most:g} for {step.breathing}",
                )
            if step.oxygen_bar > MOST_OXYGEN_BAR:
                raise RecordRefused(
                    f"{step.oxygen_bar:.2f} bar of oxygen at {step.highest_bar_abs:g} bar abs",
                    where=where,
                    accepted=f"up to {MOST_OXYGEN_BAR:g} bar, the most of treatment tables (from "
                    "memory, no page seen)",
                )


def read_csv(text: str, *, name: str, source: str, approved_by: str, invented: bool) -> Schedule:
    """Return the schedule table in a CSV text, one step a row.

    Parameters
    ----------
    text : str
        Heads as in ``HEADS``; a band without steps leaves the step's cells empty.
    name, source, approved_by : str
        As they will stand beside every number that rests on the table.
    invented : bool
        An exercise's table, not to be used on people.

    Raises
    ------
    InputError
        A head missing, a cell that is not a number, a gap, or a helium mixture.
    """
    rows = csv.DictReader(io.StringIO(text))
    missing = [head for head in HEADS if head not in (rows.fieldnames or ())]
    if missing:
        raise InputError(
            f"no column {missing[0]!r}", where=name, accepted="columns " + ", ".join(HEADS)
        )
    bands: dict[tuple[float, float], list[Step]] = {}
    for number, row in enumerate(rows, start=2):
        where = f"{name} row {number}"
        key = (_number(row, HEADS[0], where), _number(row, HEADS[1], where))
        steps = bands.setdefault(key, [])
        if (row["minutes"] or "").strip():
            steps.append(_step(row, where))
    return _built(name, source, approved_by, invented, bands)


def _built(
    name: str,
    source: str,
    approved_by: str,
    invented: bool,
    bands: dict[tuple[float, float], list[Step]],
) -> Schedule:
    try:
        return Schedule(
            name=name,
            source=source,
            approved_by=approved_by,
            invented=invented,
            bands=tuple(
                PressureBand(
                    saturated_from_bar_abs=low, saturated_to_bar_abs=high, steps=tuple(steps)
                )
                for (low, high), steps in bands.items()
            ),
        )
    except ValidationError as failure:
        raise refused(failure, name) from None


def _step(row: dict[str, str], where: str) -> Step:
    breathing = row["breathing"].strip().lower()
    if breathing.startswith("he") or breathing == "trimix":
        raise InputError(
            f"{breathing!r} holds helium; heliox tables do not fit people who sat on compressed "
            "air (3 cases in 12, Eckenhoff & Vann 1985)",
            where=where,
            accepted=", ".join(BREATHING),
        )
    values = {head: _number(row, head, where) for head in (*HEADS[2:5], *HEADS[6:])}
    try:
        return Step.model_validate({**values, "breathing": breathing})
    except ValidationError as failure:
        raise refused(failure, where) from None


def _number(row: dict[str, str], head: str, where: str) -> float:
    try:
        return float(row[head])
    except (TypeError, ValueError):
        raise InputError(
            f"{row[head]!r} is not a number", where=f"{where}, {head}", accepted="a number"
        ) from None
