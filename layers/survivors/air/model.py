"""Records about the air: readings, volumes, stores, pods, levels, water and gas coming in."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Literal

from pydantic import Field, model_validator

from layers.earth.said.quantity import figure
from layers.journal.kinds import Payload
from layers.survivors.air.chemistry import CO2_KG_MOL, MOST_CO2_PER_KG, O2_KG_MOL
from layers.survivors.chambers.pressure import ACCEPTED_PRESSURE, Gas, Pressure, bar_abs, gas_kpa

Name = Field(min_length=1, max_length=120)
StoreItem = Literal["oxygen candles", "oxygen bottles", "absorbent", "breathing air"]
Chemical = Literal["lithium hydroxide", "soda lime"]


class Compartment(Payload):
    """The free gas volume of a refuge; ``depth_m`` is how deep it lies.

    ``free_volume_at_hatch_m3`` is what is still free when water has risen to the hatch: people
    must be out by then.
    """

    refuge: str = Name
    free_volume_m3: float = Field(gt=0.0, le=20_000.0)
    spread_percent: float = Field(default=10.0, ge=0.0, le=50.0)
    depth_m: float | None = Field(default=None, ge=0.0, le=11_000.0)
    free_volume_at_hatch_m3: float | None = Field(default=None, gt=0.0, le=20_000.0)
    remark: str = ""

    @model_validator(mode="after")
    def _hatch_floods_last(self) -> Compartment:
        at_hatch = self.free_volume_at_hatch_m3
        if at_hatch is not None and at_hatch >= self.free_volume_m3:
            raise ValueError(
                f"with the water at the hatch {at_hatch:g} m³ would be free, not less than the "
                f"{self.free_volume_m3:g} m³ free now"
            )
        return self


class OtherGas(Payload):
    """Another gas as read: what it is and parts per million by volume at the pressure read."""

    gas: str = Name
    ppm: float = Field(ge=0.0, le=1_000_000.0)


class AirReading(Payload):
    """A reading of the air in a refuge, always with the pressure it was taken at.

    ``instrument`` names what read it where there are several: what one of them keeps reading
    wrong is learnt when two disagree.
    """

    refuge: str = Name
    pressure: Pressure
    oxygen: Gas | None = None
    carbon_dioxide: Gas | None = None
    carbon_monoxide_ppm: float | None = Field(default=None, ge=0.0, le=100_000.0)
    temperature_c: float | None = Field(default=None, ge=-10.0, le=70.0)
    other_gases: tuple[OtherGas, ...] = Field(default=(), strict=False)
    instrument: str = Field(default="", max_length=120)
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


Use = Literal["spread", "curtain", "blown"]
# Share of what chemistry allows, where nobody told a figure. Soda lime blown: 60 % at forced flow
# and high load (Pollock et al 2018, Diving Hyperb Med 48(2) 96-101, abstract; computed). The
# others from memory, no page seen, so held within a quarter (one standard deviation).
USE_SHARE: dict[tuple[str, str], tuple[float, str]] = {
    ("soda lime", "blown"): (0.60, "Pollock et al 2018, forced flow"),
    ("soda lime", "curtain"): (0.45, "from memory"),
    ("soda lime", "spread"): (0.30, "from memory"),
    ("lithium hydroxide", "blown"): (0.80, "from memory"),
    ("lithium hydroxide", "curtain"): (0.65, "from memory"),
    ("lithium hydroxide", "spread"): (0.50, "from memory"),
}
USE_SPREAD = 0.25


class Stock(Payload):
    """An amount of one thing that keeps people alive.

    Absorbent is told by ``mass_kg`` (all of it) or by ``count`` of canisters of ``mass_kg_each``;
    what it takes by its figure, with the temperature that is told for, or by how it is used.
    That there is none (an amount of 0) needs nothing more.
    """

    item: StoreItem
    count: float | None = Field(default=None, ge=0.0)
    oxygen_kg_each: float | None = Field(default=None, gt=0.0, le=20.0)
    oxygen_kg: float | None = Field(default=None, ge=0.0)
    chemical: Chemical | None = None
    mass_kg: float | None = Field(default=None, ge=0.0)
    mass_kg_each: float | None = Field(default=None, gt=0.0, le=500.0)
    use: Use | None = None
    efficiency: float | None = Field(default=None, gt=0.0)
    binds_kg_co2_per_kg: float | None = Field(default=None, gt=0.0)
    told_for_c: float | None = Field(default=None, ge=-5.0, le=60.0)
    air_kg: float | None = Field(default=None, ge=0.0)
    persons_breathing: int | None = Field(default=None, ge=0)
    spread_percent: float = Field(default=10.0, ge=0.0, le=100.0)

    @model_validator(mode="after")
    def _told_whole(self) -> Stock:
        if self.none_left:
            return self
        wanted = {
            "oxygen candles": ("count", "oxygen_kg_each"),
            "oxygen bottles": ("oxygen_kg",),
            "absorbent": ("chemical",),
            "breathing air": ("air_kg", "persons_breathing"),
        }[self.item]
        missing = [name for name in wanted if getattr(self, name) is None]
        counted = self.count is not None and self.mass_kg_each is not None
        if self.item == "absorbent" and self.mass_kg is None and not counted:
            missing.append("mass_kg (all of it), or count and mass_kg_each,")
        if missing:
            raise ValueError(f"{self.item} need {' and '.join(missing)} to count for anything")
        if self.item == "absorbent":
            self._within_chemistry()
        return self

    def _within_chemistry(self) -> None:
        assert self.chemical is not None
        most = MOST_CO2_PER_KG[self.chemical]
        if self.efficiency is not None and self.binds_kg_co2_per_kg is not None:
            raise ValueError("absorbent takes efficiency or binds_kg_co2_per_kg, not both")
        if (self.efficiency or self.binds_kg_co2_per_kg or self.use) is None:
            raise ValueError(
                "absorbent needs either its efficiency (share of what chemistry allows, 0 to 1) "
                "or binds_kg_co2_per_kg, with the maker's or the trial's figure, or how it is "
                "used: spread, curtain or blown"
            )
        binds = self.share_of_most * most
        if binds > most * (1.0 + 1e-6):
            raise ValueError(
                f"1 kg of {self.chemical} cannot bind {figure(binds, 3)} kg of CO2: chemistry "
                f"allows at most {figure(most, 3)} (at least "
                f"{figure(1.0 / most, 3)} kg for each kg of CO2)"
            )

    @property
    def none_left(self) -> bool:
        """Whether it is told that there is nothing of it."""
        if self.item == "breathing air":
            return self.air_kg == 0.0
        amounts = (self.count, self.mass_kg, self.oxygen_kg)
        told = [amount for amount in amounts if amount is not None]
        return bool(told) and not any(told)

    @property
    def oxygen_mol(self) -> float:
        """Oxygen it gives, mol."""
        kg = self.oxygen_kg or (self.count or 0.0) * (self.oxygen_kg_each or 0.0)
        return kg / O2_KG_MOL

    @property
    def all_kg(self) -> float:
        """Mass of all of it, kg."""
        if self.mass_kg is not None:
            return self.mass_kg
        return (self.count or 0.0) * (self.mass_kg_each or 0.0)

    @property
    def share_of_most(self) -> float:
        """What absorbent takes as a share of what chemistry allows."""
        assert self.chemical is not None
        if self.binds_kg_co2_per_kg is not None:
            return self.binds_kg_co2_per_kg / MOST_CO2_PER_KG[self.chemical]
        if self.efficiency is not None:
            return self.efficiency
        return USE_SHARE[(self.chemical, self.use or "spread")][0]

    @property
    def use_spread(self) -> float:
        """One standard deviation of that, as a share, where no figure was told."""
        told = self.efficiency is not None or self.binds_kg_co2_per_kg is not None
        return 0.0 if told or self.chemical is None else USE_SPREAD

    @property
    def use_source(self) -> str:
        """Where the share of a way of use is from."""
        return USE_SHARE[(self.chemical or "", self.use or "spread")][1]

    @property
    def absorbs_mol(self) -> float:
        """Carbon dioxide it takes in the warmth, mol."""
        if self.chemical is None or not self.all_kg:
            return 0.0
        return self.all_kg * self.share_of_most * MOST_CO2_PER_KG[self.chemical] / CO2_KG_MOL


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
                "accepted: % SEV (surface equivalent), kPa or mbar"
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
        "high temperature", "carbon monoxide", "other gas", "flooding",
    ]  # fmt: skip
    refuge: str | None = None
    gas: Gas | None = None
    pressure: Pressure | None = None
    temperature_c: float | None = None
    carbon_monoxide_ppm: float | None = None
    gas_name: str | None = None
    ppm: float | None = None
    free_volume_m3: float | None = None
    source: str = Field(min_length=3, max_length=300)
    entered_by: str = Field(min_length=2, max_length=120)
    withdrawn: bool = False

    @model_validator(mode="after")
    def _has_its_limit(self) -> Level:
        wanted = {
            "pressure": "pressure",
            "low temperature": "temperature_c",
            "high temperature": "temperature_c",
            "carbon monoxide": "carbon_monoxide_ppm",
            "other gas": "ppm",
            "flooding": "free_volume_m3",
        }.get(self.quantity, "gas")
        if self.quantity == "other gas" and not self.gas_name:
            raise ValueError("a level of another gas needs gas_name, as the readings name it")
        if self.quantity == "flooding" and not self.refuge:
            raise ValueError("a level of flooding needs the refuge whose free volume it means")
        if getattr(self, wanted) is None:
            raise ValueError(f"a level of {self.quantity} needs {wanted} with its unit")
        if self.gas is not None and self.gas.unit == "percent":
            raise ValueError(
                "a level in per cent by volume means another partial pressure at each pressure; "
                "accepted: % SEV (surface equivalent), kPa or mbar"
            )
        return self

    @property
    def limit(self) -> float:
        """The limit: kPa for a gas, bar absolute, °C, m³ or ppm (surface equivalent)."""
        if self.gas is not None:
            return gas_kpa(self.gas, 1.0)
        if self.pressure is not None:
            return bar_abs(self.pressure)
        told = (self.temperature_c, self.carbon_monoxide_ppm, self.ppm, self.free_volume_m3)
        return next(value for value in told if value is not None)

    def holds_for(self, refuge: str) -> bool:
        """Whether the level is one of this refuge."""
        return self.refuge in (None, refuge)


class Breathing(Payload):
    """What a person breathes, when the watch knows better than the general figure."""

    refuge: str | None = None
    oxygen_kg_person_day: float = Field(gt=0.1, lt=10.0)
    carbon_dioxide_kg_person_day: float = Field(gt=0.1, lt=10.0)
    spread_percent: float = Field(default=15.0, ge=0.0, le=60.0)
    source: str = Field(min_length=3, max_length=300)


class ActivityTold(Payload):
    """What people in a refuge do from a time on; it never changes what was before.

    ``persons`` are those who do it, everybody without it; the rest stay as they were. Without
    ``until`` sleep and rest are held for 8 h at most, work until told otherwise.
    """

    refuge: str = Name
    activity: Literal["asleep", "resting", "awake", "working", "tapping"]
    persons: int | None = Field(default=None, ge=1, le=2_000)
    until: datetime | None = None
    remark: str = ""


class OwnAir(Payload):
    """People in a refuge on breathing sets of their own, who take nothing from its air.

    It lasts ``lasts_h``; then they breathe with the others again. The last word counts, and 0
    persons ends it.
    """

    refuge: str = Name
    persons: int = Field(ge=0, le=2_000)
    lasts_h: float = Field(gt=0.0, le=1_000.0)
    source: str = Field(min_length=2, max_length=300)


class Inflow(Payload):
    """Water or gas said to be coming in; the readings correct it."""

    refuge: str = Name
    what: Literal["water", "air"]
    m3_per_h: float = Field(ge=0.0, le=1_000.0)  # air as measured at 1 atm and 0 °C
    spread_percent: float = Field(default=50.0, gt=0.0, le=200.0)
    remark: str = ""
