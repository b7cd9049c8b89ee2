"""What is wrong with a plan: seats, battery, pressure, chambers, ballast, people left over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from layers.earth.errors import InputError
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.lifts.model import Lift, Phase
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.refusals import seat_fault
from layers.survivors.lifts.run.aboard import left_behind, still_to_come
from layers.survivors.lifts.sorties.energy import ballast_kg, need_kwh
from layers.survivors.lifts.sorties.timed import SORTIES
from layers.survivors.lifts.vehicle import Vehicle, taken_words

HATCH_SHUT = (Phase.AWAY, Phase.UP, Phase.RECOVER)


def stops(
    setting: PlanSetting, pressures: Mapping[str, float | None], seats: Mapping[str, str]
) -> dict[str, str]:
    """Return by lift why it cannot run as planned; the other lifts stand without it.

    Parameters
    ----------
    setting : PlanSetting
        The plan.
    pressures : mapping of str to float or None
        By lift, the pressure its people come out of, bar absolute.
    seats : mapping of str to str
        By refuge, the state of its rescue seat.
    """
    found: dict[str, str] = {}
    for lift in setting.lifts:
        why = _lost(lift, setting) if setting.begun(lift.key) else ""
        if not setting.begun(lift.key):
            why = fault(lift, setting, pressures.get(lift.key), seats.get(lift.refuge, ""))
        if why:
            found[lift.key] = why
    return found


def _lost(lift: Lift, setting: PlanSetting) -> str:
    """Return that a vehicle under way is lost: nobody comes up with it."""
    fact = setting.facts[lift.key]
    vehicle = setting.vehicle(fact.vehicle)
    return f"{vehicle.name} is lost" if fact.under_way and vehicle.state == "lost" else ""


def fault(lift: Lift, setting: PlanSetting, pressure: float | None, seat: str) -> str:
    """Return the first reason why a lift that waits cannot run, or an empty text."""
    why = setting.why_not(lift.vehicle)
    if why:
        return why
    if seat == "fouled":
        return f"the rescue seat of {lift.refuge} is fouled"
    vehicle, where = setting.vehicle(lift.vehicle), ""
    why = seat_fault(lift.walking, lift.stretcher, vehicle)
    if why:
        return why
    faults = (
        *_battery(lift, vehicle, setting.depth_m, where),
        *_pressure(lift, vehicle, setting, pressure, where),
    )
    return faults[0].what if faults else ""


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
    lift: Lift, vehicle: Vehicle, setting: PlanSetting, pressure: float | None, where: str
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
    if wanted > sum(room):  # a group is parted between chambers where one is too small
        yield InputError(
            f"{wanted} places under pressure are wanted, the chambers have {sum(room)} beside "
            "their attendants",
            where=where,
            accepted="a larger chamber, or fewer people in the lift",
        )


def remarks(
    recorded: PlanSetting,
    able: PlanSetting,
    people: Sequence[RefugePeople],
    stopped: Mapping[str, str],
) -> tuple[str, ...]:
    """Return plain sentences about what the plan leaves out or rests on.

    Parameters
    ----------
    recorded, able : PlanSetting
        The plan as chosen, and the part of it that can run.
    people : sequence of RefugePeople
        Who waits.
    stopped : mapping of str to str
        By lift, why it does not run.
    """
    said = [f"Lift {key} does not run: {why}." for key, why in stopped.items()]
    said.extend(f"{odd}." for fact in recorded.facts.values() for odd in fact.odd)
    behind = left_behind(able, people)
    for place in people:
        if place.refuge in behind:
            said.append(f"No lift is planned for {behind_words(place, *behind[place.refuge])}.")
            said.extend(_not_moved(recorded, place.refuge))
        waiting = [lift for lift in recorded.waiting() if lift.refuge == place.refuge]
        room = sum(lift.walking + lift.stretcher for lift in waiting) - place.persons
        room += _to_come(recorded, place.refuge)
        if room > 0:
            said.append(
                f"The lifts planned for {place.refuge} have room for {room} more than are there."
            )
        if waiting and place.seat != "clear":
            said.append(f"The rescue seat of {place.refuge} is {place.seat}.")
        if waiting and place.pressure_bar_abs is None:
            said.append(
                f"The pressure in {place.refuge} is not known; no stay in a chamber is counted."
            )
    if recorded.schedule is None:
        said.append("No decompression schedule is loaded; no stay in a chamber is counted.")
    else:
        said.extend(f"Schedule: {one}." for one in recorded.schedule.said(recorded.chambers))
    said.extend(filter(None, map(taken_words, recorded.vehicles)))
    said.extend(filter(None, [recorded.limits.left_open()]))
    said.extend(_ballast(able))
    said.extend(_attendants(able))
    said.extend(_matings(able))
    said.extend(_losses(able))
    return tuple(said)


def behind_words(place: RefugePeople, walking: int, stretcher: int) -> str:
    """Return whom no lift takes: ``3 of the 24 in forward``, stretcher cases said apart."""
    left = walking + stretcher
    said = f"{left} of the {place.persons} in {place.refuge}"
    return f"{said} ({stretcher} on stretchers)" if stretcher else said


def _matings(setting: PlanSetting) -> Iterable[str]:
    """Say what a mating that fails costs."""
    if any(vehicle.failed_mating_chance for vehicle in setting.working()):
        yield (
            "A mating that fails takes as long as one that holds; another follows at once while "
            "the battery lasts. Else the vehicle comes up with nobody and dives again, "
            f"{SORTIES} dives a lift at most."
        )


def _losses(setting: PlanSetting) -> Iterable[str]:
    for vehicle in setting.working():
        if vehicle.loss_chance is None:
            yield f"No chance of losing {vehicle.name} is entered; none is counted."


def _not_moved(setting: PlanSetting, refuge: str) -> Iterable[str]:
    """Say which lift's people may still be booked in the refuge they have left."""
    for lift in setting.lifts:
        fact = setting.facts.get(lift.key)
        left = fact is not None and (fact.done or fact.phase in HATCH_SHUT)
        if lift.refuge == refuge and left:
            yield (
                f"Lift {lift.key} has left the seat of {refuge}: if its people are still booked "
                "there, move them in the muster."
            )


def _to_come(setting: PlanSetting, refuge: str) -> int:
    """Return who is still booked in a refuge though a vehicle is there to fetch them."""
    early = (Phase.DOWN, Phase.SEARCH, Phase.MATE)
    return sum(
        sum(still_to_come(setting, lift))
        for lift in setting.lifts
        if lift.refuge == refuge
        and (fact := setting.facts.get(lift.key)) is not None
        and fact.phase in early
        and setting.vehicle(fact.vehicle).state != "lost"  # its people are fetched by another
    )


def _ballast(setting: PlanSetting) -> Iterable[str]:
    for lift in setting.waiting():
        vehicle = setting.vehicle(lift.vehicle)
        weight = ballast_kg(vehicle, lift.walking, lift.stretcher)
        if weight > vehicle.ballast_kg:
            yield (
                f"Lift {lift.key} takes on {weight:.0f} kg, {vehicle.name} can give up only "
                f"{vehicle.ballast_kg:.0f} kg of ballast."
            )


def _attendants(setting: PlanSetting) -> Iterable[str]:
    if setting.ship is None:
        return
    wanted = sum(chamber.attendants for chamber in setting.chambers)
    have = setting.ship.chamber_attendants
    if wanted > have:
        yield f"The chambers want {wanted} attendants at once, {setting.ship.name} has {have}."
