"""What will not be taken about the air, each with its sentence; run inside the writer's lock."""

from __future__ import annotations

from typing import Protocol

from layers.earth.clock import dtg
from layers.earth.errors import RecordRefused
from layers.earth.units import PA_PER_BAR
from layers.journal.known import Known
from layers.journal.record import Draft
from layers.survivors.air.model import AirReading, StoresUsed
from layers.survivors.air.stores import stock_amount, stock_entries, stocks_held
from layers.survivors.chambers.pressure import bar_abs
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import place_sorts
from layers.survivors.muster.on_board import in_order

# Sea water of 1026 kg/m3 at 9.81 m/s2 under one standard atmosphere; within 1 % to 1000 m.
SEA_PA_PER_M = 1026.0 * 9.81
SURFACE_PA = 101_325.0


class _InRefuge(Protocol):
    @property
    def refuge(self) -> str: ...


def sea_bar_abs(depth_m: float) -> float:
    """Return the pressure of the sea at a depth, bar absolute."""
    return (SURFACE_PA + SEA_PA_PER_M * depth_m) / PA_PER_BAR


def refuse_outside_refuges(value: _InRefuge, draft: Draft, known: Known) -> None:
    """Refuse what is said of a place that is no refuge."""
    refuges = [name for name, sort in place_sorts(known).items() if sort is PlaceSort.REFUGE]
    if value.refuge not in refuges:
        raise RecordRefused(
            f"{value.refuge!r} is not a refuge", where="refuge", accepted=", ".join(refuges)
        )


def refuse_reading(value: AirReading, draft: Draft, known: Known) -> None:
    """Refuse a pressure above that of the sea outside: feet or gauge taken for bar."""
    refuse_outside_refuges(value, draft, known)
    depths = [
        entry.value.depth_m
        for entry in in_order(known.entries("survivors.compartment"))
        if entry.value.refuge == value.refuge and entry.value.depth_m is not None
    ]
    if not depths:
        return
    inside, outside = bar_abs(value.pressure), sea_bar_abs(depths[-1])
    if inside > outside * 1.02:
        told = value.pressure
        raise RecordRefused(
            f"{told.value:g} {told.unit} {told.reference} is {inside:.1f} bar absolute, more than "
            f"the sea outside at {depths[-1]:g} m ({outside:.1f} bar): was it feet or metres of "
            "sea water?",
            where=f"pressure in {value.refuge!r} at {dtg(draft.valid_at)}",
            accepted=f"up to {outside:.1f} bar absolute",
        )


def refuse_used(value: StoresUsed, draft: Draft, known: Known) -> None:
    """Refuse more used than there was."""
    refuse_outside_refuges(value, draft, known)
    held = stocks_held(stock_entries(known, value.refuge, draft.valid_at))
    stock = next((s for (item, _), s in held.items() if item == value.item), None)
    if stock is None:
        raise RecordRefused(
            f"no {value.item} were ever counted in {value.refuge!r}",
            where="item",
            accepted="first a count of them",
        )
    unit = "candles" if value.item == "oxygen candles" else "kg"
    if value.unit != unit:
        raise RecordRefused(f"{value.item} are counted in {unit}", where="unit", accepted=unit)
    left = stock_amount(stock)
    if value.amount > left:
        raise RecordRefused(
            f"{value.amount:g} {unit} of {value.item} used leaves {left - value.amount:g}: "
            f"{value.refuge!r} had {left:g}",
            where="amount",
            accepted=f"at most {left:g}, or first a new count",
        )
