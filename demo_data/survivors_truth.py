"""The air in the refuges as it truly was in the exercise, from which the readings are made.

Invented. Made with the same steps that the program looks ahead with, from figures the staff do
not know; the readings carry the errors of hand-held instruments in a cold compartment.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from demo_data import scenario as s
from demo_data.scenario import z
from layers.earth.units import KELVIN_AT_0_C
from layers.survivors.air.chemistry import gas_mol, o2_mol_per_h, respiratory_quotient
from layers.survivors.air.model import Stock
from layers.survivors.air.state import Air
from layers.survivors.air.step import advance

# Listening times that were kept, as in the watch's own records; at 140240Z nobody answered.
LISTENING = tuple(
    z(day, hhmm)
    for day, hhmm in (
        (13, "2140"),
        (13, "2340"),
        (14, "0340"),
        (14, "0940"),
        (14, "2140"),
        (15, "0940"),
        (15, "2115"),
        (16, "0315"),
        (16, "0715"),
        (16, "1115"),
        (16, "1600"),
        (16, "2200"),
        (17, "0400"),
        (17, "1000"),
    )
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Refuge:
    """One refuge as it truly is, and what is told of it."""

    name: str
    persons: int
    bar_abs: float
    told_volume_m3: float
    volume_m3: float  # in truth
    breath_ratio: float  # what they breathe against the general figure
    water_m3_h: float
    cools_c_per_h: float
    hold_co2_sev: float
    hold_o2_kpa: float
    lioh_kg: float
    candles: int
    pod_lioh_kg: float
    pod_candles: int
    pods_in: datetime
    leave: dict[datetime, int] = field(default_factory=dict)


LIOH_EFFICIENCY, CANDLE_KG = 0.70, 2.6  # invented for the exercise
FIRST_OUT, SECOND_OUT = s.FIRST_LIFT, z(17, "0620")
THIRD_OUT, FOURTH_OUT = z(17, "1220"), z(17, "1830")
AFTER = Refuge(
    name="after",
    persons=s.AFTER,
    bar_abs=s.AFTER_BAR_ABS,
    told_volume_m3=260.0,
    volume_m3=252.0,
    breath_ratio=1.06,
    water_m3_h=0.55,
    cools_c_per_h=0.030,
    hold_co2_sev=4.6,
    hold_o2_kpa=20.0,
    lioh_kg=118.0,
    candles=44,
    pod_lioh_kg=80.0,
    pod_candles=12,
    pods_in=z(14, "2120"),
    leave={FIRST_OUT: 16, SECOND_OUT: 14},
)
FORWARD = Refuge(
    name="forward",
    persons=s.FORWARD,
    bar_abs=s.FORWARD_BAR_ABS,
    told_volume_m3=420.0,
    volume_m3=431.0,
    breath_ratio=0.97,
    water_m3_h=0.0,
    cools_c_per_h=0.015,
    hold_co2_sev=1.55,
    hold_o2_kpa=18.0,
    lioh_kg=150.0,
    candles=46,
    pod_lioh_kg=60.0,
    pod_candles=12,
    pods_in=z(15, "2100"),
    leave={THIRD_OUT: 16, FOURTH_OUT: 8},
)
REFUGES = (FORWARD, AFTER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """A reading by telephone: bar absolute, per cent by volume, °C."""

    at: datetime
    bar_abs: float
    o2_percent: float
    co2_percent: float
    temperature_c: float


def absorbs_mol(lioh_kg: float) -> float:
    """Return what lithium hydroxide takes at the exercise's efficiency, mol."""
    return Stock(
        item="absorbent",
        chemical="lithium hydroxide",
        mass_kg=lioh_kg,
        efficiency=LIOH_EFFICIENCY,
    ).absorbs_mol


def oxygen_mol(candles: int) -> float:
    """Return what candles give, mol."""
    return Stock(item="oxygen candles", count=float(candles), oxygen_kg_each=CANDLE_KG).oxygen_mol


def readings(refuge: Refuge) -> list[Read]:
    """Return what was read at each listening time while anybody was there."""
    gas = s.GAS[refuge.name]
    rng = np.random.default_rng([s.SEED, len(refuge.name)])
    air = _at_first(refuge)
    found, persons, now = [], refuge.persons, LISTENING[0]
    taken_in = False
    for at in LISTENING:
        for leaving, count in refuge.leave.items():
            if now < leaving <= at:
                _carry(air, persons, now, leaving)
                now, persons = leaving, persons - count
        if not taken_in and now < refuge.pods_in <= at:
            _carry(air, persons, now, refuge.pods_in)
            now, taken_in = refuge.pods_in, True
            air.absorbs_left += absorbs_mol(refuge.pod_lioh_kg)
            air.oxygen_left += oxygen_mol(refuge.pod_candles)
        if persons <= 0:
            break
        _carry(air, persons, now, at)
        now = at
        hours = (at - LISTENING[0]).total_seconds() / 3600.0
        celsius = gas["temperature_c"] - refuge.cools_c_per_h * hours
        found.append(_read(air, at, celsius, rng, exact=at == LISTENING[0]))
    return found


def _at_first(refuge: Refuge) -> Air:
    gas, ones = s.GAS[refuge.name], np.ones((1, 1))
    kelvin = KELVIN_AT_0_C + gas["temperature_c"]
    total = gas_mol(refuge.bar_abs * 1e5, refuge.volume_m3, gas["temperature_c"])
    o2, co2 = total * gas["o2_percent"] / 100.0, total * gas["co2_percent"] / 100.0
    return Air(
        o2=o2 * ones,
        co2=co2 * ones,
        inert=(total - o2 - co2) * ones,
        volume_m3=refuge.volume_m3 * ones,
        oxygen_left=oxygen_mol(refuge.candles) * ones,
        absorbs_left=absorbs_mol(refuge.lioh_kg) * ones,
        breath=o2_mol_per_h() * refuge.breath_ratio * ones,
        rq=respiratory_quotient() * ones,
        water_m3_h=refuge.water_m3_h * ones,
        leak_mol_h=0.0 * ones,
        hold_o2_kpa=refuge.hold_o2_kpa * ones,
        hold_co2_kpa=refuge.hold_co2_sev * 1.01325 * ones,
        kelvin=kelvin * ones,
    )


def _carry(air: Air, persons: int, since: datetime, until: datetime) -> None:
    hours = (until - since).total_seconds() / 3600.0
    if hours > 0.0:
        advance(air, float(persons), hours)


def _read(air: Air, at: datetime, celsius: float, rng: np.random.Generator, *, exact: bool) -> Read:
    total = float((air.o2 + air.co2 + air.inert)[0, 0])
    air.kelvin[:] = KELVIN_AT_0_C + celsius
    error = np.zeros(3) if exact else rng.standard_normal(3)
    return Read(
        at=at,
        bar_abs=round(float(air.pressure_bar()[0, 0]) + 0.015 * error[0], 2),
        o2_percent=round(100.0 * float(air.o2[0, 0]) / total + 0.2 * error[1], 1),
        co2_percent=round(100.0 * float(air.co2[0, 0]) / total + 0.07 * error[2], 2),
        temperature_c=round(celsius * 2.0) / 2.0,
    )
