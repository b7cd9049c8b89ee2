"""What fills a record of vehicles, chambers, lifts, stores, levels and hospitals told by voice."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from layers.earth.clock import day_hhmm
from layers.earth.said.quantity import figure
from layers.journal.known import Known
from layers.journal.words.heard import Name, ToldRecord
from layers.survivors.heard_fill import READY, held_at

FIRST_VEHICLE = "rescue vehicle"
COMFORT_C = 15.0  # below it a level of temperature means cold; common practice, no source
NORMAL_O2_KPA = 21.2  # of dry air at one standard atmosphere: 0.2095 × 101.325 kPa
# A canister and a candle of which no more is told are taken small, so that nobody counts on what
# may not be there: common practice, no source. A candle: oxygen for one person for a day.
CANISTER_KG, CANDLE_KG = 3.0, 0.84
TAKEN_PERCENT = 60.0
CURTAIN = "spread"


def fill_vehicle(told: ToldRecord) -> None:
    """Put a vehicle of which seats and hours from dive to dive are told; the model fills the rest.

    Of one that is known only what is told anew changes.
    """
    before = _vehicle(told)
    text = _named(told)
    if told.amending:
        told.put(name=text or None)
    elif before is not None:
        told.payload |= before.model_dump(mode="json", exclude_unset=True)
        known = [f"{before.seats} seats"] if not told.has("seats") else []
        if not told.has("cycle") and before.cycle_h:
            known.append(f"cycle {figure(before.cycle_h)} h")
        if known:
            told.assumed.append(f"{before.name} as told before, {', '.join(known)}")
    elif text:
        told.put(name=text)
    else:
        told.assume(f"named {FIRST_VEHICLE}", name=FIRST_VEHICLE)
    told.put_as(seats="seats", cycle_h="cycle")
    carried = told.get("carried")
    told.put(carried_by=carried.text if isinstance(carried, Name) else None)
    if told.has("ready"):
        told.put(ready_at=told.get("ready").isoformat())
    told.put_as(state="vehicle_state")
    if told.has("vehicle_state") and not told.amending:
        _from_then_on(told, before)
    if told.has("inside") and not told.amending:
        _inside(told, text or (before.name if before else ""))
    if before is None and not told.amending:
        for role, title in (("seats", "places for people"), ("cycle", "hours from dive to dive")):
            if not told.has(role):
                told.lack(title)
        if told.has("cycle"):
            told.assume("cycle ± 25 %, the rest as enough", cycle_spread_percent=25.0)


def _inside(told: ToldRecord, name: str) -> None:
    """Say whether those aboard a vehicle are there already, else ask which place they left.

    Nobody can tell from the line: of two compartments either may have lost them.
    """
    from layers.survivors.muster.model import PlaceSort
    from layers.survivors.muster.muster import place_sorts

    count, held = int(told.get("inside")), held_at(told, name)
    if told.known is None or (held is not None and sum(held.values()) == count):
        told.assumed.append(f"{count} aboard, as in the muster")
        return
    at, state = f"at {told.at:%d%H%M}Z", told.get("vehicle_state")
    refuges = [p for p, sort in place_sorts(told.known).items() if sort is PlaceSort.REFUGE]
    lines = [f"{count} moved from {one} to {name} {at}; {name} {state} {at}" for one in refuges]
    note = f"note: {count} aboard {name} when {state}"
    told.parted = (
        f"{count} aboard are not booked there; from where did they come?",
        (*lines[:8], f"{name} {state} {at}; {note}"),
    )


def _from_then_on(told: ToldRecord, before: Any) -> None:
    """Put from when a vehicle that is broken, or mended, can dive; an hour told before is over."""
    hours = [role for role in ("ready", "repair", "mended_at") if told.has(role)]
    broken = told.get("vehicle_state") == "broken"
    if len(hours) > 1 or (hours and hours != ["ready"] and not broken):
        told.lack("until when it is broken")
    elif "repair" in hours:
        mended = told.at + timedelta(hours=told.get("repair"))
        told.put(ready_at=mended.isoformat())
        told.also["repair"] = f"= can dive again {day_hhmm(mended)}"
    elif "mended_at" in hours:
        told.put(ready_at=told.get("mended_at").isoformat())
    elif broken:
        told.payload.pop("ready_at", None)
        told.assumed.append("dives no more until an hour is told")
    elif not hours and before is not None and before.state == "broken":
        told.put(ready_at=told.at.isoformat())
        told.assumed.append("can dive from now")


def _vehicle(told: ToldRecord) -> Any:
    """Return the vehicle that is meant, as it was last told; None for a new one."""
    if told.known is None:
        return None
    wanted = _named(told)
    found = {e.value.name: e.value for e in told.known.entries("survivors.vehicle")}
    if not wanted:
        return next(iter(found.values())) if len(found) == 1 else None
    return found.get(wanted)


def _named(told: ToldRecord) -> str:
    """Return the name that was said, whatever sort of thing it names too; empty for none.

    A vehicle is a place where people are as well: of its two roles either may have taken it.
    """
    for role in ("vehicle", "the_vehicle"):
        name = told.get(role)
        if isinstance(name, Name) and name not in READY:
            return name.key or name.text
    return str(told.get("new_vehicle") or "")


def fill_chamber(told: ToldRecord) -> None:
    """Put a chamber by its name and places."""
    name = told.get("chamber")
    told.put(name=name.key if isinstance(name, Name) else told.get("new_chamber"))
    told.put_as(places="places")
    ship = told.get("ship")
    told.put(ship=ship.text if isinstance(ship, Name) else None)
    if told.has("ready"):
        told.put(available_at=told.get("ready").isoformat())
    told.assume("one of them an attendant", attendants=1 if _more_than_one(told) else 0)


def _more_than_one(told: ToldRecord) -> bool:
    return int(told.get("places") or 0) > 1


def fill_limits(told: ToldRecord) -> None:
    """Put the sea in which a lift may run."""
    told.put_as(launch_hs_m="launch", recovery_hs_m="recovery", seat_depth_m="seat_depth")
    told.assume("", source="as heard")


def fill_lift(told: ToldRecord) -> None:
    """Put one planned lift behind those that are planned already."""
    told.put(key=_text(told.get("lift_key")))
    told.put_as(refuge="refuge", walking="count", stretcher="stretcher")
    vehicle = told.get("vehicle")
    known = list(told.known.entries("survivors.vehicle")) if told.known is not None else []
    if isinstance(vehicle, Name):
        told.put(vehicle=vehicle.key or vehicle.text)
    elif len(known) == 1:
        told.assume(f"by {known[0].value.name}", vehicle=known[0].value.name)
    else:
        told.lack("vehicle")
    planned = told.known.entries("survivors.lift") if told.known is not None else ()
    places = [entry.value.place for entry in planned]
    told.assume("", place=max(places, default=-1) + 1, stretcher=0, walking=0)


def fill_priority(told: ToldRecord) -> None:
    """Put which compartment's people go first."""
    names = [told.get(role) for role in ("refuge", "second", "third") if told.has(role)]
    told.put(refuges=[name.key or name.text for name in names])
    told.assume("set by the watch, as heard", set_by="the watch", reason="as heard")


