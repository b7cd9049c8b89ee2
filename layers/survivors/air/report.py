"""The air, the surface and the hospitals as tables and as sentences that can be read out."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from layers.earth.clock import dtg, duration_words
from layers.earth.table import Cell, Table
from layers.journal.known import Entry
from layers.survivors.air.formulas import AirOutlook, Band, LevelHours, RefugeAir
from layers.survivors.muster.cold_water import NEVER_A_REASON, SOURCE
from layers.survivors.muster.hospital import HospitalOutlook
from layers.survivors.muster.surface import WaterGroup

CAUTION = (
    "Air: well-mixed gas is assumed; a reading at unstated pressure is unusable; not medical "
    "advice. The levels are those the medical officer entered, with their source; none is shipped "
    f"as approved. People in the water: {NEVER_A_REASON.lower()}"
)

ASSUMED = (
    "Taken where nobody said otherwise, one standard deviation, our assumptions without a source: "
    "breathing 15 %, respiratory quotient 3 %, a held level 5 %, water and gas coming in 0.1 % of "
    "the volume an hour, readings 0.02 bar, 0.3 % oxygen, 0.1 % carbon dioxide by volume. Readings "
    "correct the model by an ensemble Kalman filter (Evensen 1994; from memory, not checked "
    "against the page). How people warm or cool is not modelled: temperature goes by its trend."
)


def hours_words(hours: float) -> str:
    """Return hours as said; infinity as beyond the forecast."""
    if math.isinf(hours):
        return "beyond 10 days"
    return "now" if hours <= 0.0 else duration_words(timedelta(hours=hours))


def band_words(band: Band, places: int) -> str:
    """Return P50 with P10 and P90 behind it."""
    return f"{band.p50:.{places}f} ({band.p10:.{places}f} to {band.p90:.{places}f})"


def first_level(one: RefugeAir) -> LevelHours | None:
    """Return the level that comes first, None when none is entered."""
    return min(one.levels, key=lambda level: level.hours.p50, default=None)


def sentence(air: AirOutlook) -> str:
    """Return how long each refuge can last, as it is read out."""
    said = [refuge_sentence(one) for one in air.refuges if one.persons]
    if air.refuges and not said:
        said = ["Nobody waits in a refuge with readings of its air."]
    return " ".join((*said, *(air.missing if air.refuges else ())))


def refuge_sentence(one: RefugeAir) -> str:
    """Return one refuge's air as it is read out."""
    now = (
        f"{one.refuge.capitalize()} refuge {one.pressure_bar.p50:.2f} bar absolute, carbon "
        f"dioxide {one.co2_sev_percent.p50:.1f} % surface equivalent, oxygen "
        f"{one.oxygen_kpa.p50:.0f} kPa"
    )
    level = first_level(one)
    if level is None:
        return f"{now}."
    if level.reached:
        return f"{now}; the level {level.name!r} ({level.limit}) is reached."
    return (
        f"{now}; {level.name!r} ({level.limit}) in {hours_words(level.hours.p50)}, "
        f"P10 {hours_words(level.hours.p10)}, P90 {hours_words(level.hours.p90)}."
    )


def air_tables(air: AirOutlook) -> dict[str, Table]:
    """Return the tables of the air, where there is something for them."""
    found: dict[str, Table] = {}
    if air.refuges:
        found["Air now"] = now_table(air)
        found["Hours to each level"] = level_table(air)
        found["Stores left"] = store_table(air)
        found["Readings against what was expected"] = correction_table(air)
        found["Heat, cold and carbon monoxide, by trend"] = trend_table(air)
    return found


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


def now_table(air: AirOutlook) -> Table:
    """Return how the air stands in each refuge, P50 with P10 to P90."""
    return Table(
        heads=(
            "Refuge",
            "Persons",
            "Last reading (UTC)",
            "Pressure (bar absolute)",
            "Oxygen (kPa)",
            "Carbon dioxide (% surface equivalent)",
            "Free volume (m³)",
            "Breathing against the general figure (ratio)",
            "Water coming in (m³/h)",
            "Gas coming in (m³/h at 0 °C, 1 atm)",
            "What raises the pressure",
        ),
        rows=tuple(
            (
                one.refuge,
                one.persons,
                dtg(one.read_at),
                band_words(one.pressure_bar, 2),
                band_words(one.oxygen_kpa, 1),
                band_words(one.co2_sev_percent, 2),
                band_words(one.volume_m3, 0),
                band_words(one.breath_ratio, 2),
                band_words(one.water_m3_h, 2),
                band_words(one.leak_m3_h, 2),
                one.cause,
            )
            for one in air.refuges
        ),
        sources=tuple(" ".join(one.rests_on) for one in air.refuges),
    )


