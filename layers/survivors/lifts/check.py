"""What is wrong with a plan: seats, battery, pressure, chambers, ballast, people left over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from layers.earth.errors import InputError
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.lifts.energy import ballast_kg, need_kwh
from layers.survivors.lifts.model import Lift, Phase, Vehicle, seat_fault
from layers.survivors.lifts.plan import Setting
from layers.survivors.lifts.told_vehicle import taken_words

HATCH_SHUT = (Phase.AWAY, Phase.UP, Phase.RECOVER)


def faults(setting: Setting, pressures: Mapping[str, float | None]) -> list[InputError]:
    """Return why the lifts that wait cannot be run as planned, worst first.

    Parameters
    ----------
    setting : Setting
        The plan.
    pressures : mapping of str to float or None
        Pressure in each refuge, bar absolute.
    """
    found: list[InputError] = []
    for lift in setting.waiting():
        vehicle = setting.vehicle(lift.vehicle)
        where = f"lift {lift.key}"
        seats = seat_fault(lift.walking, lift.stretcher, vehicle)
        if seats:
            found.append(InputError(seats, where=where, accepted=f"{vehicle.seats} seats"))
        found.extend(_battery(lift, vehicle, setting.depth_m, where))
        found.extend(_pressure(lift, vehicle, setting, pressures.get(lift.refuge), where))
    return found


def _battery(lift: Lift, vehicle: Vehicle, depth_m: float, where: str) -> Iterable[InputError]:
    need = need_kwh(vehicle, lift.walking, lift.stretcher, depth_m)
    room = vehicle.battery_kwh - vehicle.reserve_kwh
    if need > room:
        yield InputError(
            f"the sortie needs {need:.0f} kWh, {vehicle.name} has {room:.0f} kWh above its reserve",
            where=where,
            accepted="fewer people, a larger battery or a smaller reserve",
        )


def _pressure(
    lift: Lift, vehicle: Vehicle, setting: Setting, pressure: float | None, where: str
) -> Iterable[InputError]:
    if pressure is None:
        return
    if pressure > vehicle.max_pressure_bar_abs:
        yield InputError(
            f"{lift.refuge} is at {pressure:.2f} bar abs, {vehicle.name} takes at most "
            f"{vehicle.max_pressure_bar_abs:g}",
            where=where,
            accepted="a vehicle for that pressure",
        )
    try:
        if setting.schedule is None or not setting.schedule.stay_s(pressure):
            return
    except InputError as reason:
        yield reason.at(where)
        return
    room = [c.places - c.attendants for c in setting.chambers]
    wanted = lift.walking + lift.stretcher * max(
        (c.stretcher_places for c in setting.chambers), default=1
    )
    if wanted > max(room, default=0):
        yield InputError(
            f"{wanted} places under pressure are wanted, the largest chamber has "
            f"{max(room, default=0)} beside its attendants",
            where=where,
            accepted="a larger chamber, or fewer people in the lift",
        )


def remarks(
    setting: Setting, people: Iterable[RefugePeople], pressures: Mapping[str, float | None]
) -> tuple[str, ...]:
    """Return plain sentences about what the plan leaves out or rests on.

    People without a lift, ballast short of the weight lifted, an unknown pressure, a fouled
    seat, too few attendants for the chambers.
    """
    said: list[str] = []
    for place in people:
        waiting = [lift for lift in setting.waiting() if lift.refuge == place.refuge]
        planned = sum(lift.walking + lift.stretcher for lift in waiting)
        aboard = _to_come(setting, place.refuge)
        left = place.persons - planned - aboard
        if left > 0:
            said.append(f"No lift is planned for {left} of the {place.persons} in {place.refuge}.")
            said.extend(_not_moved(setting, place.refuge))
        if left < 0:
            said.append(
                f"The lifts planned for {place.refuge} have room for {-left} more than are there."
            )
        if waiting and place.seat != "clear":
            said.append(f"The rescue seat of {place.refuge} is {place.seat}.")
        if waiting and pressures.get(place.refuge) is None:
            said.append(
                f"The pressure in {place.refuge} is not known; no stay in a chamber is counted."
            )
    if setting.schedule is None:
        said.append("No decompression schedule is loaded; no stay in a chamber is counted.")
    said.extend(filter(None, map(taken_words, setting.vehicles)))
    said.extend(filter(None, [setting.limits.left_open()]))
    said.extend(_ballast(setting))
    said.extend(_attendants(setting))
    return tuple(said)


def _not_moved(setting: Setting, refuge: str) -> Iterable[str]:
    """Say which lift's people may still be booked in the refuge they have left."""
    for lift in setting.lifts:
        fact = setting.facts.get(lift.key)
        left = fact is not None and (fact.done or fact.phase in HATCH_SHUT)
        if lift.refuge == refuge and left:
            yield (
                f"Lift {lift.key} has left the seat of {refuge}: if its people are still booked "
                "there, move them in the muster."
            )


def _to_come(setting: Setting, refuge: str) -> int:
    """Return who is still booked in a refuge though a vehicle is there to fetch them."""
    early = (Phase.DOWN, Phase.SEARCH, Phase.MATE)
    return sum(
        lift.walking + lift.stretcher
        for lift in setting.lifts
        if lift.refuge == refuge
        and (fact := setting.facts.get(lift.key)) is not None
        and fact.phase in early
    )


def _ballast(setting: Setting) -> Iterable[str]:
    for lift in setting.waiting():
        vehicle = setting.vehicle(lift.vehicle)
        weight = ballast_kg(vehicle, lift.walking, lift.stretcher)
        if weight > vehicle.ballast_kg:
            yield (
                f"Lift {lift.key} takes on {weight:.0f} kg, {vehicle.name} can give up only "
                f"{vehicle.ballast_kg:.0f} kg of ballast."
            )


def _attendants(setting: Setting) -> Iterable[str]:
    if setting.ship is None:
        return
    wanted = sum(chamber.attendants for chamber in setting.chambers)
    have = setting.ship.chamber_attendants
    if wanted > have:
        yield f"The chambers want {wanted} attendants at once, {setting.ship.name} has {have}."
