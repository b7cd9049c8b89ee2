"""What is known of the air of each refuge, put in order for the model."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import pairwise

from layers.earth.clock import dtg
from layers.earth.units import KELVIN_AT_0_C
from layers.journal.known import Entry, Known
from layers.survivors.air.absorbent import doubt
from layers.survivors.air.chemistry import (
    BREATHING_SOURCE,
    CO2_KG_PERSON_DAY,
    O2_KG_PERSON_DAY,
    gas_mol,
    o2_mol_per_h,
    respiratory_quotient,
)
from layers.survivors.air.endurance import OpenEnd
from layers.survivors.air.learning.events import (
    Added,
    AirPrior,
    Breathed,
    BreathingRate,
    Count,
    Event,
    PeoplePresent,
    SaidInflow,
    Sample,
)
from layers.survivors.air.learning.far_off import TrendRead, sift
from layers.survivors.air.model import Breathing, Compartment, Level
from layers.survivors.air.presence import (
    Otherwise,
    activities,
    breathing,
    own_air,
    presences,
    told_otherwise,
)
from layers.survivors.air.rhythm import Exertion
from layers.survivors.air.stores import (
    VENTILATION_L_MIN,
    PodKnown,
    bottles,
    counts,
    hours,
    pods,
    stock_entries,
    stocks_held,
    temperature_at,
)
from layers.survivors.chambers.pressure import Gas, bar_abs, gas_kpa
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import book, place_sorts, told as accounts
from layers.survivors.muster.on_board import in_order, persons_on_board

__all__ = ["PodKnown", "RefugeKnown", "by_volume", "levels_known", "refuges_known"]

BREATH_SHARE = 0.15  # assumed spread of what people breathe; common practice, no source
STANDARD_PA = 101_325.0
NOMINAL_M3 = 300.0  # carries a reading whose volume nobody told; no time is worked out with it
RANK = {
    PeoplePresent: 0,
    BreathingRate: 1,
    SaidInflow: 2,
    Sample: 3,
    Count: 4,
    Added: 5,
    Breathed: 6,
}
ABOUT_A_REFUGE = (
    "survivors.compartment", "survivors.stores", "survivors.stores_used", "survivors.pod",
    "survivors.inflow", "survivors.air",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class RefugeKnown:
    """What is known of one refuge's air.

    ``origin`` is the time of the first reading: hours count from there. ``doubts`` are sentences
    about what is missing, disputed or out of range; ``unknown`` what must be asked for before any
    time can be worked out. ``people`` are all who are alive there, on sets of their own or not.
    """

    refuge: str
    origin: datetime
    prior: AirPrior
    events: tuple[Event, ...]
    readings: tuple[Entry, ...]
    pods: tuple[PodKnown, ...]
    stocks: tuple[Entry, ...]
    compartment: Compartment | None
    breathing_source: str
    doubts: tuple[str, ...]
    rests_on: tuple[str, ...]
    activities: tuple[Exertion, ...] = ()
    unknown: tuple[str, ...] = ()
    people: int = 0
    otherwise: Otherwise = field(default_factory=Otherwise)

    def presence_after(self, now_h: float) -> tuple[tuple[float, float], ...]:
        """Return (hours ahead, how many more breathe its air) as own air ends."""
        told = [event for event in self.events if isinstance(event, PeoplePresent)]
        return tuple(
            (event.at_h - now_h, float(event.persons - before.persons))
            for before, event in pairwise(told)
            if event.at_h > now_h
        )


@dataclass(slots=True)
class _Told:
    """The entries about one refuge, in order of their time."""

    refuge: str
    at: datetime
    readings: list[Entry] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)


def levels_known(known: Known, at: datetime) -> tuple[tuple[Level, str], ...]:
    """Return the levels in force with their records: the last word on each name counts.

    Water at the hatch is a level of its refuge where the volume then was told.
    """
    latest: dict[str, Entry] = {}
    for entry in in_order(known.entries("survivors.level"), at):
        latest[entry.value.name] = entry
    found = [(e.value, e.id) for e in latest.values() if not e.value.withdrawn]
    for name, entry in _latest_each(known, "survivors.compartment", at).items():
        at_hatch = entry.value.free_volume_at_hatch_m3
        if at_hatch is not None:
            level = Level(
                name="water at the hatch",
                quantity="flooding",
                refuge=name,
                free_volume_m3=at_hatch,
                source=f"free volume of {name} as told by {entry.record.source}",
                entered_by=entry.record.source,
            )
            found.append((level, entry.id))
    return tuple(found)


def refuges_known(
    known: Known, at: datetime
) -> tuple[tuple[RefugeKnown, ...], tuple[str, ...], tuple[OpenEnd, ...]]:
    """Return what is known of each refuge with readings, and what is missing for the rest.

    The third part names the refuges of which nothing can be said though people may be there.
    """
    found, missing, unknown = [], [], []
    compartments = _latest_each(known, "survivors.compartment", at)
    for name in refuges_told(known, at):
        told = _readings(known, name, at)
        if told.readings:
            found.append(_refuge(known, told, compartments.get(name)))
            missing += [
                f"{what[0].upper()}{what[1:]} is not known: it is needed to look ahead."
                for what in found[-1].unknown
            ]
        else:
            missing.append(
                f"No reading of the air of the {name} refuge, with its pressure, is told."
            )
            ask = "a reading with its pressure"
            unknown.append(OpenEnd(refuge=name, level="", missing=(ask,)))
    return tuple(found), tuple(missing), tuple(unknown)


def refuges_told(known: Known, at: datetime) -> list[str]:
    """Return the refuges that somebody has said anything of; the others are only names."""
    sorts = place_sorts(known)
    told = {
        e.value.refuge
        for kind in ABOUT_A_REFUGE
        for e in known.entries(kind)
        if e.record.valid_at <= at
    }
    told |= {
        e.value.place
        for e in known.entries("survivors.report")
        if e.record.valid_at <= at and e.value.persons
    }
    there = book(persons_on_board(known, at).pob, sorts, accounts(known, at)).ledger
    return [
        name
        for name, sort in sorts.items()
        if sort is PlaceSort.REFUGE and (name in told or there.persons(name))
    ]


def _readings(known: Known, refuge: str, at: datetime) -> _Told:
    told = _Told(refuge, at)
    for entry in in_order(known.entries("survivors.air"), at):
        value = entry.value
        if value.refuge != refuge:
            continue
        when = dtg(entry.record.valid_at)
        if entry.disputed:
            told.doubts.append(f"The reading of {when} is disputed and left out.")
            continue
        bar = bar_abs(value.pressure)
        if not 0.8 <= bar <= 5.0 * 1.01325:
            told.doubts.append(
                f"{bar:.1f} bar absolute at {when} lies outside 0.8 to 5 atmospheres, within "
                "which people are brought out (common practice, no source): was the unit right?"
            )
        told.readings.append(entry)
    return told


def _latest_each(known: Known, kind: str, at: datetime) -> dict[str, Entry]:
    return {e.value.refuge: e for e in in_order(known.entries(kind), at)}


def _refuge(known: Known, told: _Told, compartment: Entry | None) -> RefugeKnown:
    refuge, at = told.refuge, told.at
    origin = told.readings[0].record.valid_at
    used = _without_doubtful_heat(told.readings)
    room = None if compartment is None else compartment.value
    prior, source, rates = _prior(known, refuge, at, origin, room)
    stocks = stock_entries(known, refuge, at)
    inflows = [e for e in in_order(known.entries("survivors.inflow"), at) if _of(e, refuge)]
    doing = [e for e in in_order(known.entries("survivors.activity"), at) if _of(e, refuge)]
    own = [e for e in in_order(known.entries("survivors.own_air"), at) if _of(e, refuge)]
    present = presences(known, refuge, at, origin)
    unknown = [] if room is not None else [f"the free volume of {refuge!r}"]
    if not present:
        unknown.append(f"how many are in {refuge!r}")
    otherwise = told_otherwise(known, refuge, at)
    if otherwise.doubt:
        told.doubts.insert(0, otherwise.doubt)
    temperature = temperature_at(used, at)
    for stock in stocks_held(stocks).values():
        if (said := doubt(stock, temperature)) not in ("", *told.doubts):
            told.doubts.append(said)
    events: list[Event] = [
        *breathing(present, own_air(own, origin)),
        *rates,
        *_samples(used, origin),
        *counts(stocks, used, origin),
        *_said(inflows, origin),
        *bottles(stocks, used, origin),
    ]
    if any(isinstance(event, Breathed) for event in events):
        told.doubts.append(
            f"Breathing from bottles is taken as {VENTILATION_L_MIN:g} L/min a person at the "
            "pressure inside (from memory, not checked against a page)."
        )
    if inflows and inflows[-1].value.what == "water" and not _hatch_told(room):
        told.doubts.append("How far the water may rise before it is at the hatch is not told.")
    held = pods(known, refuge, at, temperature)
    entries = (*told.readings, *stocks, *inflows, *doing, *own)
    return RefugeKnown(
        refuge=refuge,
        origin=origin,
        prior=prior,
        events=tuple(sorted(events, key=lambda event: (event.at_h, RANK[type(event)]))),
        readings=tuple(told.readings),
        pods=held,
        stocks=tuple(stocks),
        compartment=room,
        breathing_source=source,
        doubts=tuple(told.doubts),
        otherwise=otherwise,
        rests_on=(
            *(() if compartment is None else (compartment.id,)),
            *(rate.key for rate in rates),
            *(e.id for e in entries),
            *(pod.record for pod in held),
        ),
        activities=activities(doing, present, origin),
        unknown=tuple(unknown),
        people=present[-1].persons if present else 0,
    )


def _without_doubtful_heat(readings: list[Entry]) -> list[Entry]:
    """Return the readings, without the temperatures that are in doubt or were slips."""
    read = [
        TrendRead(e.record.valid_at, e.value.temperature_c, e.adopted)
        for e in readings
        if e.value.temperature_c is not None
    ]
    sifted = sift("temperature", read)
    out = {one.at for one in (*sifted.slips, sifted.doubtful) if one is not None}
    return [
        replace(e, value=e.value.model_copy(update={"temperature_c": None}))
        if e.record.valid_at in out
        else e
        for e in readings
    ]


def _hatch_told(room: Compartment | None) -> bool:
    return room is not None and room.free_volume_at_hatch_m3 is not None


def _of(entry: Entry, refuge: str) -> bool:
    return bool(entry.value.refuge == refuge)


def _prior(
    known: Known, refuge: str, at: datetime, origin: datetime, room: Compartment | None
) -> tuple[AirPrior, str, list[BreathingRate]]:
    """Return what is taken before the first reading, and the figures of breathing told since.

    A figure counts from its own time on; what people breathed before it stays.
    """
    entries = [
        e
        for e in in_order(known.entries("survivors.breathing"), at)
        if e.value.refuge in (None, refuge)
    ]
    before = [e for e in entries if e.record.valid_at <= origin]
    o2_kg, co2_kg, share, source = (
        O2_KG_PERSON_DAY, CO2_KG_PERSON_DAY, BREATH_SHARE, BREATHING_SOURCE
    )  # fmt: skip
    if before:
        first: Breathing = before[-1].value
        o2_kg, co2_kg = first.oxygen_kg_person_day, first.carbon_dioxide_kg_person_day
        share, source = first.spread_percent / 100.0, first.source
    prior = AirPrior(
        volume_m3=NOMINAL_M3 if room is None else room.free_volume_m3,
        volume_share=0.1 if room is None else room.spread_percent / 100.0,
        breath=o2_mol_per_h(o2_kg),
        breath_share=share,
        rq=respiratory_quotient(o2_kg, co2_kg),
    )
    rates = [_no_change(e, origin) for e in before[-1:]]
    for entry in entries[len(before) :]:
        said: Breathing = entry.value
        rq = respiratory_quotient(said.oxygen_kg_person_day, said.carbon_dioxide_kg_person_day)
        rates.append(
            BreathingRate(
                at_h=hours(entry.record.valid_at, origin),
                breath_ratio=said.oxygen_kg_person_day / o2_kg,
                rq_ratio=rq / respiratory_quotient(o2_kg, co2_kg),
                key=entry.id,
            )
        )
        o2_kg, co2_kg = said.oxygen_kg_person_day, said.carbon_dioxide_kg_person_day
        source = said.source
    return prior, source, rates


def _no_change(entry: Entry, origin: datetime) -> BreathingRate:
    at_h = hours(entry.record.valid_at, origin)
    return BreathingRate(at_h=at_h, breath_ratio=1.0, rq_ratio=1.0, key=entry.id)


def _samples(readings: Iterable[Entry], origin: datetime) -> list[Event]:
    return [
        Sample(
            at_h=hours(entry.record.valid_at, origin),
            pressure_bar=bar_abs(entry.value.pressure),
            o2_percent=by_volume(entry.value.oxygen, bar_abs(entry.value.pressure)),
            co2_percent=by_volume(entry.value.carbon_dioxide, bar_abs(entry.value.pressure)),
            kelvin=None
            if entry.value.temperature_c is None
            else KELVIN_AT_0_C + entry.value.temperature_c,
            key=entry.id,
            instrument=entry.value.instrument,
            sure=entry.adopted,
        )
        for entry in readings
    ]


def by_volume(gas: Gas | None, total_bar_abs: float) -> float | None:
    """Return per cent by volume at the pressure it was read at."""
    return None if gas is None else gas_kpa(gas, total_bar_abs) / total_bar_abs


def _said(inflows: list[Entry], origin: datetime) -> list[Event]:
    found: list[Event] = []
    for entry in inflows:
        water = entry.value.what == "water"
        rate = entry.value.m3_per_h
        if not water:
            rate = gas_mol(STANDARD_PA, rate, 0.0)
        sigma = max(rate * entry.value.spread_percent / 100.0, 1e-3)
        found.append(
            SaidInflow(
                at_h=hours(entry.record.valid_at, origin),
                water=water,
                rate=rate,
                sigma=sigma,
                key=entry.id,
            )
        )
    return found
