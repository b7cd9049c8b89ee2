"""Stores of a refuge as counted, used and taken in, and what absorbent does in the cold.

A pod taken in belongs to the stores from then on: what is used afterwards is taken from the whole.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from layers.earth.clock import to_us
from layers.earth.units import KELVIN_AT_0_C, PA_PER_BAR, R_J_PER_MOL_K
from layers.journal.known import Entry, Known
from layers.survivors.air.absorbent import absorbs
from layers.survivors.air.learning.events import Added, Breathed, Count, Event
from layers.survivors.air.model import Pod, Stock
from layers.survivors.chambers.pressure import bar_abs, gas_kpa
from layers.survivors.muster.on_board import in_order

# Gas breathed in and out at rest, litres a minute at the ambient pressure; from memory.
VENTILATION_L_MIN = 10.0
AIR_KG_MOL = 28.965e-3  # dry air
Held = dict[tuple[str, str], Stock]


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


def hours(at: datetime, origin: datetime) -> float:
    """Return hours from one time to another."""
    return (to_us(at) - to_us(origin)) / 3.6e9


def stock_entries(known: Known, refuge: str, at: datetime | None) -> list[Entry]:
    """Return counts, what was used and pods as they were first taken in, in order of time."""
    entries = (*known.entries("survivors.stores"), *known.entries("survivors.stores_used"))
    mine = [e for e in in_order(entries, at) if e.value.refuge == refuge and not e.disputed]
    taken: dict[str, Entry] = {}
    for entry in in_order(known.entries("survivors.pod"), at):
        if entry.value.state == "taken in" and entry.value.refuge == refuge and not entry.disputed:
            taken.setdefault(entry.value.pod, entry)
    return in_order((*mine, *taken.values()))


def perhaps_held(entries: Iterable[Entry]) -> frozenset[str]:
    """Return the gases that stores of which nobody told may hold."""
    # a pod that came in says nothing of what was there before it
    held = {entry.value.stock.item for entry in entries if hasattr(entry.value, "stock")}
    found: set[str] = set() if "absorbent" in held else {"carbon dioxide"}
    if not held & {"oxygen candles", "oxygen bottles"}:
        found.add("oxygen")
    return frozenset(found)


def untold_stores(
    refuge: str, entries: Iterable[Entry], read: frozenset[str], fewer: str = ""
) -> dict[str, str]:
    """Return by quantity of a level what stores nobody has told that bear on it, in words.

    They are counted as none, so that what is worked out is *at least*. Where both gases are read
    breathing is learnt from both, and what is not told of one bears on the other. ``fewer``: that
    some account has fewer there than are counted, which bears on both.
    """
    asked = _untold(refuge, entries, read)
    if not fewer:
        return asked
    both = ("carbon dioxide", "low oxygen")
    return {gas: "; ".join(filter(None, (fewer, asked.get(gas)))) for gas in both}


def _untold(refuge: str, entries: Iterable[Entry], read: frozenset[str]) -> dict[str, str]:
    gases = perhaps_held(entries)
    asked: dict[str, str] = {}
    if "carbon dioxide" in gases:
        asked["carbon dioxide"] = f"absorbent in {refuge} not told"
    if "oxygen" in gases:
        asked["low oxygen"] = f"oxygen stores in {refuge} not told"
    if asked and {"carbon dioxide", "oxygen"} <= read:
        said = f"stores in {refuge} not told" if len(asked) > 1 else next(iter(asked.values()))
        return {"carbon dioxide": said, "low oxygen": said}
    return asked


def counts(entries: list[Entry], readings: list[Entry], origin: datetime) -> list[Event]:
    """Return the pools of oxygen and absorbent each time one of their parts was told."""
    held: Held = {}
    holds: dict[bool, float | None] = {True: None, False: None}
    found: dict[tuple[float, bool, str], Event] = {}
    for entry in entries:
        at_h = hours(entry.record.valid_at, origin)
        temperature = temperature_at(readings, entry.record.valid_at)
        if isinstance(entry.value, Pod):
            found[(at_h, False, entry.id)] = _added(entry.value, entry.id, at_h, temperature)
            taken_in(held, entry.value)
            continue
        stock = restocked(held, entry)
        if stock is None or stock.item == "breathing air":
            continue
        oxygen = stock.item != "absorbent"
        gas = getattr(entry.value, "held_at", None)
        holds[oxygen] = gas_kpa(gas, 1.0) if gas is not None else holds[oxygen]
        pool = [s for s in held.values() if (s.item != "absorbent") == oxygen]
        pool = [s for s in pool if s.item != "breathing air"]
        told = [_mol(s, oxygen, temperature) for s in pool]
        total = sum(mol for mol, _ in told)
        spread = sum((mol * share) ** 2 for mol, share in told)
        found[(at_h, oxygen, "")] = Count(
            at_h=at_h,
            oxygen=oxygen,
            mol=total,
            share=spread**0.5 / total if total else 0.0,
            hold_kpa=holds[oxygen],
            key=entry.id,
        )
    return list(found.values())


def temperature_at(readings: list[Entry], at: datetime) -> float | None:
    """Return the temperature last read by a time, else the first read after it; °C."""
    told = [r for r in readings if r.value.temperature_c is not None]
    before = [r for r in told if r.record.valid_at <= at]
    return (before[-1] if before else told[0]).value.temperature_c if told else None


def _mol(stock: Stock, oxygen: bool, temperature_c: float | None) -> tuple[float, float]:
    """Return mol of a stock and one standard deviation as a share."""
    told = stock.spread_percent / 100.0
    if oxygen:
        return stock.oxygen_mol, told
    mol, share = absorbs(stock, temperature_c)
    return mol, float((told**2 + share**2) ** 0.5)


def _added(pod: Pod, key: str, at_h: float, temperature_c: float | None) -> Added:
    taken = [_mol(s, False, temperature_c) for s in pod.contents if s.item == "absorbent"]
    shares = [s.spread_percent / 100.0 for s in pod.contents] + [share for _, share in taken]
    return Added(
        at_h=at_h,
        oxygen_mol=sum(stock.oxygen_mol for stock in pod.contents),
        absorbs_mol=sum(mol for mol, _ in taken),
        share=max(shares),
        key=key,
    )


def taken_in(held: Held, pod: Pod) -> None:
    """Add what a pod holds to the stores."""
    for stock in pod.contents:
        key = (stock.item, stock.chemical or "")
        before = held.get(key)
        held[key] = stock if before is None else less(before, -stock_amount(stock))


def restocked(held: Held, entry: Entry) -> Stock | None:
    """Take a count, or what was used since, into the stores; return the stock it is of."""
    value = entry.value
    if hasattr(value, "stock"):
        stock: Stock = value.stock
        if stock.none_left and not stock.chemical:  # of whatever make
            held.update(
                {k: less(s, stock_amount(s)) for k, s in held.items() if k[0] == stock.item}
            )
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
    return stock.model_copy(update={name: max(stock_amount(stock) - amount, 0.0)})


def stock_amount(stock: Stock) -> float:
    """Return how much there is, in candles or kg."""
    if stock.item == "oxygen candles":
        return stock.count or 0.0
    if stock.item == "absorbent":
        return stock.all_kg
    return stock.oxygen_kg or stock.air_kg or 0.0


def stocks_held(entries: Iterable[Entry]) -> Held:
    """Return the stocks as last told, less what was used since, pods taken in among them."""
    held: Held = {}
    for entry in entries:
        if isinstance(entry.value, Pod):
            taken_in(held, entry.value)
        else:
            restocked(held, entry)
    return held


def bottles(entries: Iterable[Entry], readings: list[Entry], origin: datetime) -> list[Event]:
    """Return the air that people let into the refuge by breathing from bottles, until spent.

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
        start = hours(entry.record.valid_at, origin)
        lasts = (stock.air_kg or 0.0) / AIR_KG_MOL / rate
        found += [
            Breathed(at_h=start, mol_per_h=rate),
            Breathed(at_h=start + lasts, mol_per_h=-rate),
        ]
    return found


def pods(
    known: Known, refuge: str, at: datetime, temperature_c: float | None
) -> tuple[PodKnown, ...]:
    """Return the pods of a refuge as last told."""
    latest: dict[str, Entry] = {}
    for entry in in_order(known.entries("survivors.pod"), at):
        latest[entry.value.pod] = entry
    return tuple(
        PodKnown(
            pod=name,
            refuge=refuge,
            state=entry.value.state,
            oxygen_mol=sum(stock.oxygen_mol for stock in entry.value.contents),
            absorbs_mol=sum(absorbs(stock, temperature_c)[0] for stock in entry.value.contents),
            told_at=entry.record.valid_at,
            record=entry.id,
        )
        for name, entry in latest.items()
        if entry.value.refuge == refuge
    )
