"""People in the water, who can reach them, and the way to a hospital, as tables."""

from __future__ import annotations

from datetime import datetime

from layers.earth.block import span_words
from layers.earth.clock import dtg
from layers.earth.table import Table
from layers.survivors.muster.cold_water import SOURCE
from layers.survivors.muster.hospital import HospitalOutlook
from layers.survivors.muster.surface import WaterGroup


def people_tables(surface: tuple[WaterGroup, ...], hospital: HospitalOutlook) -> dict[str, Table]:
    """Return the tables of people in the water and on the way to hospital."""
    found: dict[str, Table] = {}
    if surface:
        found["In the water"] = water_table(surface)
        found["Who can reach them"] = reach_table(surface)
    if hospital.hospitals or hospital.patients:
        found["To hospital"] = flight_table(hospital)
        found["Hospital places"] = hospital_table(hospital)
    return found


def water_table(surface: tuple[WaterGroup, ...]) -> Table:
    """Return the groups in the water with the predicted time, or why none is given."""
    return Table(
        heads=(
            "Group",
            "Persons",
            "In the water (h)",
            "Sea (°C)",
            "Clothing",
            f"Predicted to 30 °C core temperature (h), {SOURCE}",
            "Why no time",
            "Expected position",
            "Within, 95 % (nmi)",
        ),
        rows=tuple(
            (
                one.group,
                one.persons,
                round(one.in_water_h, 1),
                one.sea_c,
                one.clothing,
                None if one.cold.minutes is None else round(one.cold.minutes / 60.0, 1),
                one.cold.why_not,
                None if one.position is None else str(one.position),
                None if one.radius_95_m is None else round(one.radius_95_m / 1852.0, 1),
            )
            for one in surface
        ),
        sources=tuple(" ".join(one.rests_on) for one in surface),
    )


def reach_table(surface: tuple[WaterGroup, ...]) -> Table:
    """Return how soon each craft is over each group."""
    return Table(
        heads=(
            "Group",
            "Craft",
            "Distance (nmi)",
            "Bearing (°T)",
            "There in (h)",
            "Within its radius",
            "Seats",
            "Stretchers",
        ),
        rows=tuple(
            (
                group.group,
                one.craft,
                round(one.distance_nmi, 1),
                round(one.bearing_true_deg),
                round(one.hours, 1),
                one.within_radius,
                one.seats,
                one.stretchers,
            )
            for group in surface
            for one in group.reach
        ),
    )


def flight_table(hospital: HospitalOutlook) -> Table:
    """Return the flights, sickest first, and what stands against each."""
    return Table(
        heads=(
            "From",
            "Persons",
            "Fitness",
            "Priority",
            "Hospital",
            "Craft",
            "Distance (nmi)",
            "There in (h)",
            "Runs",
            "May fly from (UTC)",
            "Not above (m)",
            "Against it",
        ),
        rows=tuple(
            (
                one.patients.place,
                one.persons,
                one.patients.fitness,
                one.patients.priority,
                one.hospital,
                one.craft,
                round(one.distance_nmi),
                round(one.hours, 1),
                one.runs,
                _when(one.patients.may_fly_from),
                one.patients.height_m,
                "; ".join(one.against),
            )
            for one in hospital.flights
        ),
    )


def _when(at: datetime | None) -> str | None:
    return None if at is None else dtg(at)


def hospital_table(hospital: HospitalOutlook, *, flights: bool = True) -> Table:
    """Return the hospitals with what they have, and what the flights would take."""
    taken = ("Taken by the flights shown",) if flights else ()
    return Table(
        heads=(
            "Hospital",
            "Distance",
            "Stretcher places",
            "Recompression places",
            *taken,
            "Told",
            "Source",
        ),
        rows=tuple(
            (
                one.hospital,
                None if one.distance_nmi is None else span_words(one.distance_nmi),
                one.stretcher_places,
                one.recompression_places,
                *((one.taken,) if flights else ()),
                one.told,
                one.source,
            )
            for one in hospital.hospitals
        ),
    )
