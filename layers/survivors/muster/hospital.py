"""Hospital and recompression places, and who may fly there, when and how low.

A first look that a person decides on: nearest hospital with room, sickest first. How high and
how soon people may fly after pressure is entered with its source; nothing is shipped.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from layers.earth.block import Block, distances_nmi
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.units import m_to_nmi
from layers.earth.values import DatumValue
from layers.journal.known import Entry, Known
from layers.survivors.muster.ledger import Lot
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import Muster, PlaceState
from layers.survivors.muster.on_board import in_order
from layers.survivors.muster.surface import latest_by
from layers.survivors.muster.surface_model import Craft, FlightLimit, Hospital

NEED = {"stretcher": 0, "injured": 1}  # who is flown, sickest first where no priority is set
FROM = (PlaceSort.DECK, PlaceSort.PICKED_UP, PlaceSort.CHAMBER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Patients:
    """Persons alike who need a hospital.

    ``may_fly_from`` is None where no limit applies or none is entered; ``under_pressure`` that
    they are still in a chamber.
    """

    place: str
    persons: int
    fitness: str
    priority: int | None
    exposure_bar_abs: float | None
    under_pressure: bool
    needs_recompression: bool
    may_fly_from: datetime | None
    height_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Flight:
    """Persons to a hospital by a craft: how far, how long, and what stands against it."""

    patients: Patients
    persons: int
    hospital: str
    craft: str
    distance_nmi: float
    hours: float
    runs: int
    against: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HospitalState:
    """A hospital with what it has, and what of it the flights below would take."""

    hospital: str
    distance_nmi: tuple[float, float] | None  # least and most: over the block where one is told
    stretcher_places: int
    recompression_places: int
    taken: int
    told: str
    source: str
    position: Position
    record: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HospitalOutlook:
    """Patients, flights and places; ``not_placed`` are persons no hospital has room for."""

    patients: tuple[Patients, ...]
    flights: tuple[Flight, ...]
    hospitals: tuple[HospitalState, ...]
    not_placed: int
    limit: FlightLimit | None
    said: tuple[str, ...]
    rests_on: tuple[str, ...]


def hospital_outlook(
    known: Known, at: datetime, who: Muster, datum: DatumValue | None
) -> HospitalOutlook:
    """Return who needs a hospital and how they would get there from the scene."""
    limits = in_order(known.entries("survivors.flight_limit"), at)
    limit = limits[-1].value if limits else None
    patients = tuple(_patients(who, limit))
    hospitals = latest_by(known, "survivors.hospital", at, "hospital")
    crafts = latest_by(known, "survivors.craft", at, "craft")
    said = []
    if any(one.exposure_bar_abs for one in patients) and limit is None:
        said.append(
            "No limit for flying after pressure is entered; the medical officer enters it with "
            "its source."
        )
    where = None if datum is None else datum.where
    scene = where if isinstance(where, Position) else None
    flights, taken = _flights(
        patients,
        [entry.value for entry in hospitals],
        [entry.value for entry in crafts if entry.value.available and entry.value.stretchers],
        scene,
    )
    placed = sum(flight.persons for flight in flights)
    return HospitalOutlook(
        patients=patients,
        flights=tuple(flights),
        hospitals=tuple(_state(entry, where, taken) for entry in hospitals),
        not_placed=sum(one.persons for one in patients) - placed,
        limit=limit,
        said=tuple(said),
        rests_on=tuple(entry.id for entry in (*limits, *hospitals, *crafts)),
    )


def _patients(who: Muster, limit: FlightLimit | None) -> list[Patients]:
    found = [
        _patient(place, lot, limit)
        for place in who.places
        if place.sort in FROM
        for lot in place.lots
        if lot.fitness in NEED
    ]
    return sorted(found, key=lambda one: (one.priority or 9, NEED[one.fitness]))


def _patient(place: PlaceState, lot: Lot, limit: FlightLimit | None) -> Patients:
    pressed = (
        limit is not None
        and lot.exposure_bar_abs is not None
        and lot.exposure_bar_abs > limit.above_bar_abs
    )
    in_chamber = place.sort is PlaceSort.CHAMBER
    may_fly_from = None
    if pressed and not in_chamber and place.changed_at is not None:
        assert limit is not None
        may_fly_from = place.changed_at + timedelta(hours=limit.after_pressure_h)
    return Patients(
        place=place.name,
        persons=lot.persons,
        fitness=lot.fitness,
        priority=lot.priority,
        exposure_bar_abs=lot.exposure_bar_abs,
        under_pressure=in_chamber,
        # Picked up from the sea: came up through the water without any decompression.
        needs_recompression=place.sort is PlaceSort.PICKED_UP,
        may_fly_from=may_fly_from,
        height_m=limit.height_m if pressed and limit is not None else None,
    )


def _flights(
    patients: tuple[Patients, ...],
    hospitals: list[Hospital],
    crafts: list[Craft],
    scene: Position | None,
) -> tuple[list[Flight], dict[str, int]]:
    """Return flights, sickest first, each to the nearest hospital with room."""
    taken: dict[str, int] = {}
    if scene is None or not crafts:
        return [], taken
    near = sorted(hospitals, key=lambda one: _nmi(scene, one.latitude_deg, one.longitude_deg))
    flights: list[Flight] = []
    for one in patients:
        left = one.persons
        for hospital in near:
            room = hospital.stretcher_places - taken.get(hospital.hospital, 0)
            if one.needs_recompression and hospital.recompression_places == 0:
                continue
            persons = min(left, max(room, 0))
            if persons:
                flights.append(_flight(one, persons, hospital, crafts, scene))
                taken[hospital.hospital] = taken.get(hospital.hospital, 0) + persons
                left -= persons
    return flights, taken


def _flight(
    one: Patients, persons: int, hospital: Hospital, crafts: list[Craft], scene: Position
) -> Flight:
    distance = _nmi(scene, hospital.latitude_deg, hospital.longitude_deg)
    choices = [(craft, _hours(craft, scene, distance)) for craft in crafts]
    within = [c for c in choices if c[0].radius_nmi is None or _total(c[0], scene, distance)]
    craft, hours = min(within or choices, key=lambda choice: choice[1])
    against = []
    if not within:
        against.append(f"beyond the radius of {craft.craft}")
    if one.under_pressure:
        against.append("still under pressure in a chamber")
    if one.height_m is not None and (craft.flies_at_m or 0.0) > one.height_m:
        against.append(f"must stay below {one.height_m:g} m after pressure")
    return Flight(
        patients=one,
        persons=persons,
        hospital=hospital.hospital,
        craft=craft.craft,
        distance_nmi=distance,
        hours=hours,
        runs=-(-persons // craft.stretchers),
        against=tuple(against),
    )


def _hours(craft: Craft, scene: Position, to_hospital_nmi: float) -> float:
    out = _nmi(scene, craft.latitude_deg, craft.longitude_deg)
    return craft.ready_min / 60.0 + (out + to_hospital_nmi) / craft.speed_kn


def _total(craft: Craft, scene: Position, to_hospital_nmi: float) -> bool:
    out = _nmi(scene, craft.latitude_deg, craft.longitude_deg)
    assert craft.radius_nmi is not None
    return out + to_hospital_nmi <= 2.0 * craft.radius_nmi


def _nmi(scene: Position, latitude_deg: float, longitude_deg: float) -> float:
    return m_to_nmi(between(scene, Position(latitude_deg, longitude_deg))[0])


def _state(entry: Entry, where: Position | Block | None, taken: dict[str, int]) -> HospitalState:
    hospital: Hospital = entry.value
    place = Position(hospital.latitude_deg, hospital.longitude_deg)
    return HospitalState(
        hospital=hospital.hospital,
        distance_nmi=None if where is None else distances_nmi(where, place),
        stretcher_places=hospital.stretcher_places,
        recompression_places=hospital.recompression_places,
        taken=taken.get(hospital.hospital, 0),
        told=hospital.told,
        source=hospital.source,
        position=place,
        record=entry.id,
    )
