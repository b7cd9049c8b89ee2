"""Pressures as people report them, in one unit: bar absolute.

A pressure whose unit or reference (absolute or gauge) is not stated is asked for, never guessed.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, model_validator

from layers.earth.units import PA_PER_ATM, PA_PER_BAR, PA_PER_FSW, PA_PER_MSW
from layers.journal.kinds import Payload

PressureUnit = Literal["bar", "mbar", "hPa", "kPa", "atm", "msw", "fsw"]
PA_PER_UNIT: dict[str, float] = {
    "bar": PA_PER_BAR,
    "mbar": 100.0,
    "hPa": 100.0,
    "kPa": 1000.0,
    "atm": PA_PER_ATM,
    "msw": PA_PER_MSW,
    "fsw": PA_PER_FSW,
}
ACCEPTED_PRESSURE = (
    "a value with its unit (bar, mbar, hPa, kPa, atm, msw, fsw) and its reference "
    "(absolute or gauge)"
)


class Pressure(Payload):
    """A pressure as reported, with its unit and its reference."""

    value: float
    unit: PressureUnit
    reference: Literal["absolute", "gauge"]

    @model_validator(mode="before")
    @classmethod
    def _stated(cls, data: Any) -> Any:
        if isinstance(data, dict):
            for part in ("unit", "reference"):
                if not data.get(part):
                    raise ValueError(
                        f"the pressure {data.get('value')} does not state its {part}; "
                        f"accepted: {ACCEPTED_PRESSURE}"
                    )
        return data

    @model_validator(mode="after")
    def _possible(self) -> Pressure:
        if bar_abs(self) <= 0.0:
            raise ValueError(
                f"{self.value:g} {self.unit} {self.reference} is no pressure: it is at or below "
                "vacuum; was it gauge?"
            )
        return self


def bar_abs(pressure: Pressure) -> float:
    """Return bar absolute; gauge counts from one standard atmosphere (1.01325 bar)."""
    pascal = pressure.value * PA_PER_UNIT[pressure.unit]
    if pressure.reference == "gauge":
        pascal += PA_PER_ATM
    return pascal / PA_PER_BAR


class Gas(Payload):
    """A gas as read: a value with its unit; per cent is by volume of the compartment's gas."""

    value: float = Field(ge=0.0)
    unit: Literal["percent", "sev_percent", "kPa", "mbar"]

    @model_validator(mode="before")
    @classmethod
    def _stated(cls, data: Any) -> Any:
        if isinstance(data, dict) and not data.get("unit"):
            raise ValueError(
                f"the gas reading {data.get('value')} does not state its unit; accepted: percent "
                "(by volume, at the pressure given), sev_percent (surface equivalent), kPa, mbar"
            )
        return data

    @model_validator(mode="after")
    def _possible(self) -> Gas:
        if self.unit == "percent" and self.value > 100.0:
            raise ValueError(
                f"{self.value:g} % by volume is more than the whole gas; accepted: 0 to 100 %"
            )
        return self


def gas_kpa(gas: Gas, total_bar_abs: float) -> float:
    """Return the partial pressure, kPa, of a gas read at a total pressure.

    Notes
    -----
    Surface equivalent value (SEV) in per cent is the partial pressure in per cent of one
    standard atmosphere: 3 % SEV is 1.5 % by volume at 2 atm absolute.
    """
    if gas.unit == "percent":
        return gas.value * total_bar_abs  # 1 % of 1 bar is 1 kPa
    if gas.unit == "sev_percent":
        return gas.value * PA_PER_ATM / 1e5
    return gas.value if gas.unit == "kPa" else gas.value / 10.0


def sev_percent(partial_kpa: float) -> float:
    """Return the surface equivalent value, per cent, of a partial pressure in kPa."""
    return partial_kpa * 1e5 / PA_PER_ATM