def _stock(told: ToldRecord) -> dict[str, Any]:
    """Return stores as counted, with what nobody told taken small and wide."""
    if told.has("mass_of") and not told.has("stock"):
        what = told.get("mass_of")
        if what == "oxygen":
            return {"item": "oxygen bottles", "oxygen_kg": told.get("mass")}
        if what is None:
            told.assumed.append("soda lime")
        told.assumed.append("spread out by hand")
        return {"item": "absorbent", "chemical": what or "soda lime", "use": CURTAIN,
                "mass_kg": told.get("mass")}  # fmt: skip
    item, chemical = told.get("stock")
    chemical = chemical or told.get("mass_of")
    count = float(told.get("pieces") or 0.0)
    if count == 0.0:
        return {"item": item, "count": count}
    if item == "oxygen candles":
        told.assumed.append(f"{CANDLE_KG:g} kg of oxygen each, ± {TAKEN_PERCENT:g} %")
        return {"item": item, "count": count, "oxygen_kg_each": CANDLE_KG,
                "spread_percent": TAKEN_PERCENT}  # fmt: skip
    each = told.get("mass") or CANISTER_KG
    said = [] if chemical else ["soda lime"]
    said += [] if told.has("mass") else [f"{CANISTER_KG:g} kg each, ± {TAKEN_PERCENT:g} %"]
    told.assumed += [", ".join([*said, "spread out by hand"])]
    wide = {} if told.has("mass") else {"spread_percent": TAKEN_PERCENT}
    return {"item": item, "chemical": chemical or "soda lime", "use": CURTAIN, "count": count,
            "mass_kg_each": each, **wide}  # fmt: skip


