"""What is known of the air of each refuge, put in order for the model."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from layers.earth.clock import dtg, to_us
from layers.earth.units import KELVIN_AT_0_C, PA_PER_BAR, R_J_PER_MOL_K
from layers.journal.known import Entry, Known
from layers.survivors.air.chemistry import (
    BREATHING_SOURCE,
    CO2_KG_PERSON_DAY,
    O2_KG_PERSON_DAY,
    gas_mol,
    o2_mol_per_h,
    respiratory_quotient,
)
from layers.survivors.air.learn import Added, Breathed, Count, Event, Present, Prior, Said, Sample
from layers.survivors.air.model import Compartment, Level, Pod, Stock
from layers.survivors.chambers.pressure import Gas, bar_abs, gas_kpa
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import book, in_order, persons_on_board, place_sorts

BREATH_SHARE = 0.15  # assumed spread of what people breathe; common practice, no source
# Gas breathed in and out at rest, litres a minute at the ambient pressure; from memory.
VENTILATION_L_MIN = 10.0
STANDARD_PA = 101_325.0
AIR_KG_MOL = 28.965e-3  # dry air
RANK = {Present: 0, Said: 1, Sample: 2, Count: 3, Added: 4, Breathed: 5}


@dataclass(frozen=True, slots=True, kw_only=True)
class PodKnown:
    """A pod of stores as last told."""

    pod: str
    refuge: str
    state: str
    oxygen_mol: float
    absorbs_mol: float
    told_at: datetime
    record: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RefugeKnown:
    """What is known of one refuge's air.

    ``origin`` is the time of the first reading: hours count from there. ``doubts`` are sentences
    about what is missing, disputed or out of range.
    """

    refuge: str
    origin: datetime
    prior: Prior
    events: tuple[Event, ...]
    readings: tuple[Entry, ...]
    pods: tuple[PodKnown, ...]
    stocks: tuple[Entry, ...]
    compartment: Compartment
    breathing_source: str
    doubts: tuple[str, ...]
    rests_on: tuple[str, ...]


@dataclass(slots=True)
class _Told:
    """The entries about one refuge, in order of their time."""

    refuge: str
    at: datetime
    readings: list[Entry] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)


def levels_known(known: Known, at: datetime) -> tuple[tuple[Level, str], ...]:
    """Return the levels in force with their records: the last word on each name counts."""
    latest: dict[str, Entry] = {}
    for entry in in_order(known.entries("survivors.level"), at):
        latest[entry.value.name] = entry
    return tuple((e.value, e.id) for e in latest.values() if not e.value.withdrawn)


def refuges_known(known: Known, at: datetime) -> tuple[tuple[RefugeKnown, ...], tuple[str, ...]]:
    """Return what is known of each refuge that has readings, and what is missing for the rest."""
    found, missing = [], []
    for name, sort in place_sorts(known).items():
        if sort is not PlaceSort.REFUGE:
            continue
        told = _readings(known, name, at)
        if not told.readings:
            missing.append(f"No reading of the air in {name!r}: add one with its pressure.")
            continue
        compartment = _latest(known, "survivors.compartment", name, at)
        if compartment is None:
            missing.append(
                f"The free volume of {name!r} is not known: add the compartment to look ahead."
            )
            continue
        found.append(_refuge(known, told, compartment))
    return tuple(found), tuple(missing)


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


def _latest(known: Known, kind: str, refuge: str, at: datetime) -> Entry | None:
    entries = [e for e in in_order(known.entries(kind), at) if e.value.refuge == refuge]
    return entries[-1] if entries else None


def _refuge(known: Known, told: _Told, compartment: Entry) -> RefugeKnown:
    refuge, at = told.refuge, told.at
    origin = told.readings[0].record.valid_at
    prior, source, used = _prior(known, refuge, at, compartment.value)
    pods = _pods(known, refuge, at)
    stocks = _stock_entries(known, refuge, at)
    inflows = [e for e in in_order(known.entries("survivors.inflow"), at) if _of(e, refuge)]
    events: list[Event] = [
        *_presences(known, refuge, at, origin),
        *_samples(told.readings, origin),
        *_counts(stocks, origin),
        *_pods_taken_in(known, refuge, at, origin),
        *_said(inflows, origin),
        *_bottles(stocks, told.readings, origin),
    ]
    if any(isinstance(event, Breathed) for event in events):
        told.doubts.append(
            f"Breathing from bottles is taken as {VENTILATION_L_MIN:g} L/min a person at the "
            "pressure inside (from memory, not checked against a page)."
        )
    rests_on = [compartment.id, *used, *(e.id for e in (*told.readings, *stocks, *inflows))]
    return RefugeKnown(
        refuge=refuge,
        origin=origin,
        prior=prior,
        events=tuple(sorted(events, key=lambda event: (event.at_h, RANK[type(event)]))),
        readings=tuple(told.readings),
        pods=pods,
        stocks=tuple(stocks),
        compartment=compartment.value,
        breathing_source=source,
        doubts=tuple(told.doubts),
        rests_on=(*rests_on, *(pod.record for pod in pods)),
    )


def _of(entry: Entry, refuge: str) -> bool:
    return bool(entry.value.refuge == refuge)


def _hours(at: datetime, origin: datetime) -> float:
    return (to_us(at) - to_us(origin)) / 3.6e9


def _prior(
    known: Known, refuge: str, at: datetime, compartment: Compartment
) -> tuple[Prior, str, list[str]]:
    entries = in_order(known.entries("survivors.breathing"), at)
    mine = [e for e in entries if e.value.refuge in (None, refuge)]
    o2_kg, co2_kg, share = O2_KG_PERSON_DAY, CO2_KG_PERSON_DAY, BREATH_SHARE
    source, used = BREATHING_SOURCE, []
    if mine:
        said = mine[-1].value
        o2_kg, co2_kg = said.oxygen_kg_person_day, said.carbon_dioxide_kg_person_day
        share, source, used = said.spread_percent / 100.0, said.source, [mine[-1].id]
    prior = Prior(
        volume_m3=compartment.free_volume_m3,
        volume_share=compartment.spread_percent / 100.0,
        breath=o2_mol_per_h(o2_kg),
        breath_share=share,
        rq=respiratory_quotient(o2_kg, co2_kg),
    )
    return prior, source, used


def _presences(known: Known, refuge: str, at: datetime, origin: datetime) -> list[Event]:
    """Return how many breathe in the refuge, from before the first reading on."""
    pob, sorts = persons_on_board(known, at).pob, place_sorts(known)
    moves = in_order(known.entries("survivors.move"), at)
    touching = [e for e in moves if refuge in (e.value.from_place, e.value.to_place)]
    times = sorted({entry.record.valid_at for entry in touching})
    found: list[Event] = []
    for time in times:
        ledger = book(pob, sorts, [e for e in moves if e.record.valid_at <= time]).ledger
        found.append(Present(at_h=_hours(time, origin), persons=ledger.persons(refuge)))
    return found


def _samples(readings: Iterable[Entry], origin: datetime) -> list[Event]:
    return [
        Sample(
            at_h=_hours(entry.record.valid_at, origin),
            pressure_bar=bar_abs(entry.value.pressure),
            o2_percent=by_volume(entry.value.oxygen, bar_abs(entry.value.pressure)),
            co2_percent=by_volume(entry.value.carbon_dioxide, bar_abs(entry.value.pressure)),
            kelvin=None
            if entry.value.temperature_c is None
            else KELVIN_AT_0_C + entry.value.temperature_c,
            key=entry.id,
        )
        for entry in readings
    ]


def by_volume(gas: Gas | None, total_bar_abs: float) -> float | None:
    """Return per cent by volume at the pressure it was read at."""
    return None if gas is None else gas_kpa(gas, total_bar_abs) / total_bar_abs


# Stores ---------------------------------------------------------------------------------------


def _stock_entries(known: Known, refuge: str, at: datetime) -> list[Entry]:
    """Return counts of stores and what was said to be used, in order of time."""
    entries = (*known.entries("survivors.stores"), *known.entries("survivors.stores_used"))
    return [e for e in in_order(entries, at) if _of(e, refuge) and not e.disputed]


def _counts(entries: list[Entry], origin: datetime) -> list[Event]:
    """Return the pools of oxygen and absorbent each time one of their parts was told."""
    held: dict[tuple[str, str], Stock] = {}
    holds: dict[bool, float | None] = {True: None, False: None}
    counts: dict[tuple[float, bool], Event] = {}
    for entry in entries:
        stock = _restocked(held, entry)
        if stock is None or stock.item == "breathing air":
            continue
        oxygen = stock.item != "absorbent"
        gas = getattr(entry.value, "held_at", None)
        holds[oxygen] = gas_kpa(gas, 1.0) if gas is not None else holds[oxygen]
        pool = [s for s in held.values() if (s.item != "absorbent") == oxygen]
        pool = [s for s in pool if s.item != "breathing air"]
        mols = [s.oxygen_mol if oxygen else s.absorbs_mol for s in pool]
        total = sum(mols)
        spread = sum((m * s.spread_percent / 100.0) ** 2 for m, s in zip(mols, pool, strict=True))
        at_h = _hours(entry.record.valid_at, origin)
        counts[(at_h, oxygen)] = Count(
            at_h=at_h,
            oxygen=oxygen,
            mol=total,
            share=spread**0.5 / total if total else 0.0,
            hold_kpa=holds[oxygen],
            key=entry.id,
        )
    return list(counts.values())


def _restocked(held: dict[tuple[str, str], Stock], entry: Entry) -> Stock | None:
    """Take a count, or what was used since, into the stocks held; return the stock it is of."""
    value = entry.value
    if hasattr(value, "stock"):
        stock: Stock = value.stock
        held[(stock.item, stock.chemical or "")] = stock
        return stock
    key = next((k for k in held if k[0] == value.item), None)
    if key is None:
        return None
    held[key] = less(held[key], value.amount)
    return held[key]


def less(stock: Stock, amount: float) -> Stock:
    """Return a stock with an amount (candles or kg) used up; never below nothing."""
    name = {
        "oxygen candles": "count",
        "oxygen bottles": "oxygen_kg",
        "absorbent": "mass_kg",
        "breathing air": "air_kg",
    }[stock.item]
    return stock.model_copy(update={name: max((getattr(stock, name) or 0.0) - amount, 0.0)})


def stock_amount(stock: Stock) -> float:
    """Return how much there is, in candles or kg."""
    if stock.item == "oxygen candles":
        return stock.count or 0.0
    return stock.oxygen_kg or stock.mass_kg or stock.air_kg or 0.0


def stocks_held(entries: Iterable[Entry]) -> dict[tuple[str, str], Stock]:
    """Return the stocks after counts and uses, by item and chemical."""
    held: dict[tuple[str, str], Stock] = {}
    for entry in entries:
        _restocked(held, entry)
    return held


def _bottles(entries: list[Entry], readings: list[Entry], origin: datetime) -> list[Event]:
    """Return the air people let into the refuge by breathing from bottles, until it is spent.

    What they use of it and give to it is counted where it always is: in the refuge.
    """
    found: list[Event] = []
    for entry in entries:
        stock = getattr(entry.value, "stock", None)
        if stock is None or stock.item != "breathing air" or not stock.persons_breathing:
            continue
        before = [r for r in readings if r.record.valid_at <= entry.record.valid_at]
        bar = bar_abs((before or readings[:1])[-1].value.pressure)
        kelvin = KELVIN_AT_0_C + 10.0
        per_person = bar * PA_PER_BAR * (VENTILATION_L_MIN * 0.06) / (R_J_PER_MOL_K * kelvin)
        rate = stock.persons_breathing * per_person
        start = _hours(entry.record.valid_at, origin)
        lasts = (stock.air_kg or 0.0) / AIR_KG_MOL / rate
        found += [
            Breathed(at_h=start, mol_per_h=rate),
            Breathed(at_h=start + lasts, mol_per_h=-rate),
        ]
    return found


def _pods(known: Known, refuge: str, at: datetime) -> tuple[PodKnown, ...]:
    latest: dict[str, Entry] = {}
    for entry in in_order(known.entries("survivors.pod"), at):
        latest[entry.value.pod] = entry
    return tuple(
        PodKnown(
            pod=name,
            refuge=refuge,
            state=entry.value.state,
            oxygen_mol=sum(stock.oxygen_mol for stock in entry.value.contents),
            absorbs_mol=sum(stock.absorbs_mol for stock in entry.value.contents),
            told_at=entry.record.valid_at,
            record=entry.id,
        )
        for name, entry in latest.items()
        if entry.value.refuge == refuge
    )


def _pods_taken_in(known: Known, refuge: str, at: datetime, origin: datetime) -> list[Event]:
    first: dict[str, Entry] = {}
    for entry in in_order(known.entries("survivors.pod"), at):
        if entry.value.state == "taken in" and entry.value.refuge == refuge:
            first.setdefault(entry.value.pod, entry)
    return [_added(entry, origin) for entry in first.values()]


def _added(entry: Entry, origin: datetime) -> Added:
    pod: Pod = entry.value
    spread = max(stock.spread_percent for stock in pod.contents)
    return Added(
        at_h=_hours(entry.record.valid_at, origin),
        oxygen_mol=sum(stock.oxygen_mol for stock in pod.contents),
        absorbs_mol=sum(stock.absorbs_mol for stock in pod.contents),
        share=spread / 100.0,
        key=entry.id,
    )


def _said(inflows: list[Entry], origin: datetime) -> list[Event]:
    found: list[Event] = []
    for entry in inflows:
        water = entry.value.what == "water"
        rate = entry.value.m3_per_h
        if not water:
            rate = gas_mol(STANDARD_PA, rate, 0.0)
        sigma = max(rate * entry.value.spread_percent / 100.0, 1e-3)
        found.append(
            Said(
                at_h=_hours(entry.record.valid_at, origin),
                water=water,
                rate=rate,
                sigma=sigma,
                key=entry.id,
            )
        )
    return found
