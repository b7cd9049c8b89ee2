"""Records about the air: readings, volumes, stores, pods, levels, water and gas coming in."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, model_validator

from layers.earth.quantity import figure
from layers.journal.kinds import Payload
from layers.survivors.air.chemistry import CO2_KG_MOL, MOST_CO2_PER_KG, O2_KG_MOL
from layers.survivors.chambers.pressure import ACCEPTED_PRESSURE, Gas, Pressure, bar_abs, gas_kpa

Name = Field(min_length=1, max_length=120)
StoreItem = Literal["oxygen candles", "oxygen bottles", "absorbent", "breathing air"]
Chemical = Literal["lithium hydroxide", "soda lime"]


class Compartment(Payload):
    """The free gas volume of a refuge; ``depth_m`` is how deep it lies."""

    refuge: str = Name
    free_volume_m3: float = Field(gt=0.0, le=20_000.0)
    spread_percent: float = Field(default=10.0, ge=0.0, le=50.0)
    depth_m: float | None = Field(default=None, ge=0.0, le=11_000.0)
    remark: str = ""


class AirReading(Payload):
    """A reading of the air in a refuge, always with the pressure it was taken at."""

    refuge: str = Name
    pressure: Pressure
    oxygen: Gas | None = None
    carbon_dioxide: Gas | None = None
    carbon_monoxide_ppm: float | None = Field(default=None, ge=0.0, le=100_000.0)
    temperature_c: float | None = Field(default=None, ge=-10.0, le=70.0)
    remark: str = ""

    @model_validator(mode="before")
    @classmethod
    def _at_a_pressure(cls, data: Any) -> Any:
        if isinstance(data, dict) and data.get("pressure") is None:
            raise ValueError(
                "a reading of the air at an unstated pressure is unusable; accepted: "
                f"{ACCEPTED_PRESSURE}"
            )
        return data

    @model_validator(mode="after")
    def _whole(self) -> AirReading:
        total_kpa = bar_abs(self.pressure) * 100.0
        parts = [g for g in (self.oxygen, self.carbon_dioxide) if g is not None]
        if not parts and self.temperature_c is None and self.carbon_monoxide_ppm is None:
            return self
        sum_kpa = sum(gas_kpa(gas, total_kpa / 100.0) for gas in parts)
        if sum_kpa > total_kpa:
            raise ValueError(
                f"oxygen and carbon dioxide together ({sum_kpa:.1f} kPa) are more than the whole "
                f"pressure ({total_kpa:.1f} kPa)"
            )
        return self


class Stock(Payload):
    """An amount of one thing that keeps people alive."""

    item: StoreItem
    count: float | None = Field(default=None, ge=0.0)
    oxygen_kg_each: float | None = Field(default=None, gt=0.0, le=20.0)
    oxygen_kg: float | None = Field(default=None, ge=0.0)
    chemical: Chemical | None = None
    mass_kg: float | None = Field(default=None, ge=0.0)
    efficiency: float | None = Field(default=None, gt=0.0)
    binds_kg_co2_per_kg: float | None = Field(default=None, gt=0.0)
    air_kg: float | None = Field(default=None, ge=0.0)
    persons_breathing: int | None = Field(default=None, ge=0)
    spread_percent: float = Field(default=10.0, ge=0.0, le=100.0)

    @model_validator(mode="after")
    def _told_whole(self) -> Stock:
        wanted = {
            "oxygen candles": ("count", "oxygen_kg_each"),
            "oxygen bottles": ("oxygen_kg",),
            "absorbent": ("chemical", "mass_kg"),
            "breathing air": ("air_kg", "persons_breathing"),
        }[self.item]
        missing = [name for name in wanted if getattr(self, name) is None]
        if missing:
            raise ValueError(f"{self.item} need {' and '.join(missing)} to count for anything")
        if self.item == "absorbent":
            self._within_chemistry()
        return self

    def _within_chemistry(self) -> None:
        assert self.chemical is not None
        most = MOST_CO2_PER_KG[self.chemical]
        if (self.efficiency is None) == (self.binds_kg_co2_per_kg is None):
            raise ValueError(
                "absorbent needs either its efficiency (share of what chemistry allows, 0 to 1) "
                "or binds_kg_co2_per_kg, with the maker's or the trial's figure"
            )
        binds = self.binds_kg_co2_per_kg or (self.efficiency or 0.0) * most
        if binds > most * (1.0 + 1e-6):
            raise ValueError(
                f"1 kg of {self.chemical} cannot bind {figure(binds, 3)} kg of CO2: chemistry "
                f"allows at most {figure(most, 3)} (at least "
                f"{figure(1.0 / most, 3)} kg for each kg of CO2)"
            )

    @property
    def oxygen_mol(self) -> float:
        """Oxygen it gives, mol."""
        kg = self.oxygen_kg or (self.count or 0.0) * (self.oxygen_kg_each or 0.0)
        return kg / O2_KG_MOL

    @property
    def absorbs_mol(self) -> float:
        """Carbon dioxide it takes, mol."""
        if self.chemical is None:
            return 0.0
        per_kg = (
            self.binds_kg_co2_per_kg or (self.efficiency or 0.0) * MOST_CO2_PER_KG[self.chemical]
        )
        return (self.mass_kg or 0.0) * per_kg / CO2_KG_MOL


class Stores(Payload):
    """What a refuge has of one thing, counted at a time.

    ``held_at`` is the partial pressure the people hold by using it (oxygen for candles and
    bottles, carbon dioxide for absorbent); without it the last reading is taken to be held.
    """

    refuge: str = Name
    stock: Stock
    held_at: Gas | None = None
    remark: str = ""

    @model_validator(mode="after")
    def _held_as_partial_pressure(self) -> Stores:
        if self.held_at is not None and self.held_at.unit == "percent":
            raise ValueError(
                "held_at in per cent by volume means another partial pressure at each pressure; "
                "accepted: sev_percent, kPa or mbar"
            )
        return self


class StoresUsed(Payload):
    """What a refuge has used up of one thing since it was last counted."""

    refuge: str = Name
    item: StoreItem
    amount: float = Field(gt=0.0)
    unit: Literal["candles", "kg"]


class Pod(Payload):
    """A pod of stores and how far it has come; it counts once it is taken in."""

    pod: str = Name
    refuge: str = Name
    state: Literal["planned", "posted", "taken in", "lost"]
    contents: tuple[Stock, ...] = Field(min_length=1)
    remark: str = ""


class Level(Payload):
    """A level of the air at which something must have happened, with who says so.

    None is shipped as approved: the medical officer enters it with its source.
    """

    name: str = Name
    quantity: Literal[
        "carbon dioxide", "low oxygen", "high oxygen", "pressure", "low temperature",
        "carbon monoxide",
    ]  # fmt: skip
    gas: Gas | None = None
    pressure: Pressure | None = None
    temperature_c: float | None = None
    carbon_monoxide_ppm: float | None = None
    source: str = Field(min_length=3, max_length=300)
    entered_by: str = Field(min_length=2, max_length=120)
    withdrawn: bool = False

    @model_validator(mode="after")
    def _has_its_limit(self) -> Level:
        wanted = {
            "pressure": "pressure",
            "low temperature": "temperature_c",
            "carbon monoxide": "carbon_monoxide_ppm",
        }.get(self.quantity, "gas")
        if getattr(self, wanted) is None:
            raise ValueError(f"a level of {self.quantity} needs {wanted} with its unit")
        if self.gas is not None and self.gas.unit == "percent":
            raise ValueError(
                "a level in per cent by volume means another partial pressure at each pressure; "
                "accepted: sev_percent (surface equivalent), kPa or mbar"
            )
        return self

    @property
    def limit(self) -> float:
        """The limit: kPa for a gas, bar absolute, °C or ppm (surface equivalent)."""
        if self.gas is not None:
            return gas_kpa(self.gas, 1.0)
        if self.pressure is not None:
            return bar_abs(self.pressure)
        value = self.temperature_c if self.temperature_c is not None else self.carbon_monoxide_ppm
        assert value is not None
        return value


class Breathing(Payload):
    """What a person breathes, when the watch knows better than the general figure."""

    refuge: str | None = None
    oxygen_kg_person_day: float = Field(gt=0.1, lt=10.0)
    carbon_dioxide_kg_person_day: float = Field(gt=0.1, lt=10.0)
    spread_percent: float = Field(default=15.0, ge=0.0, le=60.0)
    source: str = Field(min_length=3, max_length=300)


class Inflow(Payload):
    """Water or gas said to be coming in; the readings correct it."""

    refuge: str = Name
    what: Literal["water", "air"]
    m3_per_h: float = Field(ge=0.0, le=1_000.0)  # air as measured at 1 atm and 0 °C
    spread_percent: float = Field(default=50.0, gt=0.0, le=200.0)
    remark: str = ""