def level_table(air: AirOutlook) -> Table:
    """Return hours to each level, and what pods on their way would add."""
    rows: list[tuple[Cell, ...]] = []
    for one in air.refuges:
        gains = {gain.level: gain for gain in one.pod_gains}
        for level in one.levels:
            gain = gains.get(level.name)
            rows.append(
                (
                    one.refuge,
                    level.name,
                    level.limit,
                    _finite(level.hours.p10),
                    _finite(level.hours.p50),
                    _finite(level.hours.p90),
                    round(level.within_horizon, 2),
                    None if gain is None else round(gain.gain_h.p50, 1),
                    level.source,
                    level.entered_by,
                )
            )
    return Table(
        heads=(
            "Refuge",
            "Level",
            "Limit",
            "P10 (h)",
            "P50 (h)",
            "P90 (h)",
            "Chance within 10 days (0 to 1)",
            "Pods on their way add (h, P50)",
            "Source of the level",
            "Entered by",
        ),
        rows=tuple(rows),
    )


def _finite(hours: float) -> float | None:
    return round(hours, 1) if math.isfinite(hours) else None


def store_table(air: AirOutlook) -> Table:
    """Return what is left of the stores and how long it lasts at the present use."""
    return Table(
        heads=(
            "Refuge",
            "Stores",
            "Left (kg of CO2 taken or O2 given)",
            "Lasts P10 (h)",
            "Lasts P50 (h)",
            "Lasts P90 (h)",
        ),
        rows=tuple(
            (
                one.refuge,
                store.store,
                band_words(store.left_kg, 0),
                _finite(store.lasts_h.p10),
                _finite(store.lasts_h.p50),
                _finite(store.lasts_h.p90),
            )
            for one in air.refuges
            for store in one.stores
        ),
    )


def correction_table(air: AirOutlook) -> Table:
    """Return what each reading was expected to show, what it showed, and how far off that was."""
    rows: list[tuple[Cell, ...]] = []
    sources: list[str] = []
    for refuge in air.refuges:
        at = {entry.id: entry.record.valid_at for entry in _readings(air, refuge.refuge)}
        for one in reversed(refuge.corrections):
            rows.append(
                (
                    refuge.refuge,
                    dtg(at[one.key]) if one.key in at else None,
                    f"{one.quantity} ({one.unit})",
                    round(one.expected_p10, 2),
                    round(one.expected_p50, 2),
                    round(one.expected_p90, 2),
                    round(one.read, 2),
                    round(one.off, 2),
                    round(one.sigmas, 1),
                    "began again from this reading" if one.began_again else "",
                )
            )
            sources.append(one.key)
    return Table(
        heads=(
            "Refuge",
            "Reading (UTC)",
            "Quantity",
            "Expected P10",
            "Expected P50",
            "Expected P90",
            "Read",
            "Off by",
            "Off by (standard deviations)",
            "Remark",
        ),
        rows=tuple(rows),
        sources=tuple(sources),
    )


def _readings(air: AirOutlook, refuge: str) -> tuple[Entry, ...]:
    return next((one.readings for one in air.model.refuges if one.refuge == refuge), ())


def trend_table(air: AirOutlook) -> Table:
    """Return temperature and carbon monoxide by the straight line through a day's readings."""
    return Table(
        heads=(
            "Refuge",
            "Quantity",
            "Last read",
            "At (UTC)",
            "Change (an hour)",
            "Standard error",
            "Levels it would cross",
        ),
        rows=tuple(
            (
                one.refuge,
                f"{trend.quantity} ({trend.unit})",
                round(trend.last, 1),
                dtg(trend.read_at),
                None if trend.slope_per_h is None else round(trend.slope_per_h, 3),
                None if trend.slope_sigma is None else round(trend.slope_sigma, 3),
                ", ".join(f"{name} {_crosses(hours)}" for name, hours in trend.crosses),
            )
            for one in air.refuges
            for trend in one.trends
        ),
    )


def _crosses(hours: float) -> str:
    if math.isinf(hours):
        return "not by this trend"
    return "reached" if hours <= 0.0 else f"in {duration_words(timedelta(hours=hours))}"


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


def hospital_table(hospital: HospitalOutlook) -> Table:
    """Return the hospitals with what they have and what the flights would take."""
    return Table(
        heads=(
            "Hospital",
            "Distance (nmi)",
            "Stretcher places",
            "Recompression places",
            "Taken by the flights shown",
            "Told",
            "Source",
        ),
        rows=tuple(
            (
                one.hospital,
                _finite(one.distance_nmi),
                one.stretcher_places,
                one.recompression_places,
                one.taken,
                one.told,
                one.source,
            )
            for one in hospital.hospitals
        ),
    )
