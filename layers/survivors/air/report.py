"""The air, the surface and the hospitals as tables and as sentences that can be read out."""

from __future__ import annotations

import math
from datetime import timedelta

from layers.earth.clock import dtg, duration_words
from layers.earth.table import Cell, Table
from layers.earth.uncertain import words
from layers.journal.known import Entry
from layers.survivors.air.formulas import AirOutlook, RefugeAir
from layers.survivors.air.learning.events import Correction
from layers.survivors.air.levels import LevelSpread
from layers.survivors.air.rhythm import MET_SOURCE
from layers.survivors.muster.cold_water import NEVER_A_REASON

CAUTION = (
    "Air: well-mixed gas is assumed; a reading at unstated pressure is unusable; not medical "
    "advice. The levels are those the medical officer entered, with their source; none is shipped "
    f"as approved. People in the water: {NEVER_A_REASON.lower()}"
)

ASSUMED = (
    "Taken where nobody said otherwise, one standard deviation, our assumptions without a source: "
    "breathing 15 %, its swing through a day 17 % each way and 8 % beside that, respiratory "
    "quotient 3 %, a held level 5 %, water coming in 0.1 % and gas 0.05 % of the volume an "
    "hour; readings 0.02 bar, 0.3 % oxygen, 0.1 % carbon dioxide by volume each time, and an "
    "instrument's own lasting error of 0.02 bar, 2 % of oxygen, 8 % of carbon dioxide; read again "
    "within some 10 minutes it errs as before; a refuge cools by 0.05 ± 0.04 °C an hour until "
    "it is read twice, ever slower (in 150 h, 45 % about it), gas pressures with it. Activity by "
    f"{MET_SOURCE}. Readings correct the model by an ensemble Kalman filter (Evensen 1994; from "
    "memory, not checked against the page). How people warm or cool is not modelled: temperature "
    "and gases but oxygen and carbon dioxide go by their trend with its error. Water to drink, "
    "food and the heat of bodies are not counted."
)


def hours_words(hours: float, horizon_h: float = 240.0) -> str:
    """Return hours as said; infinity as beyond the forecast."""
    if math.isinf(hours):
        return f"beyond {horizon_h / 24.0:.0f} days"
    return "now" if hours <= 0.0 else duration_words(timedelta(hours=hours))


def band_words(band: LevelSpread | None, places: int) -> str:
    """Return P50 with P10 and P90 behind it; *not read* for what was not."""
    if band is None:
        return "not read"
    return f"{band.p50:.{places}f} ({band.p10:.{places}f} to {band.p90:.{places}f})"


def sentence(air: AirOutlook) -> str:
    """Return how long each refuge can last, as it is read out: what is reached comes first."""
    reached = [
        f"{one.refuge.capitalize()} refuge: {level.name!r} ({level.limit}) IS REACHED."
        for one in air.refuges
        for level in one.levels
        if one.persons and level.reached
    ]
    said = [refuge_sentence(one) for one in air.refuges if one.persons]
    if air.refuges and not said:
        said = ["Nobody waits in a refuge with readings of its air."]
    return " ".join((*reached, *said, *air.missing))


def refuge_sentence(one: RefugeAir) -> str:
    """Return one refuge's air as it is read out; what was not read is not spoken."""
    now = [f"{one.refuge.capitalize()} refuge {one.pressure_bar.p50:.2f} bar absolute"]
    if one.co2_sev_percent is not None:
        now.append(f"carbon dioxide {one.co2_sev_percent.p50:.1f} % surface equivalent")
    if one.oxygen_kpa is not None:
        now.append(f"oxygen {one.oxygen_kpa.p50:.0f} kPa")
    now += [f"{trend.quantity} {trend.last:.1f} {trend.unit}" for trend in one.trends]
    said = f"{', '.join(now)}; {_first_words(one)}"
    if one.unknown:
        asked = dict.fromkeys(m for end in one.unknown for m in end.missing)
        names = ", ".join(repr(end.level) for end in one.unknown if end.level)
        said += f" Not known when: {names}; ask for {', '.join(asked)}."
    return f"{said} {one.doubt}".strip()


def _first_words(one: RefugeAir) -> str:
    waiting = [level for level in one.levels if not level.reached]
    if not waiting:
        return "no other level has a time." if one.levels else "no level has a time."
    level = waiting[0]
    how = " by trend" if level.how == "trend" else ""
    if level.at_least_h is not None or level.untold:
        when = words(level.form, hours_words)
        return f"{level.name!r} ({level.limit}){how} in {when}."
    return (
        f"{level.name!r} ({level.limit}){how} in {hours_words(level.hours.p50, level.horizon_h)}, "
        f"P10 {hours_words(level.hours.p10, level.horizon_h)}, "
        f"P90 {hours_words(level.hours.p90, level.horizon_h)}."
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
                    None if level.untold else _finite(level.hours.p90),
                    round(level.within_horizon, 2),
                    f"{level.how}, at least: {level.untold}" if level.untold else level.how,
                    None if gain is None else round(gain.gain_h.p50, 1),
                    level.source,
                    level.entered_by,
                )
            )
        rows += [
            (one.refuge, end.level, f"not known: {', '.join(end.missing)}", *(None,) * 8)
            for end in one.unknown
            if end.level
        ]
    return Table(
        heads=(
            "Refuge",
            "Level",
            "Limit",
            "P10 (h)",
            "P50 (h)",
            "P90 (h)",
            "Chance within the forecast (0 to 1)",
            "By balance or trend",
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
                    _remark(one),
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


def _remark(one: Correction) -> str:
    if one.doubtful:
        return "doubtful: waits for somebody to say whether it stands"
    return "began again from this reading" if one.began_again else ""


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
