"""A rescue vehicle as it is recorded, and what is taken where little of it is told.

Nobody has all figures of a rescue vehicle in the first hour. What is told counts; what is not is
filled here, in one place, and said. The time from dive to dive is shared out over its parts and
spreads as a whole (`cycle_spread_percent` either way); a part told by itself keeps its own
spread, and only what is left of the cycle stays wide, so that every better figure narrows it.
A battery, ballast, life support, crews or pressure that nobody told binds nothing; that is said
too, for it makes the plan hopeful.

The shares are common practice, no source.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal, Self

from pydantic import Field, model_validator

from layers.journal.kinds import Payload

Name = Field(min_length=1, max_length=80)
AS_TOLD = Field(default="as told", min_length=1, max_length=2_000)


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


class ThreePoint(Payload):
    """A three-point time in minutes: at least, most likely, at most."""

    low: float = Field(ge=0.0, le=20_000.0)
    likely: float = Field(ge=0.0, le=20_000.0)
    high: float = Field(ge=0.0, le=20_000.0)

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.low <= self.likely <= self.high:
            raise ValueError(
                f"{self.low:g}, {self.likely:g}, {self.high:g} min are out of order; accepted: "
                "at least, most likely, at most"
            )
        return self


def untold_number() -> float:
    """Return what stands for a number that `fill` puts in."""
    return 0.0


def untold_count() -> int:
    """Return what stands for a count that `fill` puts in."""
    return 0


def untold_one() -> int:
    """Return what stands for one, until `fill` puts another in."""
    return 1


def untold_time() -> ThreePoint:
    """Return what stands for a time that `fill` puts in."""
    return ThreePoint(low=0.0, likely=0.0, high=0.0)


class Vehicle(Payload):
    """A rescue vehicle: what it takes, how long each part of a sortie takes, what can fail.

    Times are minutes of three points; ``mate`` includes dewatering and equalising,
    ``transfer_*`` is for one person. A mating that fails takes as long as one that holds, and
    another follows while the battery lasts. ``ready_at`` is when it can first dive, within
    ``ready_spread_h`` in all; a vehicle that ``follows_chain`` takes the time of the response
    chain where one is known. A vehicle with ``planned`` false is on the table only. A broken one
    dives again from ``ready_at`` told after its last sortie; ``loss_chance`` is that a sortie
    does not come back, none counted where it is not stated. ``seats`` are beside its
    ``attendants``, who come under pressure with the people; ``attendant_teams`` is how many
    teams of them there are, not counted where it is not stated.
    Name, seats and ``cycle_h``, the hours from one dive to the next, are enough: the rest is
    filled by `layers.survivors.lifts.vehicle`.
    """

    name: str = Name
    seats: int = Field(ge=1, le=200)
    cycle_h: float | None = Field(default=None, gt=0.0, le=240.0)
    cycle_spread_percent: float = Field(default=25.0, ge=0.0, le=90.0)
    attendants: int = Field(default_factory=untold_count, ge=0, le=10)
    stretcher_places: int = Field(default_factory=untold_count, ge=0, le=50)
    stretcher_seats: int = Field(default_factory=untold_count, ge=1, le=10)
    battery_kwh: float = Field(default_factory=untold_number, gt=0.0, le=5_000.0)
    reserve_kwh: float = Field(default_factory=untold_number, ge=0.0, le=5_000.0)
    charge_kw: float = Field(default_factory=untold_number, gt=0.0, le=2_000.0)
    transit_kw: float = Field(default_factory=untold_number, ge=0.0, le=1_000.0)
    seat_kw: float = Field(default_factory=untold_number, ge=0.0, le=1_000.0)
    speed_down_m_min: float = Field(default_factory=untold_number, gt=0.0, le=200.0)
    speed_up_m_min: float = Field(default_factory=untold_number, gt=0.0, le=200.0)
    launch: ThreePoint = Field(default_factory=untold_time)
    search: ThreePoint = Field(default_factory=untold_time)
    mate: ThreePoint = Field(default_factory=untold_time)
    transfer_walking: ThreePoint = Field(default_factory=untold_time)
    transfer_stretcher: ThreePoint = Field(default_factory=untold_time)
    away: ThreePoint = Field(default_factory=untold_time)
    recover: ThreePoint = Field(default_factory=untold_time)
    into_chamber: ThreePoint = Field(default_factory=untold_time)
    turn_round: ThreePoint = Field(default_factory=untold_time)
    repair: ThreePoint = Field(default_factory=untold_time)
    failure_chance: float = Field(default_factory=untold_number, ge=0.0, le=0.9)
    failed_mating_chance: float = Field(default_factory=untold_number, ge=0.0, le=0.9)
    max_pressure_bar_abs: float = Field(default_factory=untold_number, gt=1.0, le=10.0)
    person_kg: float = Field(default_factory=untold_number, ge=30.0, le=200.0)
    ballast_kg: float = Field(default_factory=untold_number, ge=0.0, le=50_000.0)
    life_support_h: float = Field(default_factory=untold_number, gt=0.0, le=1_000.0)
    report_every_min: float = Field(default_factory=untold_number, gt=0.0, le=1_440.0)
    crews: int = Field(default_factory=untold_count, ge=1, le=10)
    crew_rest_h: float = Field(default_factory=untold_number, ge=0.0, le=72.0)
    ready_at: datetime | None = None
    ready_spread_h: float = Field(default=0.0, ge=0.0, le=96.0)
    follows_chain: bool = True
    planned: bool = True
    carried_by: str | None = Field(default=None, min_length=1, max_length=80)  # the ship
    state: Literal["working", "broken", "lost"] = "working"
    loss_chance: float | None = Field(default=None, ge=0.0, le=0.9)
    attendant_teams: int | None = Field(default=None, ge=1, le=20)
    source: str = AS_TOLD

    @model_validator(mode="after")
    def _filled(self) -> Self:
        self.__dict__.update(fill(self))  # not in model_fields_set: nobody told it
        return self

    @model_validator(mode="after")
    def _battery(self) -> Self:
        if self.reserve_kwh >= self.battery_kwh:
            raise ValueError(
                f"a reserve of {self.reserve_kwh:g} kWh leaves nothing of a battery of "
                f"{self.battery_kwh:g} kWh"
            )
        return self
