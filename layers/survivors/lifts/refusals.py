"""What will not be taken about lifts and chambers, each with its sentence."""

from __future__ import annotations

from typing import Any

from layers.earth.errors import RecordRefused
from layers.journal.known import Known
from layers.journal.record import Draft
from layers.survivors.lifts.model import Chamber, Lift, Phase, SortiePhase
from layers.survivors.lifts.vehicle import Vehicle


def refuse_lift(value: Lift, draft: Draft, known: Known) -> None:
    """Refuse a lift that its vehicle has no seats for; the plan stays as it was.

    Raises
    ------
    RecordRefused
        Says the seats wanted and the seats there are.
    """
    vehicle = latest(known, "survivors.vehicle", "name").get(value.vehicle)
    if value.withdrawn or value.held:
        return
    if vehicle is None:
        raise RecordRefused(
            f"no vehicle {value.vehicle!r} is recorded",
            where=f"lift {value.key}",
            accepted="a vehicle that is entered first",
        )
    fault = seat_fault(value.walking, value.stretcher, vehicle)
    if fault:
        raise RecordRefused(
            fault, where=f"lift {value.key}", accepted=f"at most {vehicle.seats} seats"
        )


def seat_fault(walking: int, stretcher: int, vehicle: Vehicle) -> str:
    """Return why people have no seats in a vehicle, or an empty text."""
    if stretcher > vehicle.stretcher_places:
        return (
            f"{stretcher} stretcher cases have no seats in {vehicle.name}, which takes "
            f"{vehicle.stretcher_places}"
        )
    wanted = seats_wanted(walking, stretcher, vehicle)
    if wanted > vehicle.seats:
        return (
            f"{walking} walking and {stretcher} on stretchers want {wanted} seats, "
            f"{vehicle.name} has {vehicle.seats}"
        )
    return ""


def seats_wanted(walking: int, stretcher: int, vehicle: Vehicle) -> int:
    """Return the seats that people take; a stretcher takes several."""
    return walking + stretcher * vehicle.stretcher_seats


def refuse_phase(value: SortiePhase, draft: Draft, known: Known) -> None:
    """Refuse a phase of a lift that is not planned, or a dive with too little battery.

    Raises
    ------
    RecordRefused
        Says what is missing.
    """
    from layers.survivors.lifts.sorties.energy import need_kwh  # it reads these models

    lift = latest(known, "survivors.lift", "key").get(value.lift)
    vehicle = latest(known, "survivors.vehicle", "name").get(value.vehicle)
    if lift is None or vehicle is None:
        missing = f"lift {value.lift!r}" if lift is None else f"vehicle {value.vehicle!r}"
        raise RecordRefused(
            f"no {missing} is recorded", where="sortie phase", accepted="one that is entered first"
        )
    _refuse_order(value, lift, draft, known)
    limits = known.entries("survivors.lift_limits")
    depth_m = limits[-1].value.seat_depth_m if limits else None
    if value.phase is Phase.DOWN and value.battery_kwh is not None and depth_m is not None:
        need = need_kwh(vehicle, lift.walking, lift.stretcher, depth_m)
        if value.battery_kwh < need + vehicle.reserve_kwh:
            raise RecordRefused(
                f"{value.vehicle} would dive with {value.battery_kwh:.0f} kWh; the sortie needs "
                f"{need:.0f} kWh and a reserve of {vehicle.reserve_kwh:.0f} kWh",
                where=f"lift {value.lift}",
                accepted=f"at least {need + vehicle.reserve_kwh:.0f} kWh, or fewer people",
            )


def _refuse_order(value: SortiePhase, lift: Lift, draft: Draft, known: Known) -> None:
    """Refuse a phase by another vehicle than the lift's, or out of its order."""
    from layers.survivors.lifts.sorties.facts import (  # it reads these models
        lift_facts,
        out_of_order,
    )

    if value.vehicle != lift.vehicle:
        raise RecordRefused(
            f"lift {lift.key} is planned for {lift.vehicle}, not for {value.vehicle}",
            where=f"lift {value.lift}",
            accepted=f"a phase of {lift.vehicle}, or the lift given to {value.vehicle} first",
        )
    why = out_of_order(value, draft.valid_at, known, lift_facts(known, draft.valid_at))
    if why:
        raise RecordRefused(
            why, where=f"lift {value.lift}", accepted="the phase that comes next, or its true time"
        )


def latest(known: Known, kind: str, field: str) -> dict[str, Any]:
    """Return the value last true of a kind by one of its fields, first true first."""
    found: dict[str, Any] = {}
    entries = known.entries(kind)
    for entry in sorted(entries, key=lambda e: (e.record.valid_at, e.record.seq)):
        found[getattr(entry.value, field)] = entry.value
    return found


def refuse_chamber(value: Chamber, draft: Draft, known: Known) -> None:
    """Refuse a chamber that its own attendants fill."""
    if value.attendants >= value.places:
        raise RecordRefused(
            f"{value.attendants} attendants fill the {value.places} places of {value.name}",
            where="chamber",
            accepted="more places than attendants",
        )