def fill_stores(told: ToldRecord) -> None:
    """Put stores counted in a compartment."""
    told.put_as(refuge="refuge")
    if told.has("none_of"):
        told.put(stock={"item": told.get("none_of"), "count": 0.0})
    elif told.has("stock") and not told.has("pieces"):
        told.lack("how many")
    elif told.has("stock") or told.has("mass_of"):
        told.put(stock=_stock(told))


def fill_pod(told: ToldRecord) -> None:
    """Put a pod of stores and how far it has come."""
    told.put(pod=_text(told.get("pod")))
    told.put_as(refuge="refuge", state="pod_state")
    if told.has("stock") or told.has("mass_of"):
        told.put(contents=[_stock(told)])


def fill_level(told: ToldRecord) -> None:
    """Put a level of the air at which something must have happened."""
    told.put_as(refuge="refuge")
    for role, gas in (("co2", "carbon dioxide"), ("o2", "oxygen")):
        if not told.has(role):
            continue
        value = told.get(role)
        if value["unit"] == "percent":
            told.lack(f"{gas} in % SEV (surface equivalent), kPa or mbar; per cent by volume "
                      "depends on the pressure")  # fmt: skip
            return
        told.put(gas=value, quantity="carbon dioxide" if role == "co2" else _oxygen_side(value))
        words = f"{figure(value['value'])} {_UNITS[value['unit']]}"
        told.assume("", name=f"{gas} {words}")
    if told.has("temperature"):
        cold = told.get("temperature") < COMFORT_C
        told.put(temperature_c=told.get("temperature"),
                 quantity="low temperature" if cold else "high temperature")  # fmt: skip
        told.assume("", name=f"temperature {figure(told.get('temperature'))} °C")
    if told.has("pressure"):
        value = told.get("pressure")
        told.put(pressure=value, quantity="pressure")
        told.assume("", name=f"pressure {figure(value['value'])} {value['unit']}")
    if told.has("co"):
        told.put(carbon_monoxide_ppm=told.get("co"), quantity="carbon monoxide")
        told.assume("", name=f"carbon monoxide {figure(told.get('co'))} ppm")
    told.assume("by voice, to be confirmed by the medical officer", source="as heard by the watch",
                entered_by="the watch")  # fmt: skip


_UNITS = {"sev_percent": "% SEV", "kPa": "kPa", "mbar": "mbar"}


def _oxygen_side(value: dict[str, Any]) -> str:
    kpa = {"sev_percent": 1.01325, "kPa": 1.0, "mbar": 0.1}[value["unit"]] * value["value"]
    return "low oxygen" if kpa < NORMAL_O2_KPA else "high oxygen"


def fill_hospital(told: ToldRecord) -> None:
    """Put a hospital ashore and its places."""
    told.put_as(hospital="new_hospital", stretcher_places="beds", other_places="other_beds",
                recompression_places="recompression")  # fmt: skip
    told.place(told.get("position"))
    told.assume("only reported", source="as heard")


def _text(value: Any) -> str | None:
    return value.text if isinstance(value, Name) else value


def vehicles(known: Known, at: datetime) -> Iterable[Name]:
    """Return the rescue vehicles."""
    for entry in known.entries("survivors.vehicle"):
        yield Name(text=entry.value.name, sort="rescue vehicle", key=entry.value.name)


def lifts(known: Known, at: datetime) -> Iterable[Name]:
    """Return the planned lifts by their keys."""
    for entry in known.entries("survivors.lift"):
        yield Name(text=entry.value.key, sort="lift", key=entry.value.key)
