"""A vehicle of which little is told: seats and the time from one dive to the next.

Nobody has all figures of a rescue vehicle in the first hour. What is told counts; what is not is
filled here, in one place, and said. The time from dive to dive is shared out over its parts and
spreads as a whole (`cycle_spread_percent` either way); a part told by itself keeps its own
spread, and only what is left of the cycle stays wide, so that every better figure narrows it.
A battery, ballast, life support, crews or pressure that nobody told binds nothing; that is said
too, for it makes the plan hopeful.

The shares are common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layers.survivors.lifts.model import Vehicle

# shares of the time from dive to dive; down and up at the depth of the seat
SHARES = {
    "launch": 0.05, "down": 0.05, "search": 0.07, "mate": 0.13, "transfer": 0.18, "away": 0.04,
    "up": 0.05, "recover": 0.06, "turn_round": 0.37,
}  # fmt: skip
DIRECT = ("launch", "search", "mate", "away", "recover", "turn_round")
INTO_CHAMBER = 0.04  # runs beside the turn-round
STRETCHER_TIMES = 3.0  # a stretcher takes as long as three who walk
REPAIR_MIN = (360.0, 720.0, 2_880.0)
NOMINAL_M = 100.0  # depth for the speeds until that of the seat is known
# what is not told and binds nothing, or is taken
UNBOUND: dict[str, float] = {
    "attendants": 0, "stretcher_seats": 2, "battery_kwh": 1.0, "reserve_kwh": 0.0,
    "charge_kw": 1.0, "transit_kw": 0.0, "seat_kw": 0.0, "max_pressure_bar_abs": 10.0,
    "person_kg": 90.0, "ballast_kg": 50_000.0, "life_support_h": 1_000.0,
    "report_every_min": 60.0, "crews": 10, "crew_rest_h": 0.0,
    "failure_chance": 0.1, "failed_mating_chance": 0.1,
}  # fmt: skip
SAID = {
    "battery_kwh": "battery", "max_pressure_bar_abs": "pressure it may carry",
    "ballast_kg": "ballast", "life_support_h": "life support", "crews": "crews",
}  # fmt: skip


def fill(vehicle: Vehicle) -> dict[str, object]:
    """Return the fields that nobody told, worked out from those that were.

    Raises
    ------
    ValueError
        Neither the cycle nor all of its parts are told; or its parts are longer than it.
    """
    from layers.survivors.lifts.model import ThreePoint

    told = vehicle.model_fields_set
    missing = [part for part in SHARES if not _told(part, told)]
    found: dict[str, object] = {k: v for k, v in UNBOUND.items() if k not in told}
    if "stretcher_places" not in told:
        found["stretcher_places"] = max(vehicle.seats // 4, 1)
    if vehicle.cycle_h is None and not missing and "repair" in told and "into_chamber" in told:
        return found
    if missing and vehicle.cycle_h is None:
        raise ValueError(
            "the time from one dive to the next is not told; a number of hours is enough, or else "
            f"each of its parts ({', '.join(part.replace('_', ' ') for part in missing)})"
        )
    whole = 60.0 * (vehicle.cycle_h or _told_min(vehicle, told))
    left = whole - _told_min(vehicle, told) if missing else whole
    if missing and left <= 0.0:
        raise ValueError(
            f"the parts told take {_told_min(vehicle, told) / 60.0:.3g} h, no less than the "
            f"{vehicle.cycle_h:g} h from one dive to the next"
        )
    scale = left / sum(SHARES[part] for part in missing) if missing else 0.0
    # the way down and up goes at one speed: the other parts carry its share of the spread
    steady = scale * sum(SHARES[part] for part in missing if part in ("down", "up"))
    widened = left / (left - steady) if missing and left > steady else 1.0
    spread = min(vehicle.cycle_spread_percent / 100.0 * widened, 1.0)

    def three(likely: float) -> ThreePoint:
        return ThreePoint(low=likely * (1 - spread), likely=likely, high=likely * (1 + spread))

    for part in missing:
        minutes = SHARES[part] * scale
        if part in ("down", "up"):
            found[f"speed_{part}_m_min"] = NOMINAL_M / minutes
        elif part == "transfer":
            found["transfer_walking"] = three(minutes / vehicle.seats)
        else:
            found[part] = three(minutes)
    if "transfer_stretcher" not in told:
        each = found.get("transfer_walking", vehicle.transfer_walking)
        assert isinstance(each, ThreePoint)
        found["transfer_stretcher"] = three(each.likely * STRETCHER_TIMES)
    if "into_chamber" not in told:
        found["into_chamber"] = three(INTO_CHAMBER * whole)
    if "repair" not in told:
        low, likely, high = REPAIR_MIN
        found["repair"] = ThreePoint(low=low, likely=likely, high=high)
    return found


def _told(part: str, told: set[str]) -> bool:
    name = {"down": "speed_down_m_min", "up": "speed_up_m_min", "transfer": "transfer_walking"}
    return name.get(part, part) in told


def _told_min(vehicle: Vehicle, told: set[str]) -> float:
    """Return the most likely minutes of the parts of a cycle that were told."""
    total = sum(getattr(vehicle, part).likely for part in DIRECT if part in told)
    if "transfer_walking" in told:
        total += vehicle.transfer_walking.likely * vehicle.seats
    for name in ("speed_down_m_min", "speed_up_m_min"):
        if name in told:
            total += NOMINAL_M / getattr(vehicle, name)
    return float(total)


def shared(vehicle: Vehicle, part: str) -> bool:
    """Return whether a part's time comes from the cycle, and spreads with it as a whole."""
    return vehicle.cycle_h is not None and part not in vehicle.model_fields_set


def at_depth(vehicle: Vehicle, depth_m: float) -> Vehicle:
    """Return the vehicle with speeds that keep its cycle at the depth of the seat."""
    names = ("speed_down_m_min", "speed_up_m_min")
    untold = [name for name in names if shared(vehicle, name)]
    if not untold:
        return vehicle
    deeper = {name: getattr(vehicle, name) * depth_m / NOMINAL_M for name in untold}
    kept = set(vehicle.model_fields_set)
    fitted = vehicle.model_copy(update=deeper)
    fitted.__pydantic_fields_set__.intersection_update(kept)
    return fitted


def taken_words(vehicle: Vehicle) -> str:
    """Return what was taken for a vehicle that was told in part; empty when all was told."""
    said = []
    if any(shared(vehicle, part) for part in (*DIRECT, "transfer_walking")):
        said.append(
            f"cycle told as {vehicle.cycle_h:g} h, taken ± {vehicle.cycle_spread_percent:g} %"
        )
    free = [word for name, word in SAID.items() if name not in vehicle.model_fields_set]
    if free:
        said.append(f"{', '.join(free)} not told, taken as enough")
    for name, word in (
        ("failed_mating_chance", "a mating fails"),
        ("failure_chance", "a fault after a lift"),
    ):
        if name not in vehicle.model_fields_set:
            said.append(f"{word} taken as {getattr(vehicle, name):.0%}")
    if "stretcher_places" not in vehicle.model_fields_set:
        said.append(f"{vehicle.stretcher_places} stretchers a lift taken")
    return f"{vehicle.name}: {'; '.join(said)}." if said else ""
